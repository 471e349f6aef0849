"""A report that takes longer than a request may wait. The answers themselves: tests/api/test_report.py."""

from __future__ import annotations

from pathlib import Path

import pytest

from controller.aside.process import Aside
from controller.aside.report import report_aside
from controller.words.errors import BadInput


async def test_one_that_takes_too_long_says_where_it_may(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"duskhand report.* on the rig") as raised:
        await report_aside(Aside("report", 0.001), tmp_path, "2026-12-01-quay", None)
    assert (raised.value.code, raised.value.where) == ("too-long", "2026-12-01-quay")
