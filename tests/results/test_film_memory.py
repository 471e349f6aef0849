"""What memory a film is reckoned to take, and what is said where there is less. Figures: docs/measurements.md."""

from __future__ import annotations

from pathlib import Path

import pytest

from controller.results.clip import make
from controller.results.clip.make import make_clip
from controller.results.clip.memory import check_memory, free_memory, needed
from controller.results.clip.options import clip_options
from controller.words.errors import BadInput
from tests.results.dusk import SHOOT, shoot
from tests.results.nights import row
from tests.results.scenes import save, scene

SMALL, LARGE = (1620, 1080), (3240, 2160)
LOADED = 75e6  # bytes, of a process that has only loaded what it needs
MEASURED_MB = {  # VmHWM of whole processes
    (SMALL, "h264", 8): 310, (SMALL, "h264", 10): 344, (SMALL, "hevc", 8): 288, (SMALL, "hevc", 10): 359,
    ((2160, 1440), "h264", 8): 390,
    (LARGE, "h264", 8): 792, (LARGE, "h264", 10): 1045, (LARGE, "hevc", 8): 767, (LARGE, "hevc", 10): 1036,
}  # fmt: skip


@pytest.mark.parametrize(("kind", "took_mb"), MEASURED_MB.items())
def test_it_is_what_was_measured(kind: tuple[tuple[int, int], str, int], took_mb: float) -> None:
    assert (needed(*kind) + LOADED) / 2**20 == pytest.approx(took_mb, rel=0.13)


def test_a_film_is_begun_told_of_or_refused() -> None:
    wanted = needed(LARGE, "h264", 8)
    assert check_memory(LARGE, "h264", 8, wanted) is None
    assert check_memory(LARGE, "h264", 8, None) is None
    told = check_memory(LARGE, "h264", 8, 0.9 * wanted)
    assert told == "a film of 3240×2160 pixels takes about 756 MB of memory, and 680 MB are free: it may not end"
    with pytest.raises(BadInput, match="takes about 756 MB of memory, and 378 MB are free") as refused:
        check_memory(LARGE, "h264", 8, 0.5 * wanted)
    assert (refused.value.code, refused.value.where) == ("clip-memory", "size")


def test_what_is_free_is_what_the_kernel_tells() -> None:
    """proc(5): MemAvailable and SwapFree, in kB."""
    told = {line.split()[0]: int(line.split()[1]) for line in Path("/proc/meminfo").read_text().splitlines()}
    free = free_memory()
    assert free is not None
    assert free == pytest.approx(1024 * (told["MemAvailable:"] + told["SwapFree:"]), rel=0.2)


def test_none_is_begun_that_would_not_end(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    slots = [row(seq, local_file=f"shoots/{SHOOT}/{seq}.jpg") for seq in range(1, 4)]
    for slot in slots:
        assert slot.local_file
        save(tmp_path / slot.local_file, scene(slot.seq))
    out = tmp_path / "clip.mp4"
    monkeypatch.setattr(make, "free_memory", lambda: 20_000_000)
    with pytest.raises(BadInput, match="MB of memory"):
        make_clip(shoot(slots), slots, tmp_path, out, clip_options(fps=25))
    assert not out.exists()
    assert list(tmp_path.glob(".clip*")) == []
    monkeypatch.setattr(make, "free_memory", lambda: 65_000_000)
    made = make_clip(shoot(slots), slots, tmp_path, out, clip_options(fps=25))
    assert [line for line in made.remarks if "may not end" in line]
    monkeypatch.setattr(make, "free_memory", lambda: None)
    assert make_clip(shoot(slots), slots, tmp_path, out, clip_options(fps=25)).remarks == []
