"""The day that --date gives."""

from __future__ import annotations

import re
from datetime import date, datetime

from controller.words.errors import BadInput


def day(text: str, first_year: int = 2000, last_year: int = 2100) -> date:
    """A day such as 2026-10-03, within the years for which sun and moon are known. Raises BadInput (bad-date)."""
    try:
        found = datetime.strptime(text, "%Y-%m-%d").date()
    except ValueError as error:
        shaped = re.fullmatch(r"\d{4}-\d\d?-\d\d?", text, re.ASCII) is not None
        remedy = "Give one that the calendar has" if shaped else "Write it like 2026-10-03"
        raise BadInput("bad-date", f"{text!r} is no date", "--date", remedy) from error
    if not first_year <= found.year <= last_year:
        raise BadInput("bad-date", f"{text} is out of range", "--date", f"Give a day from {first_year} to {last_year}")
    return found
