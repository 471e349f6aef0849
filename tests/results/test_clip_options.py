from __future__ import annotations

import subprocess
import sys
from typing import Any

import pytest

from controller.results.clip.options import ClipOptions, clip_options
from controller.words.errors import BadInput

HALF = {"x": 0.5, "y": 0.5, "w": 0.5, "h": 0.5}


def test_what_is_left_out_has_its_usual_value() -> None:
    made = clip_options(fps=25)
    assert made.model_dump() == {
        "fps": 25, "codec": "h264", "bits": 8, "size": None, "crop": None, "pan_to": None, "burn": [], "retime": "off",
        "scene_s_per_s": None, "steady": "level", "source": "auto", "camera": None,
    }  # fmt: skip


def test_it_comes_back_from_json_and_can_be_compared() -> None:
    made = clip_options(fps=29.97, size=(1280, 720), crop=HALF, burn={"sun", "time"}, retime="blend", scene_s_per_s=60)
    assert ClipOptions.model_validate_json(made.model_dump_json()) == made
    assert hash(made) == hash(clip_options(**made.model_dump()))


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({}, "fps: this is missing. Give 1 to 120 frames a second"),
        ({"fps": 0}, "fps: 0 cannot be used. Give 1 to 120"),
        ({"fps": float("nan")}, "fps: nan cannot be used. Give 1 to 120"),
        ({"codec": "av"}, "codec: 'av' cannot be used. Give h264 or hevc"),
        ({"bits": 12}, "bits: 12 cannot be used. Give 8 or 10"),
        ({"size": (8, 4000)}, "size: 8x4000 is no usable size. Give a width and a height from 16 to 8192"),
        ({"crop": {**HALF, "w": 0}}, "crop.w: 0 cannot be used. Give x, y, width and height"),
        ({"crop": {**HALF, "w": 0.6}}, "crop: the window reaches over the picture's edge. Give x, y"),
        ({"pan_to": {**HALF, "h": 0.25}}, "pan_to: a pan cannot end in a window of another shape. Give both"),
        ({"burn": {"date"}}, "burn.0: 'date' cannot be used. Give time"),
        ({"retime": "yes"}, "retime: 'yes' cannot be used. Give off, nearest or blend"),
        ({"scene_s_per_s": 60}, "scene_s_per_s: this is the speed of a retimed film. Choose retime"),
        ({"retime": "blend", "scene_s_per_s": 0}, "scene_s_per_s: 0 cannot be used. Give how many seconds"),
        ({"steady": True}, "steady: True cannot be used. Give off, level or tones"),
        ({"source": "raw"}, "source: 'raw' cannot be used. Give auto, fetched"),
        ({"speed": 2}, "speed: a clip has no such option. It has fps, codec"),
    ],
)
def test_what_does_not_fit_is_said_in_one_line(given: dict[str, Any], said: str) -> None:
    with pytest.raises(BadInput) as caught:
        clip_options(**({"fps": 25, **given} if given else {}))
    assert caught.value.code == "bad-clip"
    assert str(caught.value).startswith(said)
    assert "\n" not in str(caught.value)


def test_the_same_options_are_the_same_text_in_every_process() -> None:
    """Python shuffles sets of text anew in each process: half-done work would not be known again."""
    code = (
        "from controller.results.clip.options import clip_options\n"
        "print(clip_options(fps=25, burn={'time', 'sun'}).model_dump_json())"
    )
    seen = {
        subprocess.run([sys.executable, "-c", code], env={"PYTHONHASHSEED": seed}, capture_output=True).stdout
        for seed in ("1", "2", "3", "4")
    }
    assert len(seen) == 1
    assert b'"burn":["sun","time"]' in seen.pop()
