"""`duskhand cameras`: what is attached, with what each can do."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from controller.commands.asking import add_rig

if TYPE_CHECKING:
    from controller.words.documents import CameraNow
    from controller.words.settings import Setting, SettingNow

NONE = "No camera is attached. Switch one on and plug it in, or name its address with --camera"
Shown = tuple["CameraNow", "list[SettingNow]"]


def add(parser: argparse.ArgumentParser) -> None:
    add_rig(parser)
    parser.add_argument("--json", action="store_true", help="print them as a JSON array")


def run(args: argparse.Namespace) -> int:
    """Print every camera. Raises BadInput, CameraError, DuskhandError."""
    import asyncio
    import json

    from controller.commands.asking import service

    url = service(args)
    found = asyncio.run(_here(args.camera)) if url is None else _over_rest(url)
    if args.json:
        print(json.dumps([_document(*camera) for camera in found], indent=2, ensure_ascii=False))
    else:
        print("\n\n".join(render(*camera) for camera in found) or NONE)
    return 0


def _document(camera: CameraNow, settings: list[SettingNow]) -> dict[str, Any]:
    return camera.model_dump(mode="json") | {"settings": [now.model_dump(mode="json") for now in settings]}


def _over_rest(url: str) -> list[Shown]:
    from urllib.parse import quote

    from controller.commands.asking import call
    from controller.words.documents import CameraNow
    from controller.words.settings import SettingNow

    found = []
    for told in call(url, "/api/v1/cameras"):
        camera = CameraNow.model_validate(told)
        rows = call(url, f"/api/v1/cameras/{quote(camera.id)}/settings") if camera.connected else []
        found.append((camera, [SettingNow.model_validate(row) for row in rows]))
    return found


async def _here(addresses: list[str]) -> list[Shown]:
    from controller.commands.attached import attached
    from controller.engine.dials import camera_now

    found = []
    async with attached(addresses) as links:
        for link in links:
            opened = link.opened
            found.append((camera_now(link, opened), await link.settings() if opened else []))
    return found


def render(camera: CameraNow, settings: list[SettingNow]) -> str:
    """One camera in words: its ranges, what its settings are, battery and card, or its trouble."""
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
            lines.append(f"  {_name(now.setting):16} {now.value or 'not told'}{only}")
    battery = "not told" if camera.battery_percent is None else f"{camera.battery_percent} %"
    room = "not told" if camera.card_free_bytes is None else f"{size(camera.card_free_bytes)} free"
    if camera.card_free_frames is not None:
        room += f", {grouped(camera.card_free_frames)} frames by the body's own count"
    return "\n".join([*lines, f"  {'battery':16} {battery}", f"  {'card':16} {room}"])


def _numbers(now: SettingNow | None) -> list[float]:
    """True values of all choices that are numbers, ascending."""
    from controller.camera.choices import number

    if now is None or not now.writable:
        return []
    return sorted({value for choice in now.choices if (value := number(now.setting, choice)) is not None})


def _name(setting: Setting) -> str:
    from controller.camera.choices import named

    return named(setting)
