"""The operations of a body that poses as a Canon EOS, as libgphoto2's own code for that maker asks for them.

Such a body tells everything as events, which are asked for: files, and the value and choices of each setting when they
are first wanted and whenever they change. It is released by a button that the host presses half or fully.
"""

from __future__ import annotations

import struct
from collections.abc import Callable

from controller.simulated import eos
from controller.simulated.body import Body, Refused
from controller.simulated.operations import HANDLERS as STANDARD
from controller.simulated.operations import Answer, Request, format_of
from controller.simulated.properties import HOST, Prop
from controller.simulated.ptp import Event, Operation, Response
from controller.simulated.stops import BULB

FULLY = 2
"""The bit of a press that releases; 1 is half way."""


def _done(_: Request) -> Answer:
    return Answer()


# ---- what it tells


def _remote_mode(request: Request) -> Answer:
    request.body.button = 0  # a host that is gone holds it no more
    return Answer()


def _event_mode(request: Request) -> Answer:
    for code in eos.Code:
        request.body.tell(Event.CANON_VALUE, [code])
        request.body.tell(Event.CANON_CHOICES, [code])
    return Answer()


def _events(request: Request) -> Answer:
    """All events since the last question, each with its length and its kind."""
    told = request.body.take_events()
    return Answer(b"".join(_in_full(request.body, code, *params) for code, params in told) + eos.END)


def _in_full(body: Body, code: int, param: int = 0, *_: int) -> bytes:
    match code:
        case Event.CANON_VALUE:
            return eos.value_event(body, eos.Code(param))
        case Event.CANON_CHOICES:
            return eos.choices_event(body, eos.Code(param))
        case Event.OBJECT_ADDED if entry := body.card.find(param):
            return eos.object_event(entry, format_of(entry)) + eos.value_event(body, eos.Code.SHOTS_LEFT)
        case Event.DEVICE_PROP_CHANGED:
            return b"".join(eos.value_event(body, each) for each in eos.codes_of(Prop(param)))
    return b""  # it has no word for the others


# ---- settings


def _code(number: int) -> eos.Code:
    try:
        return eos.Code(number)
    except ValueError as error:
        raise Refused(Response.DEVICE_PROP_NOT_SUPPORTED) from error


def _set(request: Request) -> Answer:
    """Length, property and value."""
    body = request.body
    try:
        code = _code(struct.unpack_from("<II", request.data)[1])
        eos.take(body, code, request.data[8:])
    except struct.error as error:
        raise Refused(Response.INVALID_DEVICE_PROP_FORMAT) from error
    except KeyError as error:
        raise Refused(Response.ACCESS_DENIED) from error
    body.live_view = bool(body.get(Prop.CANON_VIEW))
    changed = [eos.Code.SHUTTER, eos.Code.APERTURE] if code is eos.Code.EXPOSURE_MODE else []
    for each in (code, *changed):
        body.tell(Event.CANON_VALUE, [each])
    return Answer()


def _ask_for(request: Request) -> Answer:
    request.body.tell(Event.CANON_VALUE, [_code(request.param(0))])
    return Answer()


# ---- the button and the shutter


def _press(request: Request) -> Answer:
    body, held = request.body, request.body.button
    if request.param(0) & FULLY and not held & FULLY:
        _release(request, bulb=body.get(Prop.EXPOSURE_TIME) == BULB)
    body.button |= request.param(0)
    return Answer()


def _let_go(request: Request) -> Answer:
    body = request.body
    body.button &= ~request.param(0)
    if body.open and not body.button & FULLY:
        body.close_shutter()
    return Answer()


def _release(request: Request, bulb: bool = False) -> None:
    to_host = request.body.get(Prop.CANON_TARGET) == HOST
    request.body.release(bulb=bulb, flaws=request.flaws | ({"to host"} if to_host else set()))


def _bulb_start(request: Request) -> Answer:
    _release(request, bulb=True)
    return Answer()


def _bulb_end(request: Request) -> Answer:
    request.body.close_shutter()
    return Answer()


# ---- live view


def _view_off(request: Request) -> Answer:
    request.body.set(Prop.CANON_VIEW, 0)
    request.body.live_view = False
    request.body.tell(Event.CANON_VALUE, [eos.Code.VIEW])  # the library goes by what it was told last
    return Answer()


def _view(request: Request) -> Answer:
    """Pieces, each with its length and its kind; the picture is of kind 1."""
    if not request.body.live_view:
        raise Refused(Response.CANON_NOT_READY)
    jpeg = request.body.eye.live(request.body.clock.utc())
    return Answer(struct.pack("<II", 8 + len(jpeg), 1) + jpeg)


HANDLERS: dict[int, Callable[[Request], Answer]] = {
    Operation.CANON_GET_STORAGE_IDS: STANDARD[Operation.GET_STORAGE_IDS],
    Operation.CANON_GET_STORAGE_INFO: STANDARD[Operation.GET_STORAGE_INFO],
    Operation.CANON_SET_PROP_VALUE: _set,
    Operation.CANON_SET_REMOTE_MODE: _remote_mode,
    Operation.CANON_SET_EVENT_MODE: _event_mode,
    Operation.CANON_GET_EVENT: _events,
    Operation.CANON_HOST_CAPACITY: _done,
    Operation.CANON_KEEP_DEVICE_ON: _done,
    Operation.CANON_BULB_START: _bulb_start,
    Operation.CANON_BULB_END: _bulb_end,
    Operation.CANON_REQUEST_PROP_VALUE: _ask_for,
    Operation.CANON_REMOTE_RELEASE_ON: _press,
    Operation.CANON_REMOTE_RELEASE_OFF: _let_go,
    Operation.CANON_TERMINATE_VIEWFINDER: _view_off,
    Operation.CANON_VIEWFINDER_DATA: _view,
}
