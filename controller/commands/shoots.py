"""`duskhand shoots`: the shoots of a rig, newest last."""

from __future__ import annotations

import argparse
import json

from controller.commands import add_directory


def add(parser: argparse.ArgumentParser) -> None:
    add_directory(parser)
    parser.add_argument("--json", action="store_true", help="print them as a JSON array")


def run(args: argparse.Namespace) -> int:
    """Print one line per shoot. Raises NotFound, StoreError."""
    from controller.commands.shoot_log import read
    from controller.words.site_time import to_the_minute, zone_of

    shoots = read(args.dir, lambda store: store.shoots())
    if args.json:
        print(json.dumps([shoot.model_dump(mode="json") for shoot in shoots], indent=2, ensure_ascii=False))
        return 0
    if not shoots:
        print("No shoot yet.")
        return 0
    width = max(5, *(len(shoot.id) for shoot in shoots))
    print(f"{'SHOOT':<{width}}  {'STATE':<10}  {'STARTED':<16}  FRAMES  MISSED  LOST")
    for shoot in shoots:
        zone, counts = zone_of(shoot.plan.get("site", {}).get("timezone")), shoot.counts
        started = to_the_minute(shoot.started_utc, zone) if shoot.started_utc else ""
        until = to_the_minute(shoot.held_until_utc, zone) if shoot.held_until_utc else ""
        print(
            f"{shoot.id:<{width}}  {shoot.state.value:<10}  {started:<17} {counts.done:6d}  {counts.missed:6d}"
            f"  {counts.lost:4d}" + (f"  goes on {until}" if until else "")
        )
    return 0
