"""What the commands say of a rig's wiring before anything is shot."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from controller.commands import main
from controller.words.checks import Checked

NOWHERE = "ptpip:127.0.0.1:1:1"
PLAN = """
name = "evening"
site = {{ latitude = 57.66, longitude = 11.72 }}
when = {{ start = "now", duration = "10min" }}
pace = {{ kind = "{kind}", {interval} = 5.0, min_gap_s = {gap} }}
light = {{ kind = "{light}", shutter_s = {shutter}, aperture = 5.6, iso = 400 }}
"""


@pytest.fixture
def documents(tmp_path):
    """Writes a plan, and a rig.toml where a move takes 1.8 s; the plan's path and the rig's."""

    def write(wiring="[motion]\npin = 17\nsettle_s = 1.5\n", **fields):
        usual = {"kind": "steady", "interval": "interval_s", "gap": 1.0, "light": "fixed", "shutter": 4.0}
        (tmp_path / "plan.toml").write_text(PLAN.format(**usual | fields))
        (tmp_path / "rig.toml").write_text(wiring)
        return str(tmp_path / "plan.toml"), str(tmp_path)

    return write


def planned(capsys, plan: str, directory: str, tmp_path) -> str:
    """The warnings of `duskhand plan` for a rig that has not shot yet."""
    from controller.commands import plan as command

    capsys.readouterr()
    before, command.default_directory = command.default_directory, lambda: tmp_path
    try:
        assert main(["plan", plan, "--json"]) == 0
    finally:
        command.default_directory = before
    return " ".join(warned["what"] for warned in json.loads(capsys.readouterr().out)["warnings"])


def test_a_plan_whose_gap_does_not_hold_a_move_is_warned_of(documents, capsys, tmp_path):
    told = planned(capsys, *documents(), tmp_path)
    assert "the motion rig needs 1.8 s" in told
    assert "intervals will be longer" in told
    assert "motion rig" not in planned(capsys, *documents(shutter=3.0), tmp_path)
    follow = {"light": "follow", "shutter": "[0.001, 20]"}
    assert "motion rig" not in planned(capsys, *documents(**follow, gap=1.8), tmp_path)


def test_a_plan_on_pulses_tells_that_its_frames_are_the_most_there_can_be(documents, capsys, tmp_path):
    plan, _ = documents(kind="pulse", interval="min_interval_s", shutter=2.0)
    assert "the pulses decide" in planned(capsys, plan, str(tmp_path), tmp_path)


def checked(capsys, plan: str, directory: str) -> dict[str, str]:
    capsys.readouterr()
    main(["check", plan, "--dir", directory, "--camera", NOWHERE, "--json"])
    found = Checked.model_validate_json(capsys.readouterr().out)
    return {finding.check: finding.level for finding in found.findings}


def test_the_checks_look_at_it(documents, capsys):
    assert checked(capsys, *documents())["motion rig"] == "warn"
    levels = checked(capsys, *documents(kind="pulse", interval="min_interval_s", shutter=2.0))
    assert (levels["motion rig"], levels["wiring"]) == ("pass", "fail")
    assert checked(capsys, *documents("[motion]\npin = 99\nsettle_s = 1"))["wiring"] == "fail"
    assert "wiring" not in checked(capsys, *documents(""))


def test_serve_ends_with_one_line_where_it_cannot_be_used(documents):
    _, directory = documents("[motion]\npin = 17\nsettle = 1")
    command = [sys.executable, "-m", "controller", "serve", "--dir", directory, "--port", "0", "--camera", NOWHERE]
    done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 2
    (line,) = done.stderr.splitlines()
    assert "rig.toml, line 3, [motion] settle: unknown key. Did you mean settle_s?" in line
