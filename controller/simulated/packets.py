"""PTP/IP packets on a TCP socket (CIPA DC-005): u32 length, u32 type, body."""

from __future__ import annotations

import socket
import struct
from enum import IntEnum

VERSION = 0x00010000
_LARGEST = 64 * 1024 * 1024


class Kind(IntEnum):
    INIT_COMMAND_REQUEST = 1
    INIT_COMMAND_ACK = 2
    INIT_EVENT_REQUEST = 3
    INIT_EVENT_ACK = 4
    INIT_FAIL = 5
    OPERATION_REQUEST = 6
    OPERATION_RESPONSE = 7
    EVENT = 8
    START_DATA = 9
    DATA = 10
    CANCEL = 11
    END_DATA = 12
    PING = 13
    PONG = 14


class Closed(Exception):
    """The peer has gone, or sent what is no PTP/IP packet."""


def tune(sock: socket.socket) -> None:
    """Answers leave at once."""
    sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    _acknowledge_at_once(sock)


def _acknowledge_at_once(sock: socket.socket) -> None:
    # The client writes a request and its data apart, with Nagle on: without an immediate ACK every set waits for
    # the kernel's delayed one, 40 ms. Linux clears the flag by itself, so it is set again at each receive.
    sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_QUICKACK, 1)


def _receive(sock: socket.socket, size: int) -> bytes:
    data = bytearray()
    while len(data) < size:
        try:
            chunk = sock.recv(min(size - len(data), 1 << 16))
            if chunk:
                _acknowledge_at_once(sock)
        except OSError as error:
            raise Closed(str(error)) from error
        if not chunk:
            raise Closed("closed by the peer")
        data += chunk
    return bytes(data)


def receive(sock: socket.socket) -> tuple[int, bytes]:
    """The next packet's type and body; raises Closed."""
    length, kind = struct.unpack("<II", _receive(sock, 8))
    if not 8 <= length <= _LARGEST:
        raise Closed(f"a packet of {length} bytes")
    return kind, _receive(sock, length - 8)


def packet(kind: Kind, body: bytes = b"") -> bytes:
    return struct.pack("<II", 8 + len(body), kind) + body


def init_ack(connection: int, guid: bytes, name: str) -> bytes:
    body = struct.pack("<I", connection) + guid + name.encode("utf-16-le") + b"\0\0" + struct.pack("<I", VERSION)
    return packet(Kind.INIT_COMMAND_ACK, body)


def response(code: int, transaction: int, params: tuple[int, ...] = ()) -> bytes:
    return packet(Kind.OPERATION_RESPONSE, struct.pack(f"<HI{len(params)}I", code, transaction, *params))


def event(code: int, transaction: int, params: tuple[int, ...] = ()) -> bytes:
    return packet(Kind.EVENT, struct.pack(f"<HI{len(params)}I", code, transaction, *params))


def data_phase(transaction: int, data: bytes) -> bytes:
    """The packets that carry a data set to the initiator: start, then all of it in the end packet."""
    start = packet(Kind.START_DATA, struct.pack("<IQ", transaction, len(data)))
    return start + packet(Kind.END_DATA, struct.pack("<I", transaction) + data)
