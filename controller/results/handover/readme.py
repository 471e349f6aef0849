"""README.txt of a hand-over: what each file is, for somebody who has never seen a rig."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from datetime import datetime

from controller.results.handover import missing, sums
from controller.results.handover.document import HandedOver
from controller.words.documents import Shoot
from controller.words.phrases import count
from controller.words.site_time import zone_of

NAME = "README.txt"
_WIDTH = 78

WHAT: dict[str, str] = {
    "pictures/": "the pictures, byte for byte as the camera wrote them, under names of their own. Both files of a"
    " RAW+JPEG pair have one name and two endings.",
    "previews/": "small pictures of frames whose own file is not here, to see what they show. Each is named as its"
    " picture would be.",
    ".xmp": "beside each picture: how much lighter or darker it is to be made so that the film does not flicker, as"
    " XMP (ISO 16684-1), under a namespace of its own that is told in the file.",
    "frames.csv": "the log: a row for each time at which a picture was due, with what the camera was set to, where the"
    " sun stood, and the picture's name here (folder_file; of a pair the second's in folder_companion_file;"
    " where there is a small picture alone, folder_preview)."
    " Times are UTC. Text with commas, UTF-8 (RFC 4180).",
    "frames.parquet": "the same with typed columns (Apache Parquet).",
    missing.NAME: "what is not here, and why: a row for each picture that was missed or lost, is only on the card, or"
    " could not be copied.",
    "gains.csv": "how much each picture is to be made lighter or darker, in stops (EV), in one table.",
    "gains.json": "the same as JSON.",
    "report.html": "what was planned and what was got, with curves. It opens in any browser and needs no network.",
    "clips/": "films that were made of the shoot.",
    "plan.toml": "the plan that was shot.",
    "hand-over.json": "which shoot this is and how its pictures are named; the next run of the same command reads it.",
    sums.NAME: "what every file was when it was written (SHA-256). In this folder, `sha256sum --check SHA256SUMS`"
    " says whether it still is.",
}


def readme(shoot: Shoot, made: HandedOver, names: list[str]) -> str:
    """`names`: those of `WHAT` that are there. Lines end in CRLF, which every editor of text takes."""
    return "\r\n".join(_lines(shoot, made, names)) + "\r\n"


def _minute(utc: float, shoot: Shoot) -> str:
    """'2026-12-01 16:00 Europe/Stockholm', or UTC where the plan names no zone."""
    zone = zone_of(shoot.plan.get("site", {}).get("timezone"))
    return f"{datetime.fromtimestamp(utc, zone):%Y-%m-%d %H:%M} {zone.key}"


def _lines(shoot: Shoot, made: HandedOver, names: list[str]) -> Iterator[str]:
    if shoot.started_utc is not None:
        state = f"begun {_minute(shoot.started_utc, shoot)}"
    else:
        state = f"{shoot.state.value}, not begun; made {_minute(shoot.created_utc, shoot)}"
    yield f"{shoot.plan_name}: shoot {shoot.id}"
    yield state
    yield ""
    previews = f" and {count(made.previews, 'preview')}" if made.previews else ""
    yield from textwrap.wrap(
        f"{count(made.slots, 'slot')} in the log, {count(made.frames, 'frame')} released and not lost,"
        f" {count(made.pictures, 'picture file')}{previews} in this folder.",
        _WIDTH,
    )
    if made.missing:
        yield ""
        yield f"Not in this folder ({missing.NAME} names each):"
        for why, slots in made.missing.items():
            yield from textwrap.wrap(f"{slots}: {why}", _WIDTH, initial_indent="  ", subsequent_indent="    ")
    if made.remarks:
        yield ""
        for remark in made.remarks:
            yield from textwrap.wrap(remark, _WIDTH)
    yield ""
    yield "What is what"
    for name in names:
        yield ""
        yield name
        yield from textwrap.wrap(WHAT[name], _WIDTH, initial_indent="  ", subsequent_indent="  ")
    yield ""
    yield from textwrap.wrap(
        "Nothing here is needed by the rig: its own files are untouched, whatever is changed in this folder.", _WIDTH
    )
