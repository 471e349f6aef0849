"""Shutter, aperture and ISO of the body: its own texts, the true values behind them, and setting them with proof."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from controller.camera.messages import Release, Settled
from controller.camera.worker import widgets
from controller.camera.worker.faults import Fault, Kind
from controller.camera.worker.session import Session, choices_of
from controller.camera.worker.timing import READ_AGAIN_S, READ_TRIES
from controller.words import stops
from controller.words.no_number import NoNumber

_SAME_EV = 1 / 8  # two values closer than this are one stop of the dial


def as_kept(order: Release, told: Settled | None) -> Release:
    """The order with the time that the body will really expose, where it kept another than was asked for."""
    if told is None or told.seq != order.seq:
        return order
    share = told.shutter_s / order.shutter_s
    return replace(order, shutter_s=told.shutter_s, exposure_s=order.exposure_s * share)


class Dial:
    """One control. `choices` maps true values to the body's texts; `now` is the true value in force, None if unknown.

    `name` is None where the body has no such control, as a lens without contacts has no aperture.
    """

    def __init__(
        self, names: tuple[str, ...], parse: Callable[[str], float | None], true: Callable[[list[float]], list[float]]
    ) -> None:
        self._names, self._parse, self._true = names, parse, true
        self.name: str | None = None
        self.choices: dict[float, str] = {}
        self.now: float | None = None
        self.bulb: str | None = None  # the body's text for a shutter that is held open
        self._widget: Any = None
        self._count = -1

    def read(self, session: Session) -> None:
        """Take the present value, and the choices where they have changed; raises Fault."""
        found = session.widget((self.name,) if self.name else self._names)
        if found is None:
            return
        self.name, self._widget = found
        texts = choices_of(self._widget)
        if len(texts) != self._count:
            self._count = len(texts)
            self.choices = self._values(texts)
            self.bulb = next((text for text in texts if text.strip().lower() == NoNumber.BULB), None)
        self.now = self._value(str(self._widget.get_value()))

    def _values(self, texts: list[str]) -> dict[float, str]:
        nominal = {text: value for text in texts if (value := self._parse(text)) is not None}
        values: dict[float, str] = {}
        for text, value in zip(nominal, self._true(list(nominal.values())), strict=True):
            values.setdefault(value, text)
        return dict(sorted(values.items()))

    def _value(self, text: str) -> float | None:
        for value, choice in self.choices.items():
            if choice == text:
                return value
        nominal = self._parse(text)
        return None if nominal is None else self._true([nominal])[0]

    def set(self, session: Session, wanted: float) -> None:
        """Set the choice nearest to `wanted` and read it back; raises Fault where the body keeps another."""
        if self.name is None or not self.choices:
            return
        value = min(self.choices, key=lambda choice: abs(math.log2(choice / wanted)))
        self._write(session, self.choices[value], lambda: self._stands_at(value))

    def set_bulb(self, session: Session) -> None:
        """Let the shutter stay open for as long as it is held; raises Fault where the body keeps another value."""
        if self.bulb is not None:
            self._write(session, self.bulb, lambda: str(self._widget.get_value()) == self.bulb)

    def _write(self, session: Session, text: str, stands: Callable[[], bool]) -> None:
        if self.name is None or stands():
            return
        try:
            session.write(self.name, self._widget, text)
        except Fault:
            self._count = -1  # the choices may be others now
            raise
        for _ in range(READ_TRIES):
            self.read(session)
            if stands():
                return
            time.sleep(READ_AGAIN_S)
        shows = self._widget.get_value()
        raise Fault(f"setting {self.name}", 0, f"asked for {text}, shows {shows}", Kind.REFUSED)

    def _stands_at(self, value: float) -> bool:
        return self.now is not None and abs(math.log2(self.now / value)) < _SAME_EV


class Exposure:
    """The three dials. `stale` says that the body told of a change which was not read yet."""

    def __init__(self) -> None:
        self.shutter = Dial(widgets.SHUTTER, stops.parse_shutter, stops.true_shutters)
        self.aperture = Dial(widgets.APERTURE, stops.parse_aperture, lambda values: [*map(stops.true_aperture, values)])
        self.iso = Dial(widgets.ISO, stops.parse_iso, lambda values: [*map(stops.true_iso, values)])
        self.bulb = False  # whether the shutter can be held open for times that are on no dial
        self.stale = True

    def read(self, session: Session) -> None:
        for dial in (self.shutter, self.aperture, self.iso):
            dial.read(session)
        self.bulb = self.shutter.bulb is not None and session.can_hold_open()
        self.stale = False

    def settle(self, session: Session, order: Release, bulb: bool = False) -> tuple[Settled, Fault | None]:
        """Set what the order asks for; with what is now in force comes the first refusal. Raises Fault if busy or lost.

        `bulb`: the shutter will be held open, so that no time of the dial is set.

        A refusal does not cost the frame: it is taken with what the body has.
        """
        begun = time.monotonic()
        if self.stale:
            self.read(session)
        refusal: Fault | None = None
        for dial, wanted in (
            (self.shutter, order.shutter_s),
            (self.aperture, order.aperture),
            (self.iso, order.iso),
        ):
            if wanted <= 0:
                continue
            try:
                if bulb and dial is self.shutter:
                    dial.set_bulb(session)
                else:
                    dial.set(session, wanted)
            except Fault as fault:
                if fault.kind in (Kind.BUSY, Kind.LOST):
                    raise
                refusal = refusal or fault
        settled = Settled(
            seq=order.seq,
            shutter_s=(None if bulb else self.shutter.now) or order.shutter_s,
            aperture=self.aperture.now,
            iso=self.iso.now or order.iso,
            took_s=time.monotonic() - begun,
        )
        return settled, refusal
