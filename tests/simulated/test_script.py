"""The language of faults."""

import itertools
import re
from pathlib import Path

import numpy as np
import pytest

from controller.simulated.faults import operation_codes, response_code
from controller.simulated.script import WORDS, __doc__, parse, play
from controller.simulated.styles import CONTRAST, curves


def _names(text: str, count: int) -> list[list[str]]:
    return [[f.name for f in step] for step in itertools.islice(play(text), count)]


def test_steps_words_and_repeats() -> None:
    assert _names("ok*2 mute(60) corrupt+twice", 6) == [["ok"], ["ok"], ["mute"], ["corrupt", "twice"], [], []]
    assert _names("drop ok again", 5) == [["drop"], ["ok"], ["drop"], ["ok"], ["drop"]]
    assert _names("", 2) == [[], []]
    (step,), again = parse("sleep(20, 2.5)".replace(" ", ""))
    assert (step[0].args, again) == (("20", "2.5"), False)


@pytest.mark.parametrize("text", ["mut(3)", "mute", "mute(x)", "ok*", "drop(3)", "again", "ok,ok", "sleep(1)"])
def test_a_bad_script_is_refused_with_the_word(text: str) -> None:
    with pytest.raises(ValueError, match=text.split("(")[0].split("*")[0].split(",")[0]):
        play(text)


def test_every_word_is_described() -> None:
    described = {
        w.strip() for line in (__doc__ or "").splitlines() if line.startswith("  ") for w in line[2:18].split(",")
    }
    assert set(WORDS) == {w.split("(")[0] for w in described if w and w[0].isalpha()} & set(WORDS)


def test_codes_by_name_and_number() -> None:
    """ISO 15740: Device_Busy is 2019, Access_Denied 200F; InitiateCapture 100E, GetThumb 100A."""
    assert (response_code("device_busy"), response_code("200f"), response_code("A001")) == (0x2019, 0x200F, 0xA001)
    assert 0x100E in operation_codes("release")
    assert operation_codes("get_thumb") == {0x100A}
    for bad in ("1001", "nonsense"):
        with pytest.raises(ValueError, match=bad):
            response_code(bad)
    with pytest.raises(ValueError, match="relase"):
        operation_codes("relase")


def test_the_documents_name_what_there_is() -> None:
    text = (Path(__file__).parents[2] / "docs/simulated-camera.md").read_text(encoding="utf-8")
    for style, b in CONTRAST.items():
        forward, _ = curves(style)
        a = float(re.search(rf"\| {style} \| {b:.2f} \| ([\d.]+) \|", text)[1])  # type: ignore[index]
        assert forward(np.array([0.3]))[0] == pytest.approx(255 * (1 + a) * 0.3**b / (0.3**b + a), abs=0.2)
    for command in ("frames", "now", "settings", "card", "script", "fault", "refuse", "clouds", "lamp", "sleep"):
        assert f'"do": "{command}"' in text
    parse(re.search(r'example `"([^"]+)"`', text)[1])  # type: ignore[index]
