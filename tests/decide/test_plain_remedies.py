"""Remedies are read on a phone too, which has no options and no commands to give: those of plans say it in words."""

import re
from pathlib import Path

import pytest

import controller

ROOT = Path(controller.__file__).parent
FILES = [*(ROOT / "decide" / "advice").glob("*.py"), ROOT / "rehearsal" / "binds.py"]
FILES += [ROOT / "decide" / "checks" / f"{name}.py" for name in ("interval", "card_room")]


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_no_remedy_names_an_option_or_a_command(file: Path) -> None:
    text = file.read_text()
    texts = re.findall(r'"([^"\n]*)"', re.sub(r'""".*?"""', "", text, flags=re.DOTALL))
    assert [one for one in texts if re.search(r"--[a-z]|duskhand |limit of (iso|shutter_s)", one)] == []
