"""The operations of a body that poses as a Nikon, as libgphoto2's own code for that maker asks for them."""

from __future__ import annotations

import struct
from collections.abc import Callable

from controller.simulated.body import Refused
from controller.simulated.operations import Answer, Request
from controller.simulated.properties import Prop
from controller.simulated.ptp import Operation, Response
from controller.simulated.stops import BULB

_LIVE_VIEW_HEADER = 384
"""Bytes before the JPEG of a live-view image; libgphoto2 looks for the JPEG's own first bytes."""


def _change_mode(_: Request) -> Answer:
    return Answer()


def _check_event(request: Request) -> Answer:
    """All events since the last question: u16 count, then u16 code and u32 parameter each."""
    told = request.body.take_events()
    pairs = b"".join(struct.pack("<HI", code, params[0] if params else 0) for code, params in told)
    return Answer(struct.pack("<H", len(told)) + pairs)


def _device_ready(request: Request) -> Answer:
    if request.body.exposing and not request.body.open:
        raise Refused(Response.DEVICE_BUSY)
    return Answer()


def _capture(request: Request) -> Answer:
    bulb = request.body.get(Prop.EXPOSURE_TIME) == BULB
    request.body.release(bulb=bulb, flaws=request.flaws)
    return Answer()


def _terminate(request: Request) -> Answer:
    request.body.close_shutter()
    return Answer()


def _start_live_view(request: Request) -> Answer:
    if request.body.exposing:
        raise Refused(Response.DEVICE_BUSY)
    request.body.live_view = True
    return Answer()


def _end_live_view(request: Request) -> Answer:
    request.body.live_view = False
    return Answer()


def _live_view_image(request: Request) -> Answer:
    if not request.body.live_view:
        raise Refused(Response.NIKON_NOT_LIVE_VIEW)
    return Answer(bytes(_LIVE_VIEW_HEADER) + request.body.eye.live(request.body.clock.utc()))


HANDLERS: dict[int, Callable[[Request], Answer]] = {
    Operation.NIKON_CHANGE_CAMERA_MODE: _change_mode,
    Operation.NIKON_CHECK_EVENT: _check_event,
    Operation.NIKON_DEVICE_READY: _device_ready,
    Operation.NIKON_CAPTURE_TO_MEDIA: _capture,
    Operation.NIKON_TERMINATE_CAPTURE: _terminate,
    Operation.NIKON_START_LIVE_VIEW: _start_live_view,
    Operation.NIKON_END_LIVE_VIEW: _end_live_view,
    Operation.NIKON_LIVE_VIEW_IMAGE: _live_view_image,
}
