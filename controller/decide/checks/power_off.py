"""A body that switches itself off in a long gap has to be woken."""

from __future__ import annotations

import re

from controller.decide.checks.choosing import mending
from controller.decide.checks.facts import CameraFacts, PlanFacts, doubt, fine
from controller.words.phrases import length
from controller.words.settings import Finding, Setting

NAME = "power-off timer"
_REMEDY = "Switch the power-off timer off in the body's menu"
_LENGTH = re.compile(r"(\d+) *(s|sec|seconds?|m|min|minutes?)?")


def power_off(camera: CameraFacts, plan: PlanFacts | None) -> Finding:
    """Off, or longer than any interval."""
    value = camera.value(Setting.POWER_OFF)
    if is_off(value):
        return fine(NAME, "The power-off timer is off", camera.id)
    if not value:
        return doubt(NAME, "The body does not tell its power-off timer", _REMEDY, camera.id)
    shown, after_s = camera.settings[Setting.POWER_OFF].value, seconds(value)
    fix = mending(camera, Setting.POWER_OFF, is_off) or _by_number(camera)
    if after_s is None or plan is None:
        return doubt(NAME, f"The power-off timer is set, {timer(shown)}", _REMEDY, camera.id, fix)
    if after_s > plan.longest_interval_s:
        what = f"The power-off timer, {length(after_s)}, is longer than the longest interval"
        return fine(NAME, f"{what}, {length(plan.longest_interval_s)}", camera.id)
    what = f"The body may switch itself off after {length(after_s)}, and intervals grow to"
    return doubt(NAME, f"{what} {length(plan.longest_interval_s)}", _REMEDY, camera.id, fix)


def _by_number(camera: CameraFacts) -> dict[Setting, str] | None:
    """Off for a body that takes seconds without giving choices: 0, as Canon's (common practice, from memory)."""
    now = camera.settings[Setting.POWER_OFF]
    free = now.writable and not now.choices and now.value.strip().isdecimal()
    return {Setting.POWER_OFF: "0"} if free else None


def timer(value: str) -> str:
    """A timer as people read it, whatever the body's own text."""
    folded = value.strip().casefold()
    after_s = seconds(folded)
    return "off" if is_off(folded) else length(after_s) if after_s is not None else value


def is_off(value: str) -> bool:
    """Of a folded text."""
    return value in ("0", "off", "none", "never", "disable", "disabled", "no limit", "unlimited")


def seconds(value: str) -> float | None:
    """The time behind a folded text; a bare number is seconds, as Canon's."""
    found = _LENGTH.fullmatch(value)
    if found is None:
        return None
    return float(found[1]) * (60.0 if (found[2] or "s").startswith("m") else 1.0)
