"""What is asked of a clip, seen in the film; and the memory that it takes."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from PIL import Image

from tests.results.films import frames, jpeg, levels
from tests.results.nights import dusk, srgb, to_linear
from tests.results.test_clip import clip, fetched, file_of


def test_time_runs_evenly_where_it_is_asked_to(tmp_path: Path) -> None:
    """Intervals of 5 s, then of 10: every frame is 5 s later, and one halfway has half the light of each."""
    codes, moments = [40, 80, 120, 160, 200], [0.0, 5.0, 10.0, 20.0, 30.0]
    slots = fetched(tmp_path, [1, 2, 3, 4, 5])
    for place, slot in enumerate(slots):
        jpeg(file_of(tmp_path, slot), colour=(codes[place],) * 3)
    slots = [slot.model_copy(update={"due_utc": 1e9 + at}) for slot, at in zip(slots, moments, strict=True)]

    def greys(seen: int = 5, **given: Any) -> list[float]:
        made = clip(tmp_path, slots, fps=1.0, **given)
        shown = [float(frame.mean()) for frame in frames(tmp_path / "clip.mp4")]
        assert (made.frames, made.from_fetched, made.gaps) == (len(shown), seen, [])
        return shown

    def between(one: int, other: int) -> float:
        return float(srgb((to_linear(np.array(one)) + to_linear(np.array(other))) / 2))

    assert greys() == pytest.approx(codes, abs=1.5)
    blended = greys(retime="blend", scene_s_per_s=5.0)
    assert blended == pytest.approx([40, 80, 120, between(120, 160), 160, between(160, 200), 200], abs=1.5)
    assert greys(4, retime="nearest", scene_s_per_s=10.0) == pytest.approx([40, 120, 160, 200], abs=1.5)


@pytest.mark.parametrize(
    "given",
    [
        {"crop": {"x": 0, "y": 0, "w": 0.3, "h": 0.3}, "pan_to": {"x": 0.7, "y": 0.7, "w": 0.3, "h": 0.3}},
        {"crop": {"x": 0, "y": 0, "w": 0.5, "h": 0.25}, "bits": 10, "burn": ["time", "sun"]},
        {"retime": "blend", "scene_s_per_s": 40.0},
        {"bars": True},
    ],
)
def test_what_is_told_of_flicker_is_of_what_is_shown_both_times(tmp_path: Path, given: dict[str, Any]) -> None:
    """Held against the decoded film, and against the same film without steadying."""
    given = dict(given)
    slots = dusk(60, flicker=0.02).save(tmp_path, (160, 108))
    if given.pop("bars", False):
        for slot in slots[20:40]:
            with Image.open(file_of(tmp_path, slot)) as picture:
                wide = picture.resize((320, 108))
            wide.save(file_of(tmp_path, slot), quality=92)
    plain = {name: value for name, value in given.items() if name not in ("burn", "bits")}
    truth = []
    for steady in (False, True):
        clip(tmp_path, slots, steady=steady, **plain)
        truth.append(levels(tmp_path / "clip.mp4"))
    made = clip(tmp_path, slots, steady=True, **given)
    for said, film in zip((made.before, made.after), truth, strict=True):
        assert said is not None
        assert said.frames == len(film)
        assert said.first_rms_ev == pytest.approx(np.sqrt(np.mean(np.diff(film) ** 2)), rel=0.1, abs=0.004)
        assert said.largest_step_ev == pytest.approx(np.abs(np.diff(film)).max(), rel=0.1, abs=0.02)


def test_the_moment_can_be_burnt_in(tmp_path: Path) -> None:
    slots = fetched(tmp_path, [1, 2], size=(480, 320))
    for bits in (8, 10):
        clip(tmp_path, slots, bits=bits, burn=["time"])
        with av.open(str(tmp_path / "clip.mp4")) as film:
            luma = next(film.decode(video=0)).to_ndarray()[:320].astype(float) / 2**bits
        assert luma[160:, :240].max() > 0.8  # light letters below on the left
        assert np.ptp(luma[:100]) < 0.05


_PEAK = """
import resource, sys
from pathlib import Path
from tests.results.test_clip import clip, row
from tests.results.dusk import SHOOT
directory, count = Path(sys.argv[1]), int(sys.argv[2])
slots = [row(seq, local_file=f"shoots/{SHOOT}/2026-12-01/000001.jpg") for seq in range(1, count + 1)]
clip(directory, slots, steady=True)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def test_memory_does_not_grow_with_the_number_of_frames(tmp_path: Path) -> None:
    """Six times the frames; kept in memory, the other 300 would be 216 MB."""
    dusk(1).save(tmp_path, (600, 400))

    def peak(count: int) -> int:
        command = [sys.executable, "-c", _PEAK, str(tmp_path), str(count)]
        return int(subprocess.run(command, capture_output=True, text=True, check=True).stdout)

    assert peak(360) <= 1.15 * peak(60)
