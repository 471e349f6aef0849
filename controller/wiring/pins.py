"""Single pins. Whatever goes wrong with one is a WiringError; a pin that failed is opened anew at its next use."""

from __future__ import annotations

import atexit
import contextlib
import shutil
import tempfile
import time
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

from controller.decide.wiring import Trigger
from controller.words.errors import BadInput, WiringError
from controller.words.pins import gpiozero_with_pins

REMEDY = "See that the pin is free, that this user is in the group gpio, and that lgpio is installed"


def require_gpiozero(document: str) -> None:
    """Raise BadInput (no-gpio) where a document asks for pins and the library is not installed."""
    try:
        import gpiozero  # noqa: F401
    except ImportError as error:
        what = f"it names pins, and gpiozero cannot be loaded: {error}"
        raise BadInput("no-gpio", what, document, "Run .venv/bin/pip install '.[gpio]', or remove it") from error


@cache
def _own_directory() -> Path:
    """The process's, gone when it ends in good order."""
    directory = Path(tempfile.mkdtemp(prefix="duskhand-pins-"))
    atexit.register(shutil.rmtree, directory, ignore_errors=True)
    return directory


def _devices() -> Any:
    """gpiozero, its way to the pins found; raises what it raises."""
    return gpiozero_with_pins(_own_directory())


class Output:
    """A pin that switches something on at its active level, and has it off until then."""

    def __init__(self, pin: int, active: str, name: str) -> None:
        self.pin, self.name = pin, name
        self._high = active == "high"
        self._device: Any = None

    def open(self) -> None:
        """Take the pin, switched off. Raises WiringError."""
        if self._device is None:
            self._device = self._tried(
                lambda: _devices().OutputDevice(self.pin, active_high=self._high, initial_value=False)
            )

    def switch(self, on: bool) -> None:
        """Raises WiringError."""
        self.open()
        self._tried(self._device.on if on else self._device.off)

    def close(self) -> None:
        """Switch it off and let it go. Raises WiringError where it may still be on."""
        if self._device is not None:
            try:
                self.switch(False)
            finally:
                self._let_go()

    def _tried(self, call: Callable[[], Any]) -> Any:
        try:
            return call()
        except Exception as error:  # each way to the pins has errors of its own
            self._let_go()
            what = f"pin {self.pin} cannot be used: {error or type(error).__name__}"
            raise WiringError("pin-failed", what, f"rig.toml, [{self.name}]", REMEDY, retryable=True) from error

    def _let_go(self) -> None:
        device, self._device = self._device, None
        if device is not None:
            with contextlib.suppress(Exception):  # it has failed already, and that is told
                device.close()


class Input:
    """A pin on which edges are heard. `heard` is called with CLOCK_MONOTONIC and whether the pin is at its active
    level, from a thread of gpiozero's."""

    def __init__(self, rule: Trigger, heard: Callable[[float, bool], None]) -> None:
        self._rule, self._heard = rule, heard
        self._device: Any = None

    def open(self) -> None:
        """Begin to listen. Raises WiringError."""
        if self._device is not None:
            return
        rule = self._rule
        try:
            made = _devices().DigitalInputDevice
            if rule.pull == "none":
                device = made(rule.pin, pull_up=None, active_state=True)
            else:
                device = made(rule.pin, pull_up=rule.pull == "up")
            at_high = rule.pull != "up"  # whether gpiozero calls the high level active
            begins = (rule.edge == "rising") == at_high
            device.when_activated = lambda: self._heard(time.monotonic(), begins)
            device.when_deactivated = lambda: self._heard(time.monotonic(), not begins)
        except Exception as error:
            what = f"pin {rule.pin} cannot be listened to: {error or type(error).__name__}"
            raise WiringError("pin-failed", what, "rig.toml, [trigger]", REMEDY, retryable=True) from error
        self._device = device

    def close(self) -> None:
        if self._device is not None:
            self._device.close()
            self._device = None
