"""Journal entries, received by a socket and read back by systemd's Native Journal Protocol (from memory)."""

from __future__ import annotations

import array
import logging
import os
import socket
import struct
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from controller.commands.journal import Journal, is_kept
from controller.words.errors import CameraError


def read(content: bytes) -> dict[str, str]:
    """Fields of an entry: `NAME=value` up to a line's end, or `NAME`, a length, and so many bytes."""
    fields = {}
    while content:
        line, _, rest = content.partition(b"\n")
        if b"=" in line:
            name, _, value = line.partition(b"=")
        else:
            (length,) = struct.unpack("<Q", rest[:8])
            name, value = line, rest[8 : 8 + length]
            assert rest[8 + length : 9 + length] == b"\n"
            rest = rest[9 + length :]
        fields[name.decode()] = value.decode()
        content = rest
    return fields


class Far:
    """What keeps the journal."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind(str(path))
        self._socket.settimeout(20)

    def next(self) -> dict[str, str]:
        content, rights, _, _ = self._socket.recvmsg(1 << 20, socket.CMSG_LEN(4))
        if rights:
            (handle,) = array.array("i", rights[0][2])
            content = os.pread(handle, os.fstat(handle).st_size, 0)
            with pytest.raises(PermissionError):  # sealed, as the protocol asks for
                os.pwrite(handle, b"x", 0)
            os.close(handle)
        return read(content)

    def close(self) -> None:
        self._socket.close()


@pytest.fixture
def far(tmp_path: Path) -> Iterator[Far]:
    far = Far(tmp_path / "socket")
    yield far
    far.close()


@pytest.fixture
def log(far: Far) -> Iterator[logging.Logger]:
    log = logging.getLogger("controller.test_journal")
    handler = Journal(far.path)
    log.addHandler(handler)
    log.setLevel(logging.DEBUG)
    log.propagate = False
    yield log
    log.removeHandler(handler)
    handler.close()


def test_an_entry_has_its_fields(far: Far, log: logging.Logger) -> None:
    log.info("s1: camera-gone: it fell\nasleep", extra={"duskhand": {"shoot": "s1", "kind": "camera-gone"}})
    entry = far.next()
    assert entry["MESSAGE"] == "s1: camera-gone: it fell\nasleep"
    assert (entry["DUSKHAND_SHOOT"], entry["DUSKHAND_KIND"]) == ("s1", "camera-gone")
    assert entry["SYSLOG_IDENTIFIER"] == "duskhand"
    assert entry["DUSKHAND_PART"] == "controller.test_journal"
    assert entry["CODE_FILE"] == __file__
    assert "DUSKHAND_CAMERA" not in entry


@pytest.mark.parametrize(
    ("level", "priority"),  # syslog(3)
    [(logging.CRITICAL, "2"), (logging.ERROR, "3"), (logging.WARNING, "4"), (logging.INFO, "6"), (logging.DEBUG, "7")],
)
def test_priorities_are_those_of_syslog(far: Far, log: logging.Logger, level: int, priority: str) -> None:
    log.log(level, "said")
    assert far.next()["PRIORITY"] == priority


def test_an_error_that_is_told_brings_its_code(far: Far, log: logging.Logger) -> None:
    log.warning("%s: %s", "camera-1", CameraError("camera-silent", "it does not answer"))
    assert far.next()["DUSKHAND_CODE"] == "camera-silent"


def test_a_traceback_is_in_the_entry(far: Far, log: logging.Logger) -> None:
    try:
        raise ValueError("odd")
    except ValueError:
        log.exception("a fault of ours")
    message = far.next()["MESSAGE"]
    assert message.startswith("a fault of ours\nTraceback")
    assert message.endswith("ValueError: odd")


def test_what_is_too_long_for_a_datagram_comes_as_a_file(far: Far, log: logging.Logger) -> None:
    log.info("long %s", "x" * 3_000_000)
    assert far.next()["MESSAGE"] == "long " + "x" * 3_000_000


def test_a_journal_that_does_not_listen_holds_up_nobody(
    far: Far, log: logging.Logger, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its socket's queue is full (net.unix.max_dgram_qlen), and then it is gone."""
    for number in range(5000):
        log.info("entry %d", number)
    assert "entry 4999" in capsys.readouterr().err
    assert far.next()["MESSAGE"] == "entry 0"
    far.close()
    log.info("after it")
    assert capsys.readouterr().err == "after it\n"


def test_only_where_the_journal_keeps_standard_error(far: Far, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with (tmp_path / "err").open("w") as err:
        monkeypatch.setattr(sys, "stderr", err)
        told = os.fstat(err.fileno())
        stream = {"JOURNAL_STREAM": f"{told.st_dev}:{told.st_ino}"}
        assert is_kept(stream, far.path)
        assert not is_kept(stream, tmp_path / "nothing")
        assert not is_kept({"JOURNAL_STREAM": f"{told.st_dev}:{told.st_ino + 1}"}, far.path)
        assert not is_kept({}, far.path)
