"""`duskhand pair`: let a phone or a script in, see who was, take it back."""

from __future__ import annotations

import argparse
import json
import sys
from typing import Any


def add(parser: argparse.ArgumentParser) -> None:
    from controller.commands.asking import add_service

    what = parser.add_mutually_exclusive_group()
    what.add_argument("--token", metavar="NAME", help="make a bearer token for a script of that name instead of a code")
    what.add_argument("--list", action="store_true", help="list who was let in")
    what.add_argument("--revoke", metavar="ID", type=_id, help="take the access of that one away")
    parser.add_argument("--view", action="store_true", help="for a client: sees everything, changes nothing")
    add_service(parser, "address of the service on this machine")
    parser.add_argument("--json", action="store_true", help="print the answer as JSON")


def _id(text: str) -> int:
    if not text.isascii() or not text.isdigit():
        raise argparse.ArgumentTypeError(f"{text!r} is no ID: give the number that `duskhand pair --list` shows")
    return int(text)


def run(args: argparse.Namespace) -> int:
    """Ask the service. Raises what it answers, DuskhandError where there is none."""
    from controller.commands.asking import call, over_tls

    url = over_tls(args.rig.rstrip("/"))
    rights = "view" if args.view else "all"
    if args.revoke is not None:
        call(url, f"/api/v1/sessions/{args.revoke}", method="DELETE")
        _say(args, {"revoked": args.revoke}, f"{args.revoke} is let in no more")
    elif args.list:
        sessions = call(url, "/api/v1/sessions")
        _say(args, sessions, _listed(sessions))
    elif args.token is not None:
        made = call(url, "/api/v1/sessions", {"name": args.token, "rights": rights})
        text = f"{made['secret']}\nSend it as `Authorization: Bearer …`. It is not shown again."
        _say(args, made, text)
    else:
        made = call(url, "/api/v1/invitations", {"rights": rights})
        made["addresses"] = _addresses(url)
        _say(args, made, "")
        if not args.json:
            _show(made)
    return 0


def _say(args: argparse.Namespace, answer: Any, text: str) -> None:
    if args.json:
        print(json.dumps(answer, ensure_ascii=False, indent=2))
    elif text:
        print(text)


def _addresses(url: str) -> list[str]:
    """Where a phone in the same network reaches the page: those of this machine's addresses at which it answers."""
    from controller.commands.service import answers, own_addresses

    scheme, _, rest = url.partition("://")
    port = rest.rpartition(":")[2]
    return [f"{scheme}://{address}:{port}/" for address in own_addresses() if answers(address, int(port))]


def _show(made: dict[str, Any]) -> None:
    import segno

    right = "look, and change nothing" if made["rights"] == "view" else "run the rig"
    print(f"Code: {made['code']}   holds for {made['for_s'] / 60:.0f} minutes, for one device, which may then {right}")
    for address in made["addresses"]:
        link = f"{address}#code={made['code'].replace('-', '')}"  # what stands after # is sent to nobody
        print(f"\n{address}\n")
        segno.make(link, micro=False, error="m").terminal(out=sys.stdout, compact=True, border=2)
    if made["addresses"]:
        print("Scan it with the phone, or open the address there and enter the code.")
        return
    print("No other machine can reach the service now: it listens on this machine alone, or is in no network.")
    print("Start it with `duskhand serve --host 0.0.0.0`, in a network that you trust; then run this again.")


def _listed(sessions: list[dict[str, Any]]) -> str:
    lines = [f"{'ID':>4}  {'MAY':<5}  {'SINCE':<17}  {'LAST SEEN':<17}  NAME"]
    for one in sessions:
        since, seen = (
            f"{told[:16].replace('T', ' ')}Z" if told else "" for told in (one["created_utc"], one["seen_utc"])
        )
        lines.append(f"{one['id']:>4}  {one['rights']:<5}  {since:<17}  {seen:<17}  {one['name']}")
    return "\n".join(lines) if sessions else "Nobody was let in yet."
