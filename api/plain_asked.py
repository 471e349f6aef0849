"""Who asks a rig that serves TLS with `http://` is told so, in one line: else a browser says that it was cut off."""

from __future__ import annotations

import ssl
from typing import Any

_LINE = b"This rig serves https only: put https:// in place of http:// before its address.\n"

ANSWER = (
    b"HTTP/1.1 400 Bad Request\r\nContent-Type: text/plain; charset=utf-8\r\nContent-Length: %d\r\n"
    b"Cache-Control: no-store\r\nConnection: close\r\n\r\n%s" % (len(_LINE), _LINE)
)


class _Side(ssl.SSLObject):
    """The rig's side of one connection. Nothing of what was asked is read, and the answer is always the same."""

    outgoing: ssl.MemoryBIO
    _told = False

    def do_handshake(self) -> None:
        if self._told:
            raise ssl.SSLError(ssl.SSL_ERROR_SSL, "it was told that https is served, and went on")
        try:
            super().do_handshake()
        except ssl.SSLError as error:
            if error.reason != "HTTP_REQUEST":
                raise
            self._told = True
            self.outgoing.write(ANSWER)
            raise ssl.SSLWantReadError from None  # what was written is sent; as before, a handshake has its time


class TellingContext(ssl.SSLContext):
    """A server's context whose handshakes answer such requests."""

    sslobject_class = _Side

    def wrap_bio(self, incoming: ssl.MemoryBIO, outgoing: ssl.MemoryBIO, *args: Any, **more: Any) -> ssl.SSLObject:
        side = super().wrap_bio(incoming, outgoing, *args, **more)
        assert isinstance(side, _Side)
        side.outgoing = outgoing
        return side
