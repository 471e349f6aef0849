from __future__ import annotations

import hashlib
import json
import math
import re
import statistics
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.results.flicker import flicker
from controller.results.report.documents import Report
from controller.results.report.integrity import verify
from controller.results.report.make import report
from controller.results.report.over_sun import ROWS
from controller.results.report.text import WIDTH, duration, render, size
from controller.words.documents import Frame, FrameState, Note
from controller.words.errors import BadInput
from controller.words.site_time import span
from tests.results.dusk import CAMERA, LOST, NOTES, SHOOT, SILENT, SLOTS, START, shoot, slots


def made(frames: list[Frame] | None = None) -> Report:
    frames = slots() if frames is None else frames
    return report(shoot(frames), frames, NOTES)


def test_planned_against_got() -> None:
    found = made()
    assert (found.slots, found.frames, found.counts.missed, found.counts.lost) == (SLOTS, 235, 4, 1)
    assert found.clip_s == pytest.approx(235 / 25)
    assert found.unshot_s is None
    assert found.stored.card_only == 235


def test_missing_slots_are_grouped_by_cause_with_their_times() -> None:
    found = made()
    (silent,) = found.missed
    assert (silent.cause, silent.slots) == ("the camera did not answer", len(SILENT))
    assert [(run.first_seq, run.last_seq, run.slots) for run in silent.runs] == [
        (61, 62, 2),
        (64, 64, 1),
        (150, 150, 1),
    ]
    assert silent.runs[0].first_utc == slots()[60].due_utc
    (lost,) = found.lost
    assert (lost.runs[0].first_seq, lost.slots) == (LOST, 1)


def test_lateness_is_what_the_standard_library_computes() -> None:
    late = [frame.late_ms for frame in slots() if frame.late_ms is not None]
    cuts = statistics.quantiles(late, n=1000, method="inclusive")
    found = made().lateness
    assert found is not None
    assert (found.frames, found.max_ms, found.max_seq) == (len(late), max(late), 99)
    assert found.p50_ms == pytest.approx(cuts[499])
    assert found.p90_ms == pytest.approx(cuts[899])
    assert found.p99_ms == pytest.approx(cuts[989])
    assert found.p999_ms == pytest.approx(cuts[998])
    assert found.within == 0
    counts, _ = np.histogram(late, [0.25, 0.5, 1, 2, 4, 8, 16])
    assert [(bar.from_ms, bar.to_ms) for bar in found.bars] == [(0.25 * 2**k, 0.5 * 2**k) for k in range(6)]
    assert [bar.frames for bar in found.bars] == counts.tolist()


def test_its_head_says_the_second_that_the_plan_printed() -> None:
    """`duskhand plan` prints 17:06:03 for a start at 17:06:02.527: rounded."""
    frames = [
        Frame(shoot=SHOOT, seq=seq, camera=CAMERA, due_utc=due_utc, interval_s=1, state=FrameState.WRITTEN)
        for seq, due_utc in ((1, START + 0.527), (2, START + 8.46))
    ]
    told = render(made(frames)).splitlines()
    assert "Tue 2026-12-01 16:00:01 – 16:00:08 Europe/Stockholm" in told
    assert "2026-12-01 15:00:01Z – 15:00:08Z" in told


def test_exposure_steps() -> None:
    found = made().exposure_steps
    assert found.changes == 40
    assert found.largest_ev == pytest.approx(1 / 3)
    assert found.sizes == {"0.33": 40}


def test_rows_over_the_sun() -> None:
    rows = made().over_sun
    assert sum(row.frames for row in rows) == 235
    assert [row.from_deg for row in rows] == list(range(2, -13, -1))
    assert not any(row.rising for row in rows)
    got = [frame for frame in slots() if frame.state is FrameState.WRITTEN]
    for row in rows:
        assert row.to_deg - row.from_deg == 1
        those = [frame for frame in got if row.from_deg <= (frame.sun_altitude_deg or 0) < row.to_deg]
        assert row.frames == len(those)
        for name in ("interval_s", "exposure_ev", "scene_ev"):
            assert getattr(row, name) == pytest.approx(statistics.median(getattr(frame, name) for frame in those))
        for name in ("shutter_s", "aperture", "iso"):
            assert getattr(row, name) == statistics.median_low(getattr(frame, name) for frame in those)


