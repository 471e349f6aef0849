"""The rig's own document, rig.toml: which pins have which work, and who is told of trouble. It says nothing of what to
shoot."""

from __future__ import annotations

import tomllib
from typing import Annotated, Any, Literal, Self

from pydantic import Field, Strict, ValidationError, model_validator

from controller.decide import plan_hints
from controller.decide.messages.document import Messages
from controller.decide.plan.tables import Number, Table
from controller.decide.plan_errors import Sense, plain, refuse, shown
from controller.decide.plan_lines import line_of
from controller.decide.toml_slips import toml_remedy
from controller.words.errors import BadInput

Pin = Annotated[
    int,
    Strict(),
    Field(ge=2, le=27, description="number of the pin as the processor's maker counts them (BCM), not its place"),
]
Level = Annotated[Literal["high", "low"], Field(description="the level that switches it on")]


class Motion(Table):
    """A motion rig that takes a pulse as the order for its next move."""

    pin: Pin
    active: Level = "high"
    after_s: Annotated[Number, Field(ge=0, le=10, description="from the end of the exposure to the pulse")] = 0.1
    pulse_s: Annotated[Number, Field(ge=0.001, le=60, description="how long the pulse lasts")] = 0.2
    settle_s: Annotated[Number, Field(ge=0, le=600, description="from the pulse's end until the camera stands still")]

    @property
    def needs_s(self) -> float:
        """From the end of an exposure until the next may begin, seconds."""
        return self.after_s + self.pulse_s + self.settle_s


class Trigger(Table):
    """An input on which each pulse asks for a frame, for plans with the pace `pulse`."""

    pin: Pin
    edge: Annotated[Literal["falling", "rising"], Field(description="with which a pulse begins")] = "falling"
    pull: Annotated[Literal["up", "down", "none"], Field(description="the resistor on the rig's side")] = "up"
    bounce_s: Annotated[Number, Field(ge=0, le=5, description="edges closer to another than that are none")] = 0.02


class WiredRelease(Table):
    """Focus and shutter contacts of the camera, closed through optocouplers."""

    shutter_pin: Pin
    focus_pin: Pin | None = None
    active: Level = "high"
    camera: Annotated[str, Field(pattern=r"^camera-[1-9][0-9]?$", description="whose contacts they are")] = "camera-1"
    use: Annotated[Literal["fallback", "first"], Field(description="after the camera's own release, or before it")] = (
        "fallback"
    )
    lead_s: Annotated[Number, Field(ge=0, le=2, description="the focus contact closes before the shutter's")] = 0.05
    hold_s: Annotated[Number, Field(ge=0.01, le=2, description="how long the shutter contact is closed")] = 0.1


class DewHeater(Table):
    """A heater on a relay, and a sensor that tells when it is wanted."""

    pin: Pin
    active: Level = "high"
    sensor_command: Annotated[
        tuple[Annotated[str, Field(min_length=1)], ...] | None,
        Field(min_length=1, max_length=50, description="a program and its words; it prints °C and % relative humidity"),
    ] = None
    sensor_file: Annotated[str, Field(min_length=1, description="a file that holds the same")] | None = None
    margin_c: Annotated[Number, Field(ge=0, le=20, description="above the dew point, below which it heats")] = 3.0
    hysteresis_c: Annotated[Number, Field(ge=0.1, le=10, description="beyond the margin, above which it stops")] = 1.0
    min_on_s: Annotated[Number, Field(ge=0, le=3600, description="heats so long at least")] = 60.0
    min_off_s: Annotated[Number, Field(ge=0, le=3600, description="rests so long at least")] = 60.0
    every_s: Annotated[Number, Field(ge=1, le=600, description="between two readings")] = 30.0
    silent_s: Annotated[Number, Field(ge=10, le=3600, description="without a reading, after which it is off")] = 300.0

    @model_validator(mode="after")
    def _sense(self) -> Self:
        if self.sensor_command is None and self.sensor_file is None:
            refuse("sensor_command", "no sensor is named", 'Add sensor_command = ["PROGRAM"], or sensor_file = "FILE"')
        if self.sensor_command is not None and self.sensor_file is not None:
            refuse("sensor_file", "two sensors are named", "Keep sensor_command or sensor_file")
        if self.sensor_file is not None and not self.sensor_file.startswith("/"):
            refuse("sensor_file", f"{shown(self.sensor_file)} does not begin with /", "Give its whole path")
        if self.silent_s <= self.every_s:
            what = f"{self.silent_s:g} s is not longer than every_s, {self.every_s:g} s"
            refuse("silent_s", what, "Use several times every_s, so that one bad reading changes nothing")
        return self


