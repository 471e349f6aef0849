"""Pins that need no hardware."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from gpiozero import Device
from gpiozero.pins.mock import MockFactory


@pytest.fixture
def pins() -> Iterator[MockFactory]:
    """gpiozero's mock pins, in the place of the machine's."""
    before, Device.pin_factory = Device.pin_factory, MockFactory()
    try:
        yield Device.pin_factory
    finally:
        Device.pin_factory.reset()
        Device.pin_factory = before
