"""`duskhand check`: is this rig ready for this plan; and what a camera can do: `--learn-response`, `--beat`."""

from __future__ import annotations

import argparse
import asyncio
from typing import TYPE_CHECKING

from controller.commands import add_directory
from controller.commands.asking import add_rig

if TYPE_CHECKING:
    from controller.words.checks import Checked

_MARKS = {"fail": "FAIL", "warn": "warn", "pass": "pass"}


def add(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "plan", metavar="PLAN", nargs="?", help="a plan document, or the name of one that is kept on the rig's service"
    )
    parser.add_argument("--fix", action="store_true", help="set what can be set, and look again")
    parser.add_argument(
        "--learn-response",
        action="store_true",
        help="take about ten pictures of a scene that keeps still, and learn the tone curve from them",
    )
    parser.add_argument(
        "--beat",
        action="store_true",
        help="find the shortest interval that each camera holds, by up to 96 test frames that stay on the card",
    )
    parser.add_argument(
        "--exposure",
        metavar="TIME",
        help="exposure of a --beat's frames, such as 1/60 or 8 (default: the plan's shortest, or 1/60)",
    )
    add_rig(parser)
    add_directory(parser)
    parser.add_argument("--json", action="store_true", help="print the findings as JSON")


def run(args: argparse.Namespace) -> int:
    """Print a line per finding, the worst first; 1 where one failed. Raises BadInput, CameraError, StoreError."""
    _refuse_mixed(args)
    if args.learn_response:
        from controller.commands.learn_response import learn

        return asyncio.run(learn(args))
    if args.beat:
        from controller.commands.steady_beat import beat

        return beat(args)
    found = _over_rest(args) or asyncio.run(_here(args))
    if args.json:
        print(found.model_dump_json(indent=2))
    else:
        print(render(found))
    return 0 if found.ready else 1


def _refuse_mixed(args: argparse.Namespace) -> None:
    """Options that do not go together, none of which is dropped in silence."""
    from controller.words.errors import BadInput

    chosen = [option for option in ("fix", "beat", "learn_response") if getattr(args, option)]
    if len(chosen) > 1:
        first, second = (f"--{option.replace('_', '-')}" for option in chosen[:2])
        raise BadInput("bad-options", f"it does not go together with {second}", first, "Run one after the other")
    if args.exposure is not None and not args.beat:
        raise BadInput("bad-options", "it is of --beat alone", "--exposure", "Give --beat too, or leave it out")
    for option, given in (("PLAN", args.plan), ("--rig", args.rig)):
        if args.learn_response and given is not None:
            raise BadInput("bad-options", "it does not go together with --learn-response", option, "Leave it out")


def render(found: Checked) -> str:
    """Every finding in words, and the sum."""
    from controller.words.phrases import with_remedy

    several = len({finding.camera for finding in found.findings if finding.camera}) > 1
    lines = []
    for done in found.mended:
        name = f"{done.camera}: {done.setting.replace('_', ' ')}"
        lines.append(f"not set  {name}: {done.refusal}" if done.refusal else f"set   {name} to {done.value}")
    for finding in found.findings:
        where = f"{finding.camera}: " if several and finding.camera else ""
        lines.append(f"{_MARKS[finding.level]}  {where}{with_remedy(finding.what, finding.remedy)}")
    settable = sum(finding.fix is not None for finding in found.findings if finding.level == "fail")
    by_fix = f"; `--fix` can set {settable} of them" if settable and not found.mended else ""
    return "\n".join([*lines, found.summary + by_fix])


def _over_rest(args: argparse.Namespace) -> Checked | None:
    """The service's answer; None where there is none."""
    from pathlib import Path

    from controller.commands.asking import call, service
    from controller.commands.plan_file import read
    from controller.words.checks import Checked

    url = service(args)
    if url is None:
        return None
    plan = args.plan
    if plan is not None and (plan == "-" or Path(plan).is_file() or "/" in plan or plan.endswith((".toml", ".json"))):
        plan = read(plan).document()
    return Checked.model_validate(call(url, "/api/v1/check", {"plan": plan, "fix": args.fix}))


def _file(plan: str) -> str:
    """The name of a plan's file. Raises BadInput where there is none: a name alone is the service's to know."""
    from pathlib import Path

    from controller.words.errors import BadInput

    if plan != "-" and not Path(plan).exists():
        remedy = "Give a plan's file, or start `duskhand serve`: plans by name are kept there, and none answers"
        raise BadInput("no-such-file", "there is no such file", plan, remedy)
    return plan


async def _here(args: argparse.Namespace) -> Checked:
    from controller.commands.attached import attached, kept_bodies
    from controller.commands.plan_file import read
    from controller.decide.advice.needs import Known
    from controller.decide.checks.plan_facts import plan_facts
    from controller.engine.bodies import body_of
    from controller.engine.checking import Checking
    from controller.engine.dials import Dials
    from controller.engine.turn import Turn
    from controller.words.clock import WallClock

    plan, clock = None if args.plan is None else read(_file(args.plan)), WallClock()
    seen = await kept_bodies(args.dir)
    async with attached(args.camera) as links:
        facts = None
        if plan is not None:
            opened = next((link.opened for link in links if link.opened is not None), None)
            mine = next((body for body in seen if opened is not None and body.key == opened.key), None)
            facts = plan_facts(plan, clock.utc(), None if opened is None else body_of(opened), Known(mine))
        dials = Dials(links, {link.id: Turn() for link in links}, clock)
        return await Checking(links, dials, args.dir, seen).check(facts, fix=args.fix)
