"""What `duskhand clip` takes to make a film of months: which frames of which shoots it shows."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import AsyncIterator

    from controller.results.series.wanted import Wanted
    from controller.store import Store
    from controller.words.documents import Frame, Shoot


def add(parser: argparse.ArgumentParser) -> None:
    """--series, --within, --skip and --days."""
    parser.add_argument(
        "--series",
        metavar="WHAT",
        help="one frame a day, sun-azimuth=DEG or sun-altitude=DEG,morning or …,evening; or hour-best",
    )
    parser.add_argument("--within", metavar="DEG", help="of the sun's place, for one a day (default: 3)")
    parser.add_argument("--skip", metavar="WHAT", help="leave out fog, drops (on the lens), night, or several")
    parser.add_argument("--days", metavar="FROM..TO", help="local days, such as 2026-12-01..2027-05-31")


def wanted(args: argparse.Namespace) -> Wanted | None:
    """None where all frames of one shoot are wanted. Raises BadInput('bad-series')."""
    if args.series is None and args.skip is None and args.days is None and args.within is None:
        return None
    from controller.results.series import wanted as words
    from controller.words.errors import BadInput

    series = None if args.series is None else words.series_of(args.series)
    if args.within is not None and not isinstance(series, words.SameSun):
        what = "this is how far the sun may be off in a series of one frame a day"
        raise BadInput("bad-series", what, "--within", "Give --series sun-azimuth=… or sun-altitude=… with it")
    days: tuple[date | None, date | None] = (None, None) if args.days is None else words.days_of(args.days)
    within = words.WITHIN_DEG if args.within is None else words.within_of(args.within)
    skip = frozenset() if args.skip is None else words.skip_of(args.skip)
    return words.Wanted(series, skip, *days, within)


def suffix(asked: Wanted | None, several: bool) -> str:
    """What the film's name gets behind the shoot's id."""
    return ("-joined" if several else "") + (f"-{asked.slug}" if asked is not None and asked.slug else "")


async def chosen(
    args: argparse.Namespace,
    asked: Wanted | None,
    store: Store,
    shoots: list[Shoot],
    progress: Callable[[int, int], None],
) -> tuple[Shoot, list[Frame], list[str]]:
    """The shoot that the film is named after, the frames of all, and for people what is not among them."""
    from controller.commands.shoot_log import pages
    from controller.results.series.choose import choose
    from controller.results.series.wanted import Wanted

    def rows(shoot: Shoot) -> AsyncIterator[list[Frame]]:
        return pages(store, shoot)

    shoots.sort(key=lambda shoot: shoot.created_utc)
    whole = sum(sum(shoot.counts.model_dump().values()) for shoot in shoots)
    choice = await choose(
        asked or Wanted(), shoots, rows, args.dir, args.camera, lambda done: progress(min(done, whole), whole)
    )
    light = {key: value for key, value in shoots[0].plan.get("light", {}).items() if key != "bracket_ev"}
    plain = shoots[0].model_copy(update={"plan": shoots[0].plan | {"light": light}})  # one of each bracket is chosen
    return plain, choice.frames, choice.remarks
