"""`duskhand plan`: validates a plan and prints what it comes to."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from controller.commands import default_directory

if TYPE_CHECKING:
    from controller.decide.advice.needs import Known
    from controller.decide.advice.questions import Question


def add(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", nargs="?", help="the plan document (TOML), or - for standard input")
    parser.add_argument(
        "--date", metavar="YYYY-MM-DD", help="the window that starts on that local day (default: open now, or next)"
    )
    asked = parser.add_mutually_exclusive_group()
    asked.add_argument(
        "--clip", metavar="LENGTH", help="which intervals make a clip of this length, such as 20s or 1min30s"
    )
    asked.add_argument("--interval", metavar="LENGTH", help="what one interval throughout comes to, such as 10s")
    asked.add_argument("--card", metavar="SIZE", help="until when a card of this size lasts, such as 64GB")
    parser.add_argument("--frame-mb", metavar="MB", help="megabytes that one frame takes on the card, such as 30")
    parser.add_argument(
        "--dir",
        type=Path,
        metavar="DIR",
        help=f"the rig whose body's sizes and whose disk count (default: {default_directory()}, if there is one)",
    )
    parser.add_argument("--json", action="store_true", help="print the result as JSON")
    parser.add_argument("--schema", action="store_true", help="print the JSON Schema of plans; no FILE is needed")


def run(args: argparse.Namespace) -> int:
    """Print times in the site's zone, frames, clip, storage, power, warnings and cautions. Raises BadInput."""
    import json
    import shutil
    import time

    from controller.commands.days import day
    from controller.commands.plan_file import in_file, read
    from controller.commands.plan_text import render
    from controller.decide.advice.advise import advise
    from controller.decide.plan.schema import plan_schema
    from controller.words.errors import BadInput

    if args.schema:
        print(json.dumps(plan_schema(), indent=2, ensure_ascii=False))
        return 0
    if args.file is None:
        raise BadInput("no-such-file", "no plan is named", "FILE", "Give a plan document, or - for standard input")
    question, known = _question(args), _known(args)
    plan = read(args.file)
    now_utc = time.time()
    asked = now_utc if args.date is None else day(args.date)
    try:
        found = advise(plan, asked, now_utc=now_utc, known=known, question=question)
    except BadInput as error:
        if question is not None and error.where == question.where:
            raise
        raise in_file(error, args.file) from None
    if args.json:
        print(found.model_dump_json(indent=2))
    else:
        print(render(found, shutil.get_terminal_size().columns))
    return 0


def _question(args: argparse.Namespace) -> Question | None:
    from controller.commands.figures import seconds, size
    from controller.decide.advice.questions import Question

    if args.clip is not None:
        return Question("--clip", clip_s=seconds(args.clip, "--clip", 86_400.0, least=0.001))
    if args.interval is not None:
        interval_s = seconds(args.interval, "--interval", 86_400.0, least=0.001)
        return Question("--interval", interval_s=interval_s)
    if args.card is not None:
        return Question("--card", card_bytes=size(args.card, "--card"))
    return None


def _known(args: argparse.Namespace) -> Known:
    """What the rig's log tells of the body that it saw last, and the room on the rig's disk."""
    import asyncio
    import sys

    from controller.commands.figures import megabytes
    from controller.decide.advice.needs import Known
    from controller.store import Store
    from controller.store.files import database_path, room
    from controller.wiring.document import wiring_in
    from controller.words.bodies import BodySeen
    from controller.words.errors import BadInput, DuskhandError

    frame_bytes = None if args.frame_mb is None else megabytes(args.frame_mb, "--frame-mb") * 1e6
    directory: Path = args.dir or default_directory()
    if args.dir is not None and not directory.is_dir():
        raise BadInput(
            "no-rig", "there is no such directory", f"--dir {directory}", "Name the rig's, or leave --dir out"
        )
    moves_s = wiring_in(directory).moves_s
    room_bytes = float(room(directory)[0]) if directory.is_dir() else None
    if not database_path(directory).exists():  # as before the first night: sizes of frames are assumed
        return Known(frame_bytes=frame_bytes, rig_room_bytes=room_bytes, motion_s=moves_s)

    async def bodies() -> list[BodySeen]:
        async with await Store.open(database_path(directory), read_only=True) as store:
            return await store.bodies()

    try:
        seen = asyncio.run(bodies())
    except DuskhandError as error:
        if args.dir is not None:
            raise
        print(f"duskhand plan: no sizes of frames were read: {error}", file=sys.stderr)
        return Known(frame_bytes=frame_bytes, motion_s=moves_s)
    return Known(seen[0] if seen else None, frame_bytes, rig_room_bytes=room_bytes, motion_s=moves_s)
