"""The PTP/IP responder: two listeners, one session at a time, a thread for each connection."""

from __future__ import annotations

import contextlib
import logging
import socket
import struct
import threading
import time
import uuid
from collections.abc import Sequence

from controller.simulated import canon, nikon
from controller.simulated.body import Body, Refused
from controller.simulated.exif import MODEL
from controller.simulated.faults import Cut, Faults, Unanswered
from controller.simulated.operations import HANDLERS, Answer, Request
from controller.simulated.packets import (
    Closed,
    Kind,
    data_phase,
    event,
    init_ack,
    packet,
    receive,
    response,
    tune,
)
from controller.simulated.ptp import Event, Operation, Response
from controller.simulated.script import Step

log = logging.getLogger("simulated")
GUID = uuid.uuid5(uuid.NAMESPACE_DNS, "simulated.duskhand.invalid").bytes
_NO_DATA_OUT = 1
_HANDLERS = HANDLERS | nikon.HANDLERS | canon.HANDLERS


class Server:
    """Listens on 127.0.0.1; a new initiator takes the session over, for the old one may lie dead on a cut cable."""

    def __init__(self, body: Body, faults: Faults, port: int, event_port: int) -> None:
        self._body, self._faults = body, faults
        self._wanted = [port, event_port]
        self._listeners: list[socket.socket] = []
        self._lock = threading.Lock()
        self._connections = 0
        self._command: socket.socket | None = None
        self._events: socket.socket | None = None
        self._open = False
        body.send = self.send_event
        faults.drop, faults.stop_listening, faults.listen = self.drop, self.stop_listening, self.listen
        self.listen()

    @property
    def ports(self) -> tuple[int, int]:
        return self._wanted[0], self._wanted[1]

    # ---- listening

    def listen(self) -> None:
        for index, port in enumerate(self._wanted):
            listener = socket.create_server(("127.0.0.1", port))
            self._wanted[index] = listener.getsockname()[1]
            self._listeners.append(listener)
            threading.Thread(target=self._accept, args=(listener,), name="listening", daemon=True).start()

    def stop_listening(self) -> None:
        while self._listeners:
            listener = self._listeners.pop()
            with contextlib.suppress(OSError):
                listener.shutdown(socket.SHUT_RDWR)
            listener.close()

    def drop(self) -> None:
        """Cut what is connected, as a pulled cable does."""
        with self._lock:
            for sock in (self._command, self._events):
                _cut(sock)
            self._command = self._events = None
            self._open = False

    def _accept(self, listener: socket.socket) -> None:
        while True:
            try:
                sock, _ = listener.accept()
            except OSError:
                return
            threading.Thread(target=self._greet, args=(sock,), name="connection", daemon=True).start()

    def _greet(self, sock: socket.socket) -> None:
        try:
            tune(sock)
            kind, body = receive(sock)
            if self._faults.silent():
                return _wait_until_closed(sock)
            if kind == Kind.INIT_COMMAND_REQUEST:
                time.sleep(self._faults.sleep.greeting_s())
                self._serve_commands(sock)
            elif kind == Kind.INIT_EVENT_REQUEST:
                self._serve_events(sock, *struct.unpack("<I", body[:4]))
            else:
                sock.sendall(packet(Kind.INIT_FAIL, struct.pack("<I", 3)))
        except (Closed, Cut, OSError, struct.error) as error:
            log.info("connection ended: %s", error)
        finally:
            sock.close()

    # ---- the command connection

    def _serve_commands(self, sock: socket.socket) -> None:
        with self._lock:
            _cut(self._command)
            _cut(self._events)
            self._command, self._events, self._open = sock, None, False
            self._connections += 1
            connection = self._connections
        sock.sendall(init_ack(connection, GUID, MODEL))
        while True:
            kind, body = receive(sock)
            if kind == Kind.PING:
                sock.sendall(packet(Kind.PONG))
            elif kind == Kind.OPERATION_REQUEST:
                phase, code, transaction = struct.unpack("<IHI", body[:10])
                params = struct.unpack(f"<{(len(body) - 10) // 4}I", body[10:])
                data = _receive_data(sock) if phase != _NO_DATA_OUT else b""
                with contextlib.suppress(Unanswered):
                    self._answer(sock, code, transaction, params, data)

    def _answer(self, sock: socket.socket, code: int, transaction: int, params: tuple[int, ...], data: bytes) -> None:
        step: Step = ()
        try:
            step = self._faults.before(code, params)
            answer, status = self._perform(code, params, data, self._faults.flaws(step)), int(Response.OK)
        except Refused as refused:
            answer, status = Answer(), refused.code
        log.info("operation %04x %s: %04x", code, [f"{param:x}" for param in params], status)
        self._faults.instead_of_answer(step)
        out = b"" if answer.data is None else data_phase(transaction, answer.data)
        sock.sendall(out + response(status, transaction, answer.params))
        self._faults.after_answer(step)

    def _perform(self, code: int, params: tuple[int, ...], data: bytes, flaws: frozenset[str]) -> Answer:
        if code == Operation.OPEN_SESSION:
            if self._open:
                raise Refused(Response.SESSION_ALREADY_OPEN)
            self._open = True
            return Answer()
        if code == Operation.CLOSE_SESSION:
            self._open = False
            return Answer()
        handler = _HANDLERS.get(code)
        if handler is None or not self._body.maker.has(Operation(code)):
            raise Refused(Response.OPERATION_NOT_SUPPORTED)
        if not self._open and code != Operation.GET_DEVICE_INFO:
            raise Refused(Response.SESSION_NOT_OPEN)
        try:
            return handler(Request(self._body, params, data, flaws))
        except FileNotFoundError as error:  # deleted since it was looked up
            raise Refused(Response.INVALID_OBJECT_HANDLE) from error

    # ---- the event connection

    def _serve_events(self, sock: socket.socket, connection: int) -> None:
        with self._lock:
            if connection != self._connections or self._command is None:
                sock.sendall(packet(Kind.INIT_FAIL, struct.pack("<I", 1)))
                return
            self._events = sock
            sock.sendall(packet(Kind.INIT_EVENT_ACK))
        while True:
            kind, _ = receive(sock)
            if kind == Kind.PING:
                sock.sendall(packet(Kind.PONG))

    def send_event(self, code: Event, params: Sequence[int]) -> None:
        """To whoever is connected; nobody hears it otherwise, as on a real body."""
        with self._lock:
            sock = self._events
        if sock is None or self._faults.silent():
            return
        try:
            sock.sendall(event(code, 0xFFFFFFFF, tuple(params)))
        except OSError as error:
            log.info("event %04x not sent: %s", code, error)

    def close(self) -> None:
        self.stop_listening()
        self.drop()


def _receive_data(sock: socket.socket) -> bytes:
    """The data set that the initiator sends: start, data packets, end."""
    data = bytearray()
    while True:
        kind, body = receive(sock)
        if kind in (Kind.DATA, Kind.END_DATA):
            data += body[4:]
        if kind == Kind.END_DATA:
            return bytes(data)


def _cut(sock: socket.socket | None) -> None:
    if sock is not None:
        with contextlib.suppress(OSError):
            sock.shutdown(socket.SHUT_RDWR)


def _wait_until_closed(sock: socket.socket) -> None:
    while sock.recv(4096):
        pass
