"""What each PTP operation does: one function each, looked up by code."""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime

from controller.simulated.body import Body, Refused
from controller.simulated.card import STORAGE_ID, Entry
from controller.simulated.exif import MAKE, MODEL, thumbnail_of
from controller.simulated.properties import Prop
from controller.simulated.ptp import (
    Event,
    Format,
    Operation,
    Response,
    array,
    pack_value,
    prop_desc,
    string,
    unpack_value,
)

Params = tuple[int, ...]


@dataclass(frozen=True)
class Answer:
    """A response with its parameters, and the data set that goes before it (None: the operation has none)."""

    data: bytes | None = None
    params: Params = ()


@dataclass
class Request:
    body: Body
    params: Params
    data: bytes
    flaws: frozenset[str] = frozenset()

    def param(self, index: int) -> int:
        """The parameter, 0 where the initiator left it out."""
        return self.params[index] if index < len(self.params) else 0


def _device_info(request: Request) -> Answer:
    maker = request.body.maker
    lists: list[Iterable[int]] = [
        [operation for operation in Operation if maker.has(operation)],
        [event for event in Event if event < 0x8000],
        request.body.specs if maker.standard else (),
        [Format.EXIF_JPEG],
        [Format.EXIF_JPEG, Format.DNG],
    ]
    data = struct.pack("<HIH", 100, maker.vendor_id, 100 if maker.vendor_id else 0) + string("") + struct.pack("<H", 0)
    data += b"".join(array("H", [int(v) for v in values]) for values in lists)
    return Answer(data + string(MAKE) + string(MODEL) + string("1.0") + string("DH-0001"))


def _storage_ids(request: Request) -> Answer:
    return Answer(array("I", [STORAGE_ID]))


def _storage_info(request: Request) -> Answer:
    if request.param(0) != STORAGE_ID:
        raise Refused(Response.INVALID_STORAGE_ID)
    card = request.body.card
    # removable RAM, DCF, read-write
    data = struct.pack("<HHHQQI", 4, 3, 0, card.capacity, card.free, card.free_images)
    return Answer(data + string("Card") + string("DUSKHAND"))


def _listed(request: Request) -> list[Entry]:
    storage, wanted, parent = (request.param(i) for i in range(3))
    if storage not in (STORAGE_ID, 0xFFFFFFFF):
        raise Refused(Response.INVALID_STORAGE_ID)
    entries = request.body.card.list(None if parent == 0 else 0 if parent == 0xFFFFFFFF else parent)
    return [e for e in entries if not wanted or format_of(e) == wanted]


def _num_objects(request: Request) -> Answer:
    return Answer(params=(len(_listed(request)),))


def _object_handles(request: Request) -> Answer:
    return Answer(array("I", [e.handle for e in _listed(request)]))


def format_of(entry: Entry) -> Format:
    if entry.size is None:
        return Format.ASSOCIATION
    return Format.EXIF_JPEG if entry.path.suffix == ".JPG" else Format.DNG


def _object(request: Request) -> Entry:
    entry = request.body.card.find(request.param(0))
    if entry is None:
        raise Refused(Response.INVALID_OBJECT_HANDLE)
    return entry


def _file(request: Request) -> Entry:
    entry = _object(request)
    if entry.size is None:
        raise Refused(Response.INVALID_OBJECT_HANDLE)
    return entry


def _object_info(request: Request) -> Answer:
    entry = _object(request)
    folder = entry.size is None
    taken = datetime.fromtimestamp(entry.mtime, UTC).strftime("%Y%m%dT%H%M%S")
    # A raw file must name a thumbnail format too, or libgphoto2 will not download it.
    thumb = (0, 0, 0, 0) if folder else (Format.EXIF_JPEG, len(thumbnail_of(entry.path) or b""), 160, 120)
    data = struct.pack("<IHHI", STORAGE_ID, format_of(entry), 0, entry.size or 0)
    data += struct.pack("<HIII", *thumb)
    width, height = (0, 0) if folder else request.body.eye.size
    data += struct.pack("<III", width, height, 0 if folder else 24)
    data += struct.pack("<IHII", entry.parent, 1 if folder else 0, 0, 0)
    return Answer(data + string(entry.path.name) + string(taken) + string(taken) + string(""))


