"""The body's settings for people: read one control at a time between releases, changed by the body's own text."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from typing import Any

import gphoto2 as gp

from controller.camera.messages import AskSettings, ChangeSetting, SettingShown, Shown
from controller.camera.worker.faults import Fault, Kind, plain
from controller.camera.worker.session import Session, choices_of
from controller.camera.worker.timing import READ_AGAIN_S, READ_TRIES
from controller.camera.worker.widgets import SETTINGS

_TOGGLE = ("Off", "On")
_NOW = "now"
_CLOCK_S = 3  # bodies count whole seconds, and the library answers from memory for two


class Reading:
    """Reads the settings that were asked for; `step` until it gives the answer."""

    kind = "setting"

    def __init__(self, question: AskSettings) -> None:
        self._request = question.request
        self._names = [name for name in question.names or SETTINGS if name in SETTINGS]
        self._shown: list[SettingShown] = []

    def step(self, session: Session) -> Shown | None:
        """Read one control more; what the body will not show counts as absent. Raises Fault if busy or lost."""
        if self._names:
            shown = _shown_or_none(session, self._names[0])
            self._names.pop(0)
            if shown is not None:
                self._shown.append(shown)
        return None if self._names else Shown(self._request, self._shown)


class Change:
    """Sets one control and reads it back."""

    kind = "change"

    def __init__(self, order: ChangeSetting) -> None:
        self._order = order
        self.clock_s: float | None = None  # the body's clock, where it was set

    def step(self, session: Session) -> Shown:
        """Do it. What the body refuses stands in the answer; raises Fault if busy or lost."""
        order = self._order
        found = session.widget(SETTINGS.get(order.setting, ()))
        if found is None:
            return Shown(order.request, [], "the camera has no such control")
        name, widget = found
        refusal = ""
        try:
            session.write(name, widget, _native(widget, order.value, order.ahead_s))
        except (Fault, ValueError, TypeError, gp.GPhoto2Error) as error:
            if isinstance(error, Fault) and error.kind in (Kind.LOST, Kind.BUSY):
                raise
            refusal = plain(error.reason) if isinstance(error, Fault) else f"it takes no {order.value!r}"
            refusal = refusal or "the camera refused"
        shown = _shown_or_none(session, order.setting)
        for _ in range(0 if refusal else READ_TRIES):
            if shown is None or _came_true(shown, order):
                break
            time.sleep(READ_AGAIN_S)
            shown = _shown_or_none(session, order.setting)
        if shown is None:
            return Shown(order.request, [], refusal or "the camera shows the control no more")
        if not refusal and not _came_true(shown, order):
            refusal = f"the camera keeps {shown.value}"
        if not refusal and order.setting == "clock":
            self.clock_s = time.time() + order.ahead_s
        return Shown(order.request, [shown], refusal)


def show(session: Session, setting: str) -> SettingShown | None:
    """The setting as the body shows it now; None where it has no control for it. Raises Fault."""
    found = session.widget(SETTINGS[setting])
    if found is None:
        return None
    name, widget = found
    kind, value = widget.get_type(), widget.get_value()
    if kind == gp.GP_WIDGET_TOGGLE:
        text, choices = (_TOGGLE[value] if value in (0, 1) else ""), list(_TOGGLE)
    elif kind == gp.GP_WIDGET_RANGE:
        text, choices = f"{value:g}", []
    elif kind == gp.GP_WIDGET_DATE:
        text, choices = _utc(value), [_NOW]
    else:
        text, choices = "" if value is None else str(value), choices_of(widget)
    return SettingShown(setting, name, text, choices, not widget.get_readonly())


def _shown_or_none(session: Session, setting: str) -> SettingShown | None:
    """As `show`, but a control that the body will not show counts as absent; raises Fault if busy or lost."""
    try:
        return show(session, setting)
    except Fault as fault:
        if fault.kind in (Kind.LOST, Kind.BUSY):
            raise
        return None


def _utc(posix_s: float) -> str:
    """A date as text; empty where the body told none."""
    try:
        return f"{datetime.fromtimestamp(posix_s, UTC):%Y-%m-%dT%H:%M:%SZ}" if posix_s > 0 else ""
    except (OverflowError, ValueError, OSError):
        return ""


def _came_true(shown: SettingShown, order: ChangeSetting) -> bool:
    """Whether the body shows what it was set to; a clock goes on."""
    if shown.setting != "clock":
        return shown.value == order.value
    now_s = time.time() + order.ahead_s
    return shown.value in {_utc(now_s - late_s) for late_s in range(-1, _CLOCK_S + 1)}


def _native(widget: Any, text: str, ahead_s: float) -> Any:
    """The value as this kind of control takes it; raises ValueError."""
    match widget.get_type():
        case gp.GP_WIDGET_TOGGLE:
            return _TOGGLE.index(text)
        case gp.GP_WIDGET_RANGE:
            return float(text)
        case gp.GP_WIDGET_DATE:
            return round(time.time() + ahead_s)
        case _:
            return text
