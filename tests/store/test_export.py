from __future__ import annotations

import csv
import io

from controller.store import csv_lines
from controller.words.documents import Frame
from tests.store.samples import due, outcome

# the columns that every export has, in this order; more may follow
COLUMNS = (
    "shoot, seq, camera, due_utc, released_utc, late_ms, interval_s, shutter_s, aperture, iso, exposure_ev, scene_ev,"
    " target_ev, sun_altitude_deg, sun_azimuth_deg, moon_altitude_deg, state,"
    " camera_file, local_file, bytes, sha256, cause"
).split(", ")


def test_columns_and_values_read_back_by_the_csv_module() -> None:
    odd = 'mute for 60 s, "again"\nand then back'
    frames = [
        Frame.model_validate({**due(1).model_dump(), **outcome(1)}),
        due(2, state="missed", cause=odd, shutter_s=None),
    ]
    lines = list(csv_lines(frames))
    assert all(line.endswith("\r\n") for line in lines)  # RFC 4180, section 2, rule 1
    header, first, second = csv.reader(io.StringIO("".join(lines), newline=""))
    assert header[: len(COLUMNS)] == COLUMNS
    read = dict(zip(header, first, strict=True))
    assert read["due_utc"] == "2026-12-01T16:00:05.100Z"
    assert float(read["shutter_s"]) == frames[0].shutter_s
    assert read["sha256"] == f"{1:064x}"
    assert read["state"] == "fetched"
    read = dict(zip(header, second, strict=True))
    assert read["cause"] == odd
    assert read["shutter_s"] == read["released_utc"] == ""


def test_pages_follow_without_a_second_header() -> None:
    whole = list(csv_lines([due(1), due(2)]))
    assert whole == [*csv_lines([due(1)]), *csv_lines([due(2)], header=False)]
