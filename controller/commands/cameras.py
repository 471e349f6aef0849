"""`duskhand cameras`: what is attached, with what each can do."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from controller.commands import add_directory
from controller.commands.asking import add_rig

if TYPE_CHECKING:
    from pathlib import Path

    from controller.words.bodies import BodyTimed
    from controller.words.documents import CameraNow
    from controller.words.settings import Setting, SettingNow

NONE = "No camera is attached. Switch one on and plug it in, or name its address with --camera"
Shown = tuple["CameraNow", "list[SettingNow]", "BodyTimed | None"]


def add(parser: argparse.ArgumentParser) -> None:
    add_rig(parser)
    add_directory(parser)
    parser.add_argument("--json", action="store_true", help="print them as a JSON array")


def run(args: argparse.Namespace) -> int:
    """Print every camera; 1 where one that was named is not there. Raises BadInput, CameraError, DuskhandError."""
    import asyncio
    import json

    from controller.commands.asking import service

    url = service(args)
    found = asyncio.run(_here(args.camera, args.dir)) if url is None else _over_rest(url)
    if args.json:
        print(json.dumps([_document(*camera) for camera in found], indent=2, ensure_ascii=False))
    else:
        print("\n\n".join(render(*camera) for camera in found) or NONE)
    return 1 if args.camera and not all(camera.connected for camera, _, _ in found) else 0


def _document(camera: CameraNow, settings: list[SettingNow], timed: BodyTimed | None) -> dict[str, Any]:
    return camera.model_dump(mode="json") | {
        "settings": [now.model_dump(mode="json") for now in settings],
        "timing": None if timed is None else timed.model_dump(mode="json"),
    }


def _over_rest(url: str) -> list[Shown]:
    from urllib.parse import quote

    from controller.commands.asking import call
    from controller.words.bodies import BodyTimed
    from controller.words.documents import CameraNow
    from controller.words.settings import SettingNow

    found: list[Shown] = []
    for told in call(url, "/api/v1/cameras"):
        camera = CameraNow.model_validate(told)
        if not camera.connected:
            found.append((camera, [], None))
            continue
        at = f"/api/v1/cameras/{quote(camera.id)}"
        settings = [SettingNow.model_validate(row) for row in call(url, f"{at}/settings")]
        found.append((camera, settings, BodyTimed.model_validate(call(url, f"{at}/timing"))))
    return found


async def _here(addresses: list[str], directory: Path) -> list[Shown]:
    from controller.commands.attached import attached, kept_bodies
    from controller.decide.safe_interval import timed
    from controller.engine.dials import camera_now

    found: list[Shown] = []
    kept = {body.key: timed(body) for body in await kept_bodies(directory)}
    async with attached(addresses) as links:
        for link in links:
            opened = link.opened
            if opened is None:
                found.append((camera_now(link, None), [], None))
            else:
                known = kept.get(opened.key)
                found.append((camera_now(link, opened), await link.settings(), known))
    return found


def render(camera: CameraNow, settings: list[SettingNow], timed: BodyTimed | None) -> str:
    """One camera in words: its ranges, what its settings are, battery, card, what it takes; or its trouble."""
    from controller.decide.checks.power_off import timer
    from controller.words.phrases import grouped, size
    from controller.words.settings import Setting
    from controller.words.stops import aperture_label, iso_label, shutter_label

    if not camera.connected:
        return f"{camera.id}  {camera.address}\n  not there: {camera.trouble or 'no camera answers'}"
    known = {now.setting: now for now in settings}
    lines = [f"{camera.id}  {camera.model}, {camera.address}"]
    for setting, label in (
        (Setting.SHUTTER, shutter_label),
        (Setting.APERTURE, aperture_label),
        (Setting.ISO, iso_label),
    ):
        numbers = _numbers(known.get(setting))
        if numbers:
            steps = f"{label(numbers[0])} to {label(numbers[-1])}, {len(numbers)} steps"
            lines.append(f"  {_name(setting):16} {steps if len(numbers) > 1 else label(numbers[0])}")
        else:
            lines.append(f"  {_name(setting):16} cannot be set from here")
    ranged = (Setting.SHUTTER, Setting.APERTURE, Setting.ISO, Setting.BATTERY, Setting.SHOTS_LEFT)
    for now in settings:
        if now.setting not in ranged:
            only = "" if now.writable else " (shown only)"
            value = timer(now.value) if now.setting is Setting.POWER_OFF else _plain(now)
            lines.append(f"  {_name(now.setting):16} {value or 'not told'}{only}")
    battery = "not told" if camera.battery_percent is None else f"{camera.battery_percent} %"
    room = "not told" if camera.card_free_bytes is None else f"{size(camera.card_free_bytes)} free"
    if camera.card_free_frames is not None:
        room += f", {grouped(camera.card_free_frames)} frames by the body's own count"
    return "\n".join([*lines, f"  {'battery':16} {battery}", f"  {'card':16} {room}", *_safe(timed)])


def _safe(timed: BodyTimed | None) -> list[str]:
    """The shortest interval that is safe, and what that is from."""
    from controller.words.phrases import at_least

    if timed is None or timed.safe is None:
        return [f"  {'safe interval':16} not seen yet: shoot some twenty frames, or use check --beat"]
    short, long = (at_least(timed.safe.interval_s(exposure_s)) for exposure_s in (1 / 64, 8.0))
    return [f"  {'safe interval':16} {short} at 1/60 s, {long} at 8 s", f"  {'':16} {timed.safe.basis}"]


def _plain(now: SettingNow) -> str:
    """A setting's text. Where the library gives a number of the body's in place of a word, that is said."""
    code = now.unnamed.get(now.value)
    return now.value if code is None else f"not known by name (the body says {code}): see the camera's own screen"


def _numbers(now: SettingNow | None) -> list[float]:
    """True values of all choices that are numbers, ascending."""
    from controller.camera.choices import number

    if now is None or not now.writable:
        return []
    return sorted({value for choice in now.choices if (value := number(now.setting, choice)) is not None})


def _name(setting: Setting) -> str:
    from controller.camera.choices import named

    return named(setting)
