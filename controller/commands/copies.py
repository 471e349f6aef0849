"""`duskhand copies`: what is copied to second places, what waits and why; try again now."""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from typing import Any


def add(parser: argparse.ArgumentParser) -> None:
    from controller.commands.asking import add_service

    parser.add_argument("--again", action="store_true", help="read places.toml anew and try everything now")
    add_service(parser)
    parser.add_argument("--json", action="store_true", help="print the answer as JSON")


def run(args: argparse.Namespace) -> int:
    """Ask the service. Raises what it answers, DuskhandError where there is none."""
    from controller.commands.asking import call

    url = args.rig.rstrip("/")
    told = call(url, "/api/v1/copies/again", {}) if args.again else call(url, "/api/v1/copies")
    print(json.dumps(told, ensure_ascii=False, indent=2) if args.json else "\n".join(_lines(told)))
    return 0


def _lines(told: dict[str, Any]) -> Iterator[str]:
    if told["trouble"] is not None:
        yield f"Nothing is copied: {told['trouble']}"
    elif not told["places"]:
        yield "No second place is named: the rig's directory has no places.toml (docs/storage.md)"
    for place in told["places"]:
        yield from _place(place)
    for key, where in (("rig_freed", "the rig"), ("card_freed", "cards")):
        if told[key]:
            yield f"Deleted from {where} after they were copied: {told[key]} frames"


def _place(place: dict[str, Any]) -> Iterator[str]:
    from controller.words.phrases import count, length, size, with_remedy

    copied = f"{count(place['copied'], 'frame')} verified ({size(place['copied_bytes'])})"
    waiting = f"{count(place['waiting'], 'frame')} waiting ({size(place['waiting_bytes'])})"
    free = "" if place["free_bytes"] is None else f", {size(place['free_bytes'])} free there"
    yield f"{place['name']}: {copied}, {waiting}{free}"
    if place["copying"]:
        yield f"  on its way: {place['copying']}"
    if place["trouble"] is not None:
        again = "" if place["retry_in_s"] is None else f" (tried again in {length(place['retry_in_s'])})"
        yield f"  waits: {with_remedy(place['trouble'], place['remedy'])}{again}"
    yield from (f"  not copied: {line}" for line in place["stuck"])