def _get_object(request: Request) -> Answer:
    return Answer(_file(request).path.read_bytes())


def _partial_object(request: Request) -> Answer:
    with _file(request).path.open("rb") as source:
        source.seek(request.param(1))
        data = source.read(request.param(2))
    return Answer(data, (len(data),))


def _thumb(request: Request) -> Answer:
    thumbnail = thumbnail_of(_file(request).path)
    if thumbnail is None:
        raise Refused(Response.NO_THUMBNAIL_PRESENT)
    return Answer(thumbnail)


def _delete(request: Request) -> Answer:
    card = request.body.card
    if request.param(0) == 0xFFFFFFFF:
        for entry in card.list():
            if entry.size is not None:
                card.delete(entry)
    else:
        card.delete(_file(request))
    return Answer()


def _capture(request: Request) -> Answer:
    request.body.release(flaws=request.flaws)
    return Answer()


def _open_capture(request: Request) -> Answer:
    request.body.release(bulb=True, flaws=request.flaws)
    return Answer()


def _end_capture(request: Request) -> Answer:
    request.body.close_shutter()
    return Answer()


def _prop(request: Request) -> Prop:
    if request.param(0) not in request.body.specs:
        raise Refused(Response.DEVICE_PROP_NOT_SUPPORTED)
    return Prop(request.param(0))


def _prop_desc(request: Request) -> Answer:
    prop = _prop(request)
    spec = request.body.specs[prop]
    current = request.body.get(prop)
    return Answer(prop_desc(prop, spec.kind, spec.writable, spec.default, current, spec.form))


def _prop_value(request: Request) -> Answer:
    prop = _prop(request)
    return Answer(pack_value(request.body.specs[prop].kind, request.body.get(prop)))


def _set_prop(request: Request) -> Answer:
    prop = _prop(request)
    try:
        value = unpack_value(request.body.specs[prop].kind, request.data)
    except ValueError as error:
        raise Refused(Response.INVALID_DEVICE_PROP_FORMAT) from error
    request.body.set(prop, value)
    return Answer()


def _stream_info(request: Request) -> Answer:
    # PTP 1.1: data set size, time resolution, frame header, largest frame, packet header, largest packet, alignment
    return Answer(struct.pack("<QQIIIII", 36, 40_000_000, 0, 1 << 20, 0, 1 << 20, 1))


def _stream(request: Request) -> Answer:
    return Answer(request.body.eye.live(request.body.clock.utc()))


HANDLERS: dict[int, Callable[[Request], Answer]] = {
    Operation.GET_DEVICE_INFO: _device_info,
    Operation.GET_STORAGE_IDS: _storage_ids,
    Operation.GET_STORAGE_INFO: _storage_info,
    Operation.GET_NUM_OBJECTS: _num_objects,
    Operation.GET_OBJECT_HANDLES: _object_handles,
    Operation.GET_OBJECT_INFO: _object_info,
    Operation.GET_OBJECT: _get_object,
    Operation.GET_PARTIAL_OBJECT: _partial_object,
    Operation.GET_THUMB: _thumb,
    Operation.DELETE_OBJECT: _delete,
    Operation.INITIATE_CAPTURE: _capture,
    Operation.INITIATE_OPEN_CAPTURE: _open_capture,
    Operation.TERMINATE_OPEN_CAPTURE: _end_capture,
    Operation.GET_DEVICE_PROP_DESC: _prop_desc,
    Operation.GET_DEVICE_PROP_VALUE: _prop_value,
    Operation.SET_DEVICE_PROP_VALUE: _set_prop,
    Operation.GET_STREAM_INFO: _stream_info,
    Operation.GET_STREAM: _stream,
}