def test_a_whole_night_stays_a_short_table_with_both_ways() -> None:
    down = [(3.0 - number, 230.0) for number in range(30)]
    up = [(-27.0 + number, 100.0) for number in range(30)]
    frames = [
        Frame(
            shoot=SHOOT, seq=seq, camera=CAMERA, due_utc=START + seq, interval_s=1, state=FrameState.WRITTEN,
            sun_altitude_deg=altitude, sun_azimuth_deg=azimuth,
        )
        for seq, (altitude, azimuth) in enumerate(down + up, 1)
    ]  # fmt: skip
    rows = made(frames).over_sun
    assert len(rows) <= ROWS
    assert {row.rising for row in rows} == {True, False}
    assert sum(row.frames for row in rows) == 60
    assert "↑" in render(made(frames))


def test_flicker_by_hand() -> None:
    """First differences 1, −1, 1, so rms 1; second −2, 2, so rms 2."""
    found = flicker([0.0, 1.0, 0.0, 1.0])
    assert found is not None
    assert (found.first_rms_ev, found.second_rms_ev, found.largest_step_ev) == (1.0, 2.0, 1.0)
    assert flicker([0.0, 1.0]) is None


@given(st.lists(st.floats(-20, 20), min_size=3, max_size=40))
@settings(deadline=None)
def test_flicker_is_the_rms_of_differences(track: list[float]) -> None:
    first = [b - a for a, b in pairwise(track)]
    second = [b - a for a, b in pairwise(first)]
    found = flicker(track)
    assert found is not None
    assert found.first_rms_ev == pytest.approx(math.sqrt(statistics.fmean(d * d for d in first)))
    assert found.second_rms_ev == pytest.approx(math.sqrt(statistics.fmean(d * d for d in second)))


def test_brightness_of_the_staircase() -> None:
    """The log's brightness, scene less settings: steps of a third where settings change, −1/18 EV elsewhere."""
    found = made().brightness
    assert found is not None
    assert found.largest_step_ev == pytest.approx(1 / 3 - 1 / 18)


def test_an_empty_shoot_and_one_without_readings() -> None:
    empty = render(made([]))
    assert "no slot has come due" in empty
    bare = Frame(shoot=SHOOT, seq=1, camera=CAMERA, due_utc=START, interval_s=5, state=FrameState.RELEASED)
    assert "all" in render(made([bare]))


def test_a_shoot_that_was_ended_early() -> None:
    frames = slots()
    ended = shoot(frames, state="stopped", cause="stopped by hand", stop_utc=frames[-1].due_utc + 725)
    found = report(ended, frames, [])
    assert found.unshot_s == 725
    assert "the last 12 min 05 s of the window" in render(found)


def test_text_fits_a_terminal_and_tells_what_matters() -> None:
    long = "the camera process ended while it wrote the frame, and no frame of this number was found on the card"
    frames = [frame.model_copy(update={"cause": long}) if frame.seq in SILENT else frame for frame in slots()]
    many = [Note(utc=START + 90_000 + n, shoot=SHOOT, kind="k", text=f"note {n} " + "word " * 30) for n in range(60)]
    text = render(report(shoot(frames), frames, [*NOTES, *many]))
    assert all(len(line) <= WIDTH for line in text.splitlines())
    for wanted in ("97.9 %", "61–62", "16:05:30 – 16:05:36", "9.4 s at 25 fps", "16:00:00", "Europe/Stockholm",
                   "1/100 s  f/2.8  ISO 100", "most 8.2 ms (frame 99)", "2026-12-02", "22 earlier notes"):  # fmt: skip
        assert wanted in text
    assert text == render(report(shoot(frames), frames, [*NOTES, *many]))


def test_json_round_trip() -> None:
    found = made()
    document = json.loads(found.model_dump_json())
    assert document["missed"][0]["runs"][0]["first_utc"] == "2026-12-01T15:05:30.500Z"
    # ISO times carry milliseconds, so the second trip is exact
    again = Report.model_validate(document)
    assert Report.model_validate_json(again.model_dump_json()).model_dump(mode="json") == document


