"""The worker's end of the socket to the daemon. Never blocks: a daemon that is slow to read must not cost a release."""

from __future__ import annotations

import select
import socket
from collections import deque

from controller.camera.messages import Preview
from controller.camera.wire import Decoder, Message, encode

_BACKLOG = 16 << 20  # bytes of unread reports above which previews are left out


class Closed(Exception):
    """The daemon has gone."""


class Channel:
    def __init__(self, sock: socket.socket) -> None:
        sock.setblocking(False)
        self._sock = sock
        self._decoder = Decoder()
        self._out: deque[memoryview] = deque()
        self._waiting = 0

    def send(self, message: Message) -> None:
        """Queue a report and send what the socket takes; raises Closed."""
        if isinstance(message, Preview) and self._waiting > _BACKLOG:
            return  # the daemon is far behind, and a later preview tells it more than this one
        data = encode(message)
        self._out.append(memoryview(data))
        self._waiting += len(data)
        self.flush()

    def flush(self) -> None:
        while self._out:
            try:
                sent = self._sock.send(self._out[0])
            except BlockingIOError:
                return
            except OSError as error:
                raise Closed from error
            self._waiting -= sent
            if sent == len(self._out[0]):
                self._out.popleft()
            else:
                self._out[0] = self._out[0][sent:]

    def receive(self, wait_s: float) -> list[Message]:
        """The commands that have come, waiting up to `wait_s` for one; raises Closed."""
        poller = select.poll()
        poller.register(self._sock, select.POLLIN | (select.POLLOUT if self._out else 0))
        ready = poller.poll(max(0.0, wait_s) * 1000)
        if ready and ready[0][1] & select.POLLOUT:
            self.flush()
        if not ready or not ready[0][1] & ~select.POLLOUT:
            return []
        try:
            data = self._sock.recv(1 << 16)
        except BlockingIOError:
            return []
        except OSError as error:
            raise Closed from error
        if not data:
            raise Closed
        return list(self._decoder.feed(data))

    def finish(self, wait_s: float) -> None:
        """Send what is queued, waiting up to `wait_s` for the daemon to read it."""
        self._sock.settimeout(wait_s)
        for piece in self._out:
            try:
                self._sock.sendall(piece)
            except OSError:
                return
        self._out.clear()
