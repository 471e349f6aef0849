"""`duskhand messages`: who is told of trouble far away, and whether that works."""

from __future__ import annotations

import argparse
import json
import sys
from typing import Any

from controller.words.errors import DuskhandError


def add(parser: argparse.ArgumentParser) -> None:
    from controller.commands import add_directory
    from controller.commands.asking import add_running

    parser.add_argument("--test", action="store_true", help="send a test message to every address, and say what came")
    add_running(parser)
    add_directory(parser)
    parser.add_argument("--json", action="store_true", help="print the answer as JSON")


def run(args: argparse.Namespace) -> int:
    """A service that runs is asked; without one the addresses of the rig's directory are read here.

    Raises BadInput, Conflict, DuskhandError.
    """
    from controller.commands.asking import DEFAULT_RIG, call

    url = (args.rig or DEFAULT_RIG).rstrip("/")
    try:
        state = call(url, "/api/v1/messages", patience_s=3.0)
    except DuskhandError as error:
        if args.rig is not None or error.code != "no-service":
            raise
        return _here(args)
    if not args.test:
        return _told(args, state)
    return _tested(args, call(url, "/api/v1/messages/test", {}, method="POST"))


def _here(args: argparse.Namespace) -> int:
    """Without a service: nothing waits that could be told, but a test can be sent."""
    import asyncio

    from controller.aside.process import MESSAGE_S, Aside
    from controller.engine.post import Post
    from controller.wiring.document import wiring_in

    post = Post(args.dir, wiring_in(args.dir).messages, Aside("message", MESSAGE_S).answer)
    if not args.test:
        post.open()
        if post.unread is not None:
            print(f"duskhand messages: {post.unread}", file=sys.stderr)
        now = post.now()
        told = None if now is None else now.model_dump(mode="json")
        return _told(args, told)
    return _tested(args, asyncio.run(post.test()).model_dump(mode="json"))


def _told(args: argparse.Namespace, state: dict[str, Any] | None) -> int:
    """0 where nothing is in the way."""
    _print(args, state, _state(state))
    return 1 if state is not None and state["trouble"] else 0


def _tested(args: argparse.Namespace, came: dict[str, Any]) -> int:
    """0 where every address has it."""
    lines = [
        f"address {one['number']} ({one['way']}): {'sent' if one['ok'] else 'not sent: ' + one['why']}"
        for one in came["went"]
    ]
    _print(args, came, "\n".join(lines))
    return 0 if all(one["ok"] for one in came["went"]) else 1


def _state(state: dict[str, Any] | None) -> str:
    if state is None:
        return "Nobody is told: rig.toml has no [messages]. docs/watching.md tells how"
    waits = f"{state['waiting']} waiting" if state["waiting"] else "Nothing waits"
    last = f"\nTrouble: {state['trouble']}" if state["trouble"] else ""
    return f"{waits}{last}"


def _print(args: argparse.Namespace, answer: Any, text: str) -> None:
    print(json.dumps(answer, ensure_ascii=False, indent=2) if args.json else text)
