"""The log as journal entries with fields, where systemd keeps it: who, which shoot, which error, not words alone.

systemd's Native Journal Protocol: a datagram of fields to a socket, or where that is too long a sealed memory file with
the same in it. It is so little that no library is asked for: systemd-python has no wheels, and the others put all they
know of a record into the journal, arguments too.
"""

from __future__ import annotations

import array
import contextlib
import errno
import fcntl
import logging
import os
import socket
import struct
import sys
from collections.abc import Mapping
from pathlib import Path

from controller.words.errors import DuskhandError

SOCKET = Path("/run/systemd/journal/socket")
IDENTIFIER = "duskhand"
OWN = ("shoot", "camera", "code", "kind")
"""Fields of a record's `duskhand`, DUSKHAND_SHOOT and so on in the journal."""

_SEALS = fcntl.F_SEAL_SHRINK | fcntl.F_SEAL_GROW | fcntl.F_SEAL_WRITE | fcntl.F_SEAL_SEAL


def is_kept(environment: Mapping[str, str] = os.environ, socket_path: Path = SOCKET) -> bool:
    """Whether the journal keeps what this process writes to standard error (JOURNAL_STREAM of systemd.exec(5))."""
    try:
        told = os.fstat(sys.stderr.fileno())
    except (OSError, ValueError, AttributeError):
        return False
    return environment.get("JOURNAL_STREAM") == f"{told.st_dev}:{told.st_ino}" and socket_path.is_socket()


class Journal(logging.Handler):
    """Sends each record to the journal; what cannot be sent goes to standard error, which it keeps as well."""

    def __init__(self, socket_path: Path = SOCKET) -> None:
        super().__init__()
        self._path = str(socket_path)
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC)
        self._socket.setblocking(False)  # a journal that does not keep up must not hold up a release

    def emit(self, record: logging.LogRecord) -> None:
        try:
            self._send(_packed(self.fields(record)))
        except (OSError, ValueError, TypeError):
            with contextlib.suppress(OSError, ValueError, TypeError):
                sys.stderr.write(f"{self.format(record)}\n")

    def fields(self, record: logging.LogRecord) -> dict[str, str]:
        """What the journal is told of a record: names by systemd.journal-fields(7), and our own."""
        fields = {
            "MESSAGE": self.format(record),
            "PRIORITY": str(_priority(record.levelno)),
            "SYSLOG_IDENTIFIER": IDENTIFIER,
            "CODE_FILE": record.pathname,
            "CODE_LINE": str(record.lineno),
            "CODE_FUNC": record.funcName or "",
            "DUSKHAND_PART": record.name,
        }
        told = dict(getattr(record, "duskhand", {}))
        args = record.args if isinstance(record.args, tuple) else ()
        errors = [arg for arg in args if isinstance(arg, DuskhandError)]
        if errors:
            told.setdefault("code", errors[0].code)
        return fields | {f"DUSKHAND_{name.upper()}": str(told[name]) for name in OWN if told.get(name)}

    def _send(self, content: bytes) -> None:
        try:
            self._socket.sendto(content, self._path)
        except OSError as error:
            if error.errno not in (errno.EMSGSIZE, errno.ENOBUFS):
                raise
            self._send_file(content)

    def _send_file(self, content: bytes) -> None:
        handle = os.memfd_create(IDENTIFIER, os.MFD_CLOEXEC | os.MFD_ALLOW_SEALING)
        try:
            with open(handle, "wb", closefd=False) as file:
                file.write(content)
            fcntl.fcntl(handle, fcntl.F_ADD_SEALS, _SEALS)
            rights = (socket.SOL_SOCKET, socket.SCM_RIGHTS, array.array("i", [handle]))
            self._socket.sendmsg([b""], [rights], 0, self._path)
        finally:
            os.close(handle)

    def close(self) -> None:
        self._socket.close()
        super().close()


def _priority(level: int) -> int:
    """By syslog(3): critical 2, error 3, warning 4, info 6, debug 7."""
    steps = ((logging.CRITICAL, 2), (logging.ERROR, 3), (logging.WARNING, 4), (logging.INFO, 6))
    return next((priority for least, priority in steps if level >= least), 7)


def _packed(fields: Mapping[str, str]) -> bytes:
    """In the protocol's form for values of any kind: the name, the length in 64 bits little-endian, the value."""
    parts = []
    for name, text in fields.items():
        value = text.encode("utf-8", errors="replace")
        parts.append(name.encode() + b"\n" + struct.pack("<Q", len(value)) + value + b"\n")
    return b"".join(parts)
