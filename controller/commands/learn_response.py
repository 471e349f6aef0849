"""`duskhand check --learn-response`: the camera's tone curve from a short bracket, kept for the shoots to come."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from controller.words.errors import CameraError, DuskhandError

if TYPE_CHECKING:
    from controller.camera.link import CameraLink
    from controller.camera.messages import Report
    from controller.decide.meter import Curve
    from controller.decide.response import Learned, NotLearned
    from controller.words.clock import Clock

SHOWN = (20, 40, 60, 90, 118, 150, 180, 210, 240)


async def learn(args: argparse.Namespace) -> int:
    """Learn the curve of the first camera and print it. Raises CameraError, StoreError."""
    from controller.commands.attached import attached
    from controller.decide.meter import SRGB
    from controller.decide.response import NotLearned
    from controller.engine.metering import body_key, keep_curve
    from controller.store import Store
    from controller.store.files import database_path
    from controller.words.clock import WallClock

    clock = WallClock()
    async with await Store.open(database_path(args.dir)) as store:
        async with attached(args.camera[:1] or ["usb:"]) as [link]:
            if link.opened is None:
                raise CameraError("no-camera", link.trouble or "no camera answers", link.address)
            body = body_key(link.opened)
            print(f"{body.model}, serial number {body.serial or 'unknown'}, picture style {body.style}", flush=True)
            found, taken = await _bracket(link, clock, args)
        print(f"{taken} pictures taken; they stay on the card")
        if isinstance(found, NotLearned):
            remedy = "Aim at a scene that keeps still and holds dark and bright parts, in manual mode with fixed ISO"
            raise DuskhandError("not-learned", f"no tone curve: {found.why}", remedy=remedy)
        await keep_curve(store, body, found, "bracket", clock.utc())
    print(_described(found, SRGB))
    return 0


async def _bracket(link: CameraLink, clock: Clock, args: argparse.Namespace) -> tuple[Learned | NotLearned, int]:
    from controller.decide.meter import SRGB
    from controller.engine.beside import Beside
    from controller.engine.response_bracket import ResponseBracket

    beside = Beside(link, clock, args.dir)
    bracket = ResponseBracket(link, beside)

    async def heard(report: Report) -> None:
        beside.heard(report)

    link.listen(heard)
    return await bracket.learn(SRGB), bracket.taken


def _described(found: Learned, plain: Curve) -> str:
    """What the curve says of some codes, beside sRGB."""
    import math

    def ev(curve: Curve, code: int) -> str:
        return f"{math.log2(float(curve.linear[code]) / curve.mid):+.2f}".replace("-", "−").replace("+0.00", "0.00")

    lines = ["", "  code   EV against mid grey   the same in sRGB"]
    lines += [f"  {code:4d}   {ev(found.curve, code):>19}   {ev(plain, code):>16}" for code in SHOWN]
    agree = max(0.01, round(found.quality_ev, 2))
    known = f"Two halves of the pictures agree to {agree:.2f} EV. Kept for the shoots to come."
    return "\n".join([known, *lines])
