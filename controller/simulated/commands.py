"""What the control port can be asked."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

from controller.simulated.body import Body, Refused
from controller.simulated.clouds import SKIES
from controller.simulated.control import Command
from controller.simulated.eye import Eye
from controller.simulated.faults import Faults
from controller.simulated.light import lights
from controller.simulated.properties import Prop
from controller.simulated.ptp import Event
from controller.simulated.script import fault


def commands(body: Body, eye: Eye, faults: Faults) -> dict[str, Command]:
    """Name -> function; each answers with a document, and raises ValueError for values that it cannot take."""

    def frames() -> dict[str, Any]:
        return {"taken": body.record.taken, "written": body.record.written}

    def settings() -> dict[str, Any]:
        values = {prop.name.lower(): body.get(prop) for prop in body.specs}
        return values | {"live_view": body.live_view, "button": body.button}

    def card() -> dict[str, Any]:
        files = [str(e.path.relative_to(body.card.root)) for e in body.card.list() if e.size is not None]
        return {"files": files, "free": body.card.free, "free_images": body.card.free_images}

    def now() -> dict[str, Any]:
        utc = body.clock.utc()
        seen = lights(eye.scene.place, utc)
        stamp = datetime.fromtimestamp(utc, UTC).isoformat(timespec="milliseconds")
        return {
            "utc": stamp,
            "sun_altitude_deg": seen.sun_altitude,
            "scene_ev": eye.metered_ev(utc),
            "exposing": body.exposing,
        }

    def script(words: str) -> dict[str, Any]:
        faults.script(words)
        return {}

    def fault_now(word: str) -> dict[str, Any]:
        faults.apply(fault(word))
        return {}

    def refuse(operation: str, code: str, times: int = 1, params: Sequence[int] = ()) -> dict[str, Any]:
        faults.refuse(operation, code, times, tuple(params))
        return {}

    def pressed() -> dict[str, Any]:
        return {"requests": list(faults.pressed)}

    def clouds(sky: str) -> dict[str, Any]:
        if sky not in SKIES:
            raise ValueError(f"'{sky}' is no sky: use one of {' '.join(SKIES)}")
        eye.set_sky(sky)
        return {}

    def lamp(lux: float) -> dict[str, Any]:
        eye.set_lamp(float(lux))
        return {}

    def sleep() -> dict[str, Any]:
        return {"asleep": faults.sleep.asleep, "woken_by": dict(faults.sleep.woken)}

    def press() -> dict[str, Any]:
        try:
            body.release()
        except Refused as refused:
            raise ValueError(f"the shutter does not open: {refused}") from refused
        return {}

    def turn(setting: str, value: int) -> dict[str, Any]:
        try:
            prop = Prop[setting.upper()]
            body.set(prop, value)
        except KeyError as error:
            raise ValueError(f"'{setting}' is no setting of this body: see those that settings tells") from error
        except Refused as refused:
            raise ValueError(f"{setting} cannot be turned to {value}: {refused}") from refused
        body.tell(Event.DEVICE_PROP_CHANGED, [prop])
        return {}

    return {
        "press": press, "turn": turn,
        "frames": frames, "settings": settings, "card": card, "now": now, "script": script, "fault": fault_now,
        "refuse": refuse, "pressed": pressed, "clouds": clouds, "lamp": lamp, "sleep": sleep,
    }  # fmt: skip
