"""A plan of months, as it is printed: sums first, then a line a month in order of time."""

from __future__ import annotations

import calendar
import re

from tests.commands.test_plan import run

SITE = """name = "site"
site = { latitude = 52.1, longitude = 5.2, timezone = "Europe/Amsterdam" }
when = { start = "09:00", duration = "1h", every = "day", from = 2026-12-01, until = 2027-02-28 }
pace = { kind = "steady", interval_s = 60 }
light = { kind = "follow", aperture = 8 }
"""


def test_months_stand_in_order_behind_the_sums_with_the_calendars_days():
    out = run("-", "--date", "2026-12-01", text=SITE).stdout
    months = re.findall(r"^(\w{3}) (\d{4})  (\d+) windows from 09:00,", out, re.MULTILINE)
    wanted = [(2026, 12), (2027, 1), (2027, 2)]
    assert months == [(calendar.month_abbr[m], str(y), str(calendar.monthrange(y, m)[1])) for y, m in wanted]
    # three, one nearest to the December solstice, and the last
    assert "5 of 90 windows were looked at closely" in " ".join(out.split())
    assert out.index("in all") < out.index("Dec 2026  ")
