"""`duskhand check` and `duskhand cameras` with the simulated camera, opened here and over the real service."""

from __future__ import annotations

import json

import pytest

from controller.commands import main
from controller.words.checks import Checked
from tests.support.rigs import plan
from tests.support.service import rig
from tests.support.simcam import start_simulated_camera

NOWHERE = "ptpip:127.0.0.1:1:1"


def toml(shutter_s: float, duration: str = "10min") -> str:
    return f"""
    name = "evening"
    site = {{ latitude = 57.66, longitude = 11.72, timezone = "UTC" }}
    when = {{ start = "now", duration = "{duration}" }}
    pace = {{ kind = "steady", interval_s = 5.0, min_gap_s = 0.1 }}
    light = {{ kind = "fixed", shutter_s = {shutter_s}, aperture = 5.6, iso = 400 }}
    files = {{ fetch = "preview" }}
    """


def checked(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, Checked]:
    capsys.readouterr()
    code = main(["check", *words, "--json"])
    return code, Checked.model_validate_json(capsys.readouterr().out)


def test_a_camera_opened_here_against_a_plan(tmp_path, capsys):
    document = tmp_path / "plan.toml"
    document.write_text(toml(0.1))
    where = ["--dir", str(tmp_path / "rig")]
    with start_simulated_camera(tmp_path) as camera:
        where += ["--camera", camera.address]
        code, found = checked(capsys, str(document), *where)
        assert main(["check", str(document), *where]) == code
        lines = capsys.readouterr().out.splitlines()
        document.write_text(toml(0.1, "9000h"))
        failing, outgrown = checked(capsys, str(document), *where)
    assert found.plan == "evening"
    assert "camera" in {finding.check for finding in found.findings if finding.level == "pass"}
    assert code == (0 if found.ready else 1)
    assert lines[-1] == found.summary
    assert len(lines) == len(found.findings) + 1
    assert all(finding.remedy for finding in found.findings if finding.level != "pass")
    assert failing == (0 if outgrown.ready else 1)
    rooms = [next(f.level for f in each.findings if f.check == "card room") for each in (found, outgrown)]
    assert rooms == ["pass", "warn"]  # a warning, since the size of a frame is assumed
    assert not (tmp_path / "rig").exists()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--exposure", "1/60"], "duskhand check: --exposure: it is of --beat alone. "),
        (["--fix", "--beat"], "duskhand check: --fix: it does not go together with --beat. "),
        (["quay.toml", "--learn-response"], "duskhand check: PLAN: it does not go together with --learn-response. "),
        (["--learn-response", "--rig", "http://x"], "duskhand check: --rig: it does not go together with --learn-"),
    ],
)
def test_options_that_do_not_go_together_are_refused(words, told, capsys):
    assert main(["check", *words, "--camera", NOWHERE]) == 2
    assert capsys.readouterr().err.startswith(told)


def test_no_camera_fails_and_says_where(tmp_path, capsys):
    code, found = checked(capsys, "--camera", NOWHERE, "--dir", str(tmp_path))
    assert code == 1
    assert NOWHERE in found.findings[0].what
    capsys.readouterr()
    assert main(["cameras", "--camera", NOWHERE]) == 1
    told = capsys.readouterr()
    assert "not there" in told.out
    assert told.err == ""


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["check", "nowhere.toml", "--camera", NOWHERE], 2),
        (["check", "--camera", "nonsense"], 2),
        (["check", "--rig", "nonsense"], 2),
        (["check", "--rig", "http://127.0.0.1:9", "--camera", "usb:"], 2),
        (["check", "--rig", "http://127.0.0.1:9"], 1),
        (["cameras", "--rig", "http://127.0.0.1:9"], 1),
        (["cameras", "--camera", "nonsense"], 2),
    ],
)
def test_bad_input_is_one_line(words, code, capsys):
    assert main(words) == code
    assert len(capsys.readouterr().err.strip().splitlines()) == 1


def test_over_a_service_that_holds_the_camera(tmp_path, capsys):
    with rig(tmp_path) as (service, _):
        code, found = checked(capsys, "--rig", service.url)
        assert code == (0 if found.ready else 1)
        assert {finding.camera for finding in found.findings} == {None, "camera-1"}
        assert main(["check", "unheard-of", "--rig", service.url]) == 2
        assert main(["cameras", "--rig", service.url]) == 0
        told = capsys.readouterr().out
        assert "steps" in told
        assert "free" in told
        assert main(["cameras", "--rig", service.url, "--json"]) == 0
        (camera,) = json.loads(capsys.readouterr().out)
        assert camera["connected"]
        assert camera["settings"]
        assert camera["timing"]["safe"] is None
        assert main(["pair", "--rig", service.url]) == 0
        shown = capsys.readouterr().out
        assert "No other machine can reach the service" in shown  # it listens on this machine alone
        assert "--host 0.0.0.0" in shown
        assert not {"█", "▀", "▄"} & set(shown)
        shoot = service.shoot(plan(interval_s=2.0))
        while service.get(f"/api/v1/shoots/{shoot}")["state"] != "shooting":
            pass
        assert main(["check", "--fix", "--rig", service.url]) == 2
        assert "shoot is at work" in capsys.readouterr().err
        assert main(["check", "--beat", "--rig", service.url]) == 2
        assert "a shoot has this camera" in capsys.readouterr().err
        assert checked(capsys, "--rig", service.url)[1].findings
