"""What `duskhand clip` takes to make a film of months: which frames of which shoots it shows."""

from __future__ import annotations

import argparse
from collections.abc import Callable
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
    from controller.results.series.wanted import wanted_of

    return wanted_of(args.series, args.within, args.skip, args.days)


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
    from controller.results.series.film import film_of

    def rows(shoot: Shoot) -> AsyncIterator[list[Frame]]:
        return pages(store, shoot)

    return await film_of(asked, shoots, rows, args.dir, args.camera, progress)
