"""`duskhand check --beat`: the shortest interval that each camera holds, by test frames, kept for plans and checks."""

from __future__ import annotations

import argparse
import asyncio
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from controller.words.errors import BadInput, CameraError

if TYPE_CHECKING:
    from controller.decide.plan import Plan
    from controller.decide.steady_beat import Run
    from controller.words.bodies import BeatFound

_PATIENCE_S = 3600.0


def beat(args: argparse.Namespace) -> int:
    """Find it with one camera after the other; 1 where one held nothing. Raises BadInput, CameraError, StoreError."""
    from controller.commands.asking import service

    url = service(args)
    exposure_s = _exposure_s(args, url)
    found = _over_rest(url, exposure_s) if url is not None else asyncio.run(_here(args, exposure_s))
    if args.json:
        import json

        print(json.dumps([{"camera": name} | each.model_dump(mode="json") for name, each in found], indent=2))
    else:
        print("\n".join(told(name, each) for name, each in found))
    return 0 if all(each.held_s is not None for _, each in found) else 1


def told(camera: str, found: BeatFound) -> str:
    """What was found, in words."""
    from controller.decide.safe_interval import RESERVE, seconds
    from controller.words.phrases import at_least, count
    from controller.words.stops import shutter_time

    exposure = f"with exposures of {shutter_time(found.exposure_s)} and {found.files}"
    why = "" if found.failed_s is None else f"{seconds(found.failed_s)} failed: {found.cause}"
    taken = f"{count(found.frames, 'frame')} taken"
    if found.held_s is None:
        return f"{camera}  held no interval {exposure}. {why[:1].upper()}{why[1:]}. {taken}"
    parts = f"{camera}  holds {seconds(found.held_s)} {exposure}; {why or 'nothing shorter was tried'}. {taken}"
    return f"{parts}. Kept: with a fifth in reserve plans are checked against {at_least(RESERVE * found.held_s)}"


def _announce(camera: str, exposure_s: float) -> None:
    """Before a shutter moves: how often it will at most. To standard error, so that --json stays JSON."""
    from controller.decide.steady_beat import MOST_FRAMES
    from controller.words.stops import shutter_time

    what = f"{camera}: up to {MOST_FRAMES} test frames of {shutter_time(exposure_s)} are taken and stay on the card"
    print(f"{what}; that takes some minutes", file=sys.stderr, flush=True)


def _tell(run: Run) -> None:
    from controller.decide.safe_interval import seconds

    print(f"  {seconds(run.interval_s):>7}  {run.cause or 'held'}", file=sys.stderr, flush=True)


def _exposure_s(args: argparse.Namespace, url: str | None) -> float:
    """True seconds: as given, else the plan's shortest, else 1/60."""
    from controller.decide.steady_beat import EXPOSURE_S, LONGEST_DIAL_S, LONGEST_S
    from controller.words.stops import parse_shutter, true_shutter

    if args.exposure is None:
        return EXPOSURE_S if args.plan is None else min(LONGEST_S, _shortest_s(args.plan, url))
    nominal_s = parse_shutter(args.exposure)
    if nominal_s is None or not 0 < nominal_s <= LONGEST_DIAL_S:
        what = f"'{args.exposure}' is no exposure for this"
        raise BadInput("bad-length", what, "--exposure", f"Write it like 1/60 or 8, up to {LONGEST_DIAL_S:.0f} s")
    return true_shutter(nominal_s)


def _shortest_s(name: str, url: str | None) -> float:
    from controller.decide.advice.needs import Known
    from controller.decide.checks.plan_facts import plan_facts
    from controller.words.clock import WallClock

    return plan_facts(_plan(name, url), WallClock().utc(), None, Known()).shortest_exposure_s


def _plan(name: str, url: str | None) -> Plan:
    from urllib.parse import quote

    from controller.commands.asking import call
    from controller.commands.plan_file import read
    from controller.decide.plan import plan_from

    if url is None or name == "-" or Path(name).is_file():
        return read(name)
    return plan_from(call(url, f"/api/v1/plans/{quote(name, safe='')}"))


def _over_rest(url: str, exposure_s: float) -> list[tuple[str, BeatFound]]:
    from urllib.parse import quote

    from controller.commands.asking import call
    from controller.words.bodies import BeatFound

    found = []
    for camera in call(url, "/api/v1/cameras"):
        if camera["connected"]:
            _announce(camera["id"], exposure_s)
            path = f"/api/v1/cameras/{quote(camera['id'])}/beat"
            told = call(url, path, {"exposure_s": exposure_s}, patience_s=_PATIENCE_S)
            found.append((camera["id"], BeatFound.model_validate(told)))
    if not found:
        raise CameraError("no-camera", "no camera answers", url, "Switch one on and plug it in")
    return found


async def _here(args: argparse.Namespace, exposure_s: float) -> list[tuple[str, BeatFound]]:
    from controller.camera.messages import Report
    from controller.commands.attached import attached
    from controller.decide.safe_interval import needs_of
    from controller.engine.bodies import Bodies
    from controller.engine.looking import Looking
    from controller.engine.turn import Turn
    from controller.store import Store
    from controller.store.files import database_path
    from controller.words.clock import WallClock

    clock, found = WallClock(), []
    async with await Store.open(database_path(args.dir)) as store, attached(args.camera) as links:
        looking = Looking(links, {link.id: Turn() for link in links}, clock, args.dir)
        for link in links:
            opened = link.opened
            if opened is None:
                raise CameraError("no-camera", link.trouble or "no camera answers", link.address)
            bodies = Bodies()
            bodies.heard(link.id, opened, clock.utc(), clock.rate)
            (body, *_) = await bodies.known(store)

            async def heard(report: Report, camera: str = link.id) -> None:
                looking.heard(camera, report)

            link.listen(heard)
            _announce(link.id, exposure_s)
            found.append((link.id, await looking.beat(link.id, exposure_s, needs_of(body), _tell)))
            await store.put_beat(opened.model, opened.serial, found[-1][1])
    if not found:
        raise CameraError("no-camera", "no camera is attached", remedy="Switch one on, or name it with --camera")
    return found
