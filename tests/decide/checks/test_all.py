"""The checks together: order, what is left out, and the page that lists them."""

from __future__ import annotations

import re
from pathlib import Path

from controller.decide.checks import OF_CAMERA, OF_RIG, look, summed_up
from tests.decide.checks import camera, plan, rig

PAGE = Path(__file__).parents[3] / "docs/checks.md"


def test_the_worst_comes_first_and_the_sum_counts_it():
    found = look(rig(cameras=(camera(battery_percent=5),)), plan())
    levels = [finding.level for finding in found]
    assert levels == sorted(levels, key=["fail", "warn", "pass"].index)
    assert levels[0] == "fail"
    assert summed_up(found, plan()) == "1 thing to mend first"
    assert summed_up([], plan()) == "Ready for this plan"
    assert summed_up([], None) == "Ready to shoot"
    assert summed_up(found[1:2], plan()) == "Ready for this plan, with 1 to look at"


def test_of_a_camera_that_is_not_there_only_that_is_told():
    found = look(rig(cameras=(camera(model=None, trouble="it is off"),)), plan())
    (about,) = (finding for finding in found if finding.camera or finding.check == "camera")
    assert (about.level, about.camera) == ("fail", "camera-1")
    assert "it is off" in about.what


def test_every_check_has_its_line_on_the_page():
    listed = re.findall(r"^\| `([^`]+)`", PAGE.read_text("utf-8"), re.M)
    names = [check.__globals__["NAME"] for check in (*OF_CAMERA, *OF_RIG)]
    assert listed == list(dict.fromkeys(names))
