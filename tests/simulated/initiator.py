"""A PTP/IP initiator written for these tests from CIPA DC-005, apart from the camera's own packet code."""

from __future__ import annotations

import socket
import struct
from typing import Self

INIT_COMMAND, INIT_COMMAND_ACK, INIT_EVENT, INIT_EVENT_ACK, INIT_FAIL = 1, 2, 3, 4, 5
REQUEST, RESPONSE, EVENT, START_DATA, DATA, END_DATA, PING, PONG = 6, 7, 8, 9, 10, 12, 13, 14


class Initiator:
    """Connects both sockets and opens a session unless told not to; every wait is bounded by `timeout` seconds."""

    def __init__(self, port: int, event_port: int, *, session: bool = True, timeout: float = 5.0) -> None:
        self.commands = socket.create_connection(("127.0.0.1", port), timeout)
        try:
            self.events = socket.create_connection(("127.0.0.1", event_port), timeout)
        except OSError:
            self.commands.close()
            raise
        self._transaction = 0
        try:
            self._shake_hands(session)
        except OSError:
            self.close()
            raise

    def _shake_hands(self, session: bool) -> None:
        name = "test".encode("utf-16-le") + b"\0\0"
        send(self.commands, INIT_COMMAND, b"T" * 16 + name + struct.pack("<I", 0x10000))
        kind, body = receive(self.commands)
        assert kind == INIT_COMMAND_ACK
        (self.connection,) = struct.unpack("<I", body[:4])
        send(self.events, INIT_EVENT, struct.pack("<I", self.connection))
        assert receive(self.events)[0] == INIT_EVENT_ACK
        if session:
            code, _, _ = self.ask(0x1002, 1)
            assert code == 0x2001

    def send_request(self, operation: int, *params: int, data: bytes | None = None) -> int:
        self._transaction += 1
        head = struct.pack("<IHI", 1 if data is None else 2, operation, self._transaction)
        send(self.commands, REQUEST, head + struct.pack(f"<{len(params)}I", *params))
        if data is not None:
            send(self.commands, START_DATA, struct.pack("<IQ", self._transaction, len(data)))
            send(self.commands, END_DATA, struct.pack("<I", self._transaction) + data)
        return self._transaction

    def read_answer(self) -> tuple[int, bytes, tuple[int, ...]]:
        """Response code, data set, parameters; the transaction must be the last one sent."""
        data = b""
        while True:
            kind, body = receive(self.commands)
            if kind in (DATA, END_DATA):
                data += body[4:]
            elif kind == RESPONSE:
                code, transaction = struct.unpack("<HI", body[:6])
                assert transaction == self._transaction
                return code, data, struct.unpack(f"<{(len(body) - 6) // 4}I", body[6:])
            else:
                assert kind == START_DATA

    def ask(self, operation: int, *params: int, data: bytes | None = None) -> tuple[int, bytes, tuple[int, ...]]:
        self.send_request(operation, *params, data=data)
        return self.read_answer()

    def event(self) -> tuple[int, tuple[int, ...]]:
        """The next event's code and parameters; raises TimeoutError."""
        kind, body = receive(self.events)
        assert kind == EVENT
        code, _ = struct.unpack("<HI", body[:6])
        return code, struct.unpack(f"<{(len(body) - 6) // 4}I", body[6:])

    def events_until(self, wanted: int) -> list[tuple[int, tuple[int, ...]]]:
        """Events up to and with the first of code `wanted`."""
        out = [self.event()]
        while out[-1][0] != wanted:
            out.append(self.event())
        return out

    def close(self) -> None:
        self.commands.close()
        self.events.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def send(sock: socket.socket, kind: int, body: bytes = b"") -> None:
    sock.sendall(struct.pack("<II", 8 + len(body), kind) + body)


def receive(sock: socket.socket) -> tuple[int, bytes]:
    """The next packet; raises ConnectionError where the camera has closed, TimeoutError where it says nothing."""
    length, kind = struct.unpack("<II", _exactly(sock, 8))
    return kind, _exactly(sock, length - 8)


def _exactly(sock: socket.socket, size: int) -> bytes:
    out = b""
    while len(out) < size:
        chunk = sock.recv(size - len(out))
        if not chunk:
            raise ConnectionError("the camera closed the connection")
        out += chunk
    return out
