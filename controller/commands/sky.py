"""`duskhand sky`: sun, twilight and moon for a place and a day."""

from __future__ import annotations

import argparse
from datetime import date, datetime, tzinfo

from controller.commands.figures import number


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
    import os
    import shutil
    import sys
    import time

    from controller.commands.drawing import Style
    from controller.commands.sky_text import render
    from controller.decide.almanac import day_of
    from controller.decide.sky_day import place_of, sky_day
    from controller.words.errors import BadInput

    try:
        site = place_of(args.lat, args.lon, args.timezone)
    except BadInput as error:
        error.where = {"latitude": "--lat", "longitude": "--lon", "timezone": "--timezone"}[error.where]
        raise
    on = _date(args.date, site.zone)
    day = day_of(args.lat, args.lon, args.timezone, on)
    if args.json:
        print(sky_day(site, on, time.time(), day).model_dump_json(indent=2, exclude={"words"}))
    else:
        style = Style.of(sys.stdout.encoding, os.environ, sys.stdout.isatty())
        print(render(args.lat, args.lon, on, site.zone, day, style, shutil.get_terminal_size().columns))
    return 0


def _date(text: str | None, zone: tzinfo) -> date:
    from controller.commands.days import day
    from controller.decide.sky_day import FIRST_YEAR, LAST_YEAR

    if text is not None:
        return day(text, FIRST_YEAR, LAST_YEAR)
    return datetime.now(zone).date()