class Wiring(Table):
    """The whole document; a table that is left out is work that is not done."""

    motion: Motion | None = None
    trigger: Trigger | None = None
    wired_release: WiredRelease | None = None
    dew_heater: DewHeater | None = None
    messages: Messages | None = None

    @model_validator(mode="after")
    def _one_work_a_pin(self) -> Self:
        taken: dict[int, str] = {}
        for name in _TABLES:
            table = getattr(self, name)
            for key in ("pin", "shutter_pin", "focus_pin"):
                pin = getattr(table, key, None)
                if pin is not None and pin in taken:
                    refuse(f"{name}.{key}", f"pin {pin} is taken by {taken[pin]}", "Use another pin for one of them")
                if pin is not None:
                    taken[pin] = f"[{name}] {key}"
        return self

    @property
    def moves_s(self) -> float | None:
        """What a move takes from the end of an exposure, seconds; None where nothing moves the camera."""
        return None if self.motion is None else self.motion.needs_s

    @property
    def wants_pins(self) -> bool:
        """Whether there is anything to wire."""
        return any(getattr(self, name) is not None for name in _TABLES)


_TABLES: dict[str, type[Table]] = {
    "motion": Motion,
    "trigger": Trigger,
    "wired_release": WiredRelease,
    "dew_heater": DewHeater,
}


def read_wiring(text: str) -> Wiring:
    """From TOML. Raises BadInput (bad-wiring) with the first error: line, table and key, what, remedy."""
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BadInput("bad-wiring", f"not TOML: {error}", remedy=toml_remedy(text, str(error))) from None
    except (ValueError, RecursionError) as error:
        raise BadInput("bad-wiring", f"not TOML that can be read: {error}", remedy="Write plain tables") from None
    try:
        return Wiring.model_validate(document)
    except ValidationError as error:
        errors = error.errors(include_url=False)  # a key that is misspelt says more than that it is missing
        raise _refused(next((e for e in errors if e["type"] == "extra_forbidden"), errors[0]), text) from None


def _refused(error: Any, text: str) -> BadInput:
    place: tuple[str | int, ...] = tuple(error["loc"])
    cause = error.get("ctx", {}).get("error")
    if isinstance(cause, Sense):
        what, remedy = cause.what, cause.remedy
        place = (*place, *cause.key.split("."))
    elif error["type"] == "extra_forbidden":
        known = _known(place)
        near = plan_hints.nearest(str(place[-1]), known)
        what = "unknown table" if len(place) == 1 else "unknown key"
        remedy = f"Did you mean {near}?" if near else f"Known here: {', '.join(known)}"
    elif error["type"] == "string_pattern_mismatch":
        what, remedy = f"{shown(error['input'])} is no camera of a rig", 'Write camera = "camera-1"'
    elif error["type"] == "missing":
        what, remedy = "is missing", "Add it; docs/wiring.md lists every key"
    elif error["type"] in ("model_type", "model_attributes_type"):
        what, remedy = f"{shown(error['input'])} is no table", f"Write [{place[0]}], and its keys below it"
    elif place[-1] in ("pin", "shutter_pin", "focus_pin"):
        what, remedy = f"{shown(error['input'])} is no pin", "Use the processor's own number (BCM), 2 to 27"
    elif place[-1] == "sensor_command":
        what, remedy = f"{shown(error['input'])} cannot be used", 'Write sensor_command = ["PROGRAM", "WORD"]'
    else:
        what, remedy = plain(error)
    line = line_of(text, place)
    where = f"[{place[0]}]" + "".join(f" {part}" if isinstance(part, str) else f"[{part}]" for part in place[1:])
    return BadInput("bad-wiring", what, where if line is None else f"line {line}, {where}", remedy)


def _known(place: tuple[str | int, ...]) -> list[str]:
    """The keys where an unknown one stands."""
    tables: dict[str, type[Table]] = {**_TABLES, "messages": Messages}
    return list(tables if len(place) == 1 else tables[str(place[0])].model_fields)
