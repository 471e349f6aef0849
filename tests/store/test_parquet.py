"""The frame log as Parquet, opened by the format's own library and held against CSV and log."""

from __future__ import annotations

import csv
import io
import sys
from datetime import UTC, datetime
from pathlib import Path

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq
import pytest

from controller.store import csv_lines, parquet
from controller.store.parquet import ParquetLog
from controller.words.documents import EXPORT_COLUMNS, Frame
from controller.words.errors import BadInput
from controller.words.times import iso
from tests.store.samples import START, due, outcome


def frames(count: int) -> list[Frame]:
    """Fetched ones, every seventh missed."""
    missed = {"state": "missed", "shutter_s": None, "cause": 'the camera said "no",\nand then nothing'}
    return [
        due(seq, **missed) if seq % 7 == 0 else Frame.model_validate({**due(seq).model_dump(), **outcome(seq)})
        for seq in range(1, count + 1)
    ]


def write(path: Path, rows: list[Frame]) -> None:
    log = ParquetLog(path)
    log.extend(rows)
    log.close()


def test_every_value_is_that_of_the_log_and_of_the_csv(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parquet, "GROUP", 64)
    rows = frames(200)
    write(tmp_path / "log.parquet", rows)
    table = pq.read_table(tmp_path / "log.parquet")
    assert tuple(table.column_names) == EXPORT_COLUMNS
    for column in EXPORT_COLUMNS:
        known = [getattr(row, column) for row in rows]
        if column.endswith("_utc"):
            known = [None if utc is None else datetime.fromtimestamp(round(utc, 6), UTC) for utc in known]
        assert table[column].to_pylist() == known, column
    text = csv.DictReader(io.StringIO("".join(csv_lines(rows)), newline=""))
    for row, line in zip(table.to_pylist(), text, strict=True):
        shown = {n: iso(v.timestamp()) if isinstance(v, datetime) else v for n, v in row.items()}
        assert line == {name: "" if value is None else str(value) for name, value in shown.items()}


def test_types_are_those_that_the_page_tells(tmp_path: Path) -> None:
    write(tmp_path / "log.parquet", frames(3))
    found = pq.read_schema(tmp_path / "log.parquet")
    for name in EXPORT_COLUMNS:
        kind = found.field(name).type
        if name.endswith("_utc"):
            assert kind == pa.timestamp("us", tz="UTC")
        elif name in ("shoot", "camera", "state"):
            assert pa.types.is_dictionary(kind)
            assert kind.value_type == pa.string()
        elif name in ("seq", "id", "bytes"):
            assert kind == pa.int64()
        elif name.endswith(("file", "sha256")) or name in ("cause", "copies"):
            assert kind == pa.string()
        else:
            assert kind == pa.float64(), name


def test_rows_stand_in_groups_that_a_reader_may_skip(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parquet, "GROUP", 64)
    write(tmp_path / "log.parquet", frames(200))
    file = pq.ParquetFile(tmp_path / "log.parquet")
    assert [file.metadata.row_group(number).num_rows for number in range(file.num_row_groups)] == [64, 64, 64, 8]
    after = datetime.fromtimestamp(START + 5.1 * 150, UTC)
    late = pq.read_table(tmp_path / "log.parquet", filters=pc.field("due_utc") > after)
    assert late["seq"].to_pylist() == list(range(151, 201))
    missed = pq.read_table(tmp_path / "log.parquet", filters=pc.field("state") == "missed")
    assert missed["seq"].to_pylist() == list(range(7, 201, 7))


def test_a_log_without_rows_and_further_columns(tmp_path: Path) -> None:
    write(tmp_path / "none.parquet", [])
    assert pq.read_table(tmp_path / "none.parquet").num_rows == 0
    log = ParquetLog(tmp_path / "more.parquet", ["file"])
    log.add(due(1), "pictures/quay-00001.JPG")
    log.add(due(2), None)
    with pytest.raises(TypeError):
        log.add(due(3))
    log.close()
    assert pq.read_table(tmp_path / "more.parquet")["file"].to_pylist() == ["pictures/quay-00001.JPG", None]


def test_without_the_library_one_line_says_how_to_get_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(BadInput) as caught:
        ParquetLog(tmp_path / "log.parquet")
    assert caught.value.code == "no-parquet"
    assert "pip install '.[parquet]'" in str(caught.value)
    assert not (tmp_path / "log.parquet").exists()
