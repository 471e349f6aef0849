"""`duskhand sky`: sun, twilight and moon for a place and a day."""

from __future__ import annotations

import argparse
from datetime import date

from controller.commands.figures import number

FIRST_YEAR, LAST_YEAR = 1900, 2100


def add(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--lat", type=number, required=True, metavar="LAT", help="latitude, degrees, north positive")
    parser.add_argument("--lon", type=number, required=True, metavar="LON", help="longitude, degrees, east positive")
    parser.add_argument("--date", metavar="YYYY-MM-DD", help="the day (default: today)")
    parser.add_argument(
        "--timezone", default="UTC", metavar="ZONE", help="times by the clock of this zone (default: UTC)"
    )
    parser.add_argument("--json", action="store_true", help="print the result as JSON")


def run(args: argparse.Namespace) -> int:
    """Print the day as a table and a chart. Raises BadInput: bad-place, bad-date, bad-timezone."""
    import json
    import os
    import shutil
    import sys
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    from controller.commands.drawing import Style
    from controller.commands.sky_text import document, render
    from controller.decide.almanac import day_of
    from controller.decide.horizon import check_place
    from controller.decide.zone_hints import zone_remedy
    from controller.words.errors import BadInput

    try:
        check_place(args.lat, args.lon)
    except BadInput as error:
        error.where = {"latitude": "--lat", "longitude": "--lon"}[error.where]
        raise
    try:
        zone = ZoneInfo(args.timezone)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        what = f"{args.timezone!r} is no time zone"
        raise BadInput("bad-timezone", what, "--timezone", zone_remedy(args.timezone, args.lat, args.lon)) from error
    on = _date(args.date, zone)
    day = day_of(args.lat, args.lon, args.timezone, on)
    if args.json:
        print(json.dumps(document(args.lat, args.lon, on, zone, day), ensure_ascii=False, indent=2))
    else:
        style = Style.of(sys.stdout.encoding, os.environ, sys.stdout.isatty())
        print(render(args.lat, args.lon, on, zone, day, style, shutil.get_terminal_size().columns))
    return 0


def _date(text: str | None, zone: object) -> date:
    from datetime import datetime, tzinfo

    from controller.commands.days import day

    if text is not None:
        return day(text, FIRST_YEAR, LAST_YEAR)
    assert isinstance(zone, tzinfo)
    return datetime.now(zone).date()
