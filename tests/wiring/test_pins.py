"""Single pins, on gpiozero's mock pins."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest
from gpiozero import OutputDevice

from controller.decide.wiring import Trigger
from controller.wiring.pins import Input, Output, require_gpiozero
from controller.words.errors import BadInput, WiringError


@pytest.mark.parametrize(("active", "on", "off"), [("high", 1, 0), ("low", 0, 1)])
def test_an_output_is_off_until_it_is_switched_on(pins, active, on, off):
    output = Output(17, active, "motion")
    output.open()
    assert pins.pin(17).state == off
    output.switch(True)
    assert pins.pin(17).state == on
    output.switch(False)
    assert pins.pin(17).state == off


def test_it_is_off_before_it_is_let_go(pins):
    output = Output(17, "high", "motion")
    output.switch(True)
    pins.pin(17).clear_states()
    output.close()
    assert [state.state for state in pins.pin(17).states][-1] == 0
    OutputDevice(17).close()  # free again


def test_a_pin_that_is_taken_is_told_and_used_once_it_is_free(pins):
    other = OutputDevice(17)
    output = Output(17, "high", "motion")
    with pytest.raises(WiringError) as failure:
        output.switch(True)
    error = failure.value
    assert (error.code, error.where, error.retryable) == ("pin-failed", "rig.toml, [motion]", True)
    assert error.remedy
    assert "\n" not in str(error)
    other.close()
    output.switch(True)
    assert pins.pin(17).state == 1


def test_a_pin_that_breaks_while_it_is_used(pins, monkeypatch):
    output = Output(17, "high", "motion")
    output.open()

    def broken(self, value):
        raise OSError("the line is gone")

    with monkeypatch.context() as patch:
        patch.setattr(type(pins.pin(17)), "_set_state", broken)
        with pytest.raises(WiringError, match="the line is gone"):
            output.switch(True)
    output.switch(True)
    assert pins.pin(17).state == 1


def test_a_machine_without_pins(monkeypatch):
    """As on any computer that is no Pi: gpiozero finds no way to the pins, and says so."""
    from gpiozero import Device

    monkeypatch.setattr(Device, "pin_factory", None)
    with pytest.raises(WiringError, match="pin 17 cannot be used"):
        Output(17, "high", "motion").open()
    with pytest.raises(WiringError, match="pin 17 cannot be listened to"):
        Input(Trigger(pin=17), lambda at, active: None).open()


def test_the_library_beneath_has_a_place_of_its_own_and_the_process_stays_where_it_was(monkeypatch, tmp_path):
    """lgpio 0.2.2 makes a pipe in LG_WD, and goes there with the whole process (seen with its wheel for x86-64)."""
    from gpiozero import Device
    from gpiozero.pins.mock import MockFactory

    seen: list[str] = []

    def as_lgpio_does() -> None:
        if Device.pin_factory is not None:
            return
        seen.append(os.environ["LG_WD"])
        os.chdir(os.environ["LG_WD"])
        Device.pin_factory = MockFactory()

    monkeypatch.setattr(Device, "pin_factory", None)
    monkeypatch.setattr(Device, "ensure_pin_factory", staticmethod(as_lgpio_does))
    monkeypatch.setenv("LG_WD", "/nowhere")
    monkeypatch.chdir(tmp_path)
    Output(17, "high", "motion").open()
    assert Path.cwd() == tmp_path
    (place,) = seen
    assert place != "/nowhere"
    assert Path(place).is_dir()


def test_without_the_library_the_document_is_refused(monkeypatch):
    monkeypatch.setitem(sys.modules, "gpiozero", None)
    with pytest.raises(BadInput) as refusal:
        require_gpiozero("/rig/rig.toml")
    assert refusal.value.code == "no-gpio"
    assert "pip install" in refusal.value.remedy


@pytest.mark.parametrize("pull", ["up", "down", "none"])
@pytest.mark.parametrize("edge", ["falling", "rising"])
def test_the_edge_that_was_asked_for_is_the_active_one(pins, pull, edge):
    heard: list[bool] = []
    pin = pins.pin(27)
    if pull == "none":
        pin.drive_low() if edge == "rising" else pin.drive_high()
    listening = Input(Trigger(pin=27, edge=edge, pull=pull), lambda at, active: heard.append(active))
    listening.open()
    if edge == "rising":
        pin.drive_low()
        heard.clear()
        pin.drive_high()
        pin.drive_low()
    else:
        pin.drive_high()
        heard.clear()
        pin.drive_low()
        pin.drive_high()
    assert heard == [True, False]
    listening.close()
    listening.open()
    listening.close()