def test_words_for_people() -> None:
    assert [duration(s) for s in (9.44, 59.9, 60, 750, 3600, 7530)] == [
        "9.4 s", "59.9 s", "1 min 00 s", "12 min 30 s", "1 h 00 min", "2 h 05 min",
    ]  # fmt: skip
    assert [size(n) for n in (0, 999, 8_123_456, 4_100_000_000)] == ["0 bytes", "999 bytes", "8.1 MB", "4.1 GB"]
    there, nowhere = ZoneInfo("Europe/Stockholm"), ZoneInfo("UTC")
    assert span(START, START, there) == "16:00:00"
    assert span(START, START + 8 * 3600, there) == "16:00:00 – 2026-12-02 00:00:00"
    assert span(START, START + 8 * 3600, nowhere) == "15:00:00Z – 23:00:00Z"


def test_times_are_the_places_and_only_its_head_is_utc_too() -> None:
    """In the log's time a slot of five past four would be looked for an hour off."""
    frames = slots()
    head, *told = render(report(shoot(frames), frames, NOTES)).split("\n\n")
    assert head.count("Z") == 2
    assert "15:00:00Z" in head
    assert not re.search(r"\d:\d\dZ", "".join(told))
    assert re.search(r"\n {2}16:\d\d:\d\d {2}", told[-1]), "what happened"
    without = shoot(frames).model_copy(update={"plan": {"name": "no-zone"}})
    assert "15:05:30Z – 15:05:36Z" in render(report(without, frames, NOTES)), "no zone is named: UTC, and it says so"


def test_integrity_of_files(tmp_path: Path) -> None:
    frames = []
    for seq in range(1, 7):
        content = bytes([seq]) * 3_000_000
        name = f"shoots/{SHOOT}/2026-12-01/{seq:06d}.jpg"
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(content)
        frames.append(
            Frame(
                shoot=SHOOT, seq=seq, camera=CAMERA, due_utc=START, interval_s=1, state=FrameState.FETCHED,
                local_file=name, bytes=len(content), sha256=hashlib.sha256(content).hexdigest(),
            )
        )  # fmt: skip
    place = tmp_path / f"shoots/{SHOOT}/2026-12-01"
    (place / "000002.jpg").unlink()
    with (place / "000003.jpg").open("r+b") as file:
        file.seek(2_000_000)
        file.write(b"x")
    with (place / "000004.jpg").open("ab") as file:
        file.write(b"x")
    (place / "000005.jpg").unlink()
    (place / "000005.jpg").mkdir()
    found = verify(tmp_path, [*frames, slots()[0]])
    assert (found.checked, found.whole) == (6, 2)
    assert [(damage.seq, damage.fault) for damage in found.damaged] == [
        (2, "the file is missing"),
        (3, "the checksum differs"),
        (4, "the file has 3000001 bytes instead of 3000000"),
        (5, "the file cannot be read: Is a directory"),
    ]
    text = render(report(shoot(frames), frames, [], found))
    assert "2 of 6 read and found whole" in text
    assert "frame 2: the file is missing" in " ".join(text.split())


def test_several_cameras_are_told_apart():
    """Skew: difference of lateness in the same slot; percentiles by numpy."""
    one = [frame for frame in slots() if frame.seq <= 60]
    two = [
        frame.model_copy(update={"camera": "camera-2", "skew_ms": 0.1 * frame.seq, "state": FrameState.FETCHED})
        for frame in one
        if frame.seq > 2
    ]
    both = sorted([*one, *two], key=lambda frame: (frame.seq, frame.camera))
    made = report(shoot(both), both, [])
    assert (made.camera, made.slots) == ("camera-1", 60)
    first, second = made.cameras
    assert (first.camera, first.slots, first.together, first.skew_p99_ms) == ("camera-1", 60, 0, None)
    assert (second.camera, second.slots, second.frames, second.together) == ("camera-2", 58, 58, 58)
    skews = [0.1 * seq for seq in range(3, 61)]
    assert second.skew_p99_ms == pytest.approx(np.percentile(skews, 99))
    assert second.skew_max_ms == pytest.approx(6.0)
    text = render(made)
    assert "Frames of camera-1" in text
    assert "apart from the first in 58 slots" in text
    assert report(shoot(both), both, [], camera="camera-2").slots == 58
    with pytest.raises(BadInput, match="no frame of camera-3"):
        report(shoot(both), both, [], camera="camera-3")
