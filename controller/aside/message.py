"""One message, sent in a process of its own by a library that knows the ways of mail, chat and push services.

Addresses are secrets: they are read here and nowhere else, and nothing that comes back names one.
"""

from __future__ import annotations

import logging
import os
import re
import time
from pathlib import Path
from typing import Any

from controller.words.errors import BadInput
from controller.words.health import Sending, Went

VARIABLE = "DUSKHAND_MESSAGES_TO"
_MOST_BYTES = 64_000

_PATIENCE_S = 100.0
"""For all addresses together, so that one that keeps silent takes nothing from the others: less than MESSAGE_S, after
which the process is ended and nobody knows who had the message."""

_LONGEST_S, _SHORTEST_S = 30.0, 2.0  # of one wait; the first is for a mobile network's edge
_WAITS = 3  # of an address: to connect, to be answered, and once more without the picture


def addresses(file: Path | None) -> list[str]:
    """Of the environment's variable, or of a file that its owner alone can read. Raises BadInput (bad-addresses)."""
    where, text = VARIABLE, os.environ.get(VARIABLE, "")
    if not text.strip() and file is not None:
        where, text = str(file), _read(file)
    found = [line.strip() for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    if not found:
        raise BadInput("bad-addresses", "there is no address in it", where, "Write one address a line")
    return found


def _read(file: Path) -> str:
    try:
        with file.open("rb") as opened:
            mode = os.fstat(opened.fileno()).st_mode
            if mode & 0o077:
                remedy = f"Make it its owner's alone: chmod 600 {file}"
                raise BadInput("bad-addresses", "others than its owner may read it", str(file), remedy)
            return opened.read(_MOST_BYTES).decode()
    except OSError as error:
        remedy = "Make it, with one address a line, readable by the user of the service alone"
        raise BadInput("bad-addresses", f"cannot be read: {error.strerror or error}", str(file), remedy) from error
    except UnicodeDecodeError as error:
        raise BadInput("bad-addresses", "not UTF-8 text", str(file), "Save it as UTF-8") from error


def work_out(task: dict[str, Any]) -> Sending:
    """In the process of its own. Raises BadInput (bad-addresses)."""
    file = task["file"]
    told = addresses(None if file is None else Path(file))
    for name in ("apprise", "urllib3", "requests"):  # they write addresses into their logs
        logging.getLogger(name).addHandler(logging.NullHandler())
    end_mono, went = time.monotonic() + _PATIENCE_S, []
    for number, address in enumerate(told, 1):  # what those before did not take is left for those after
        left_s = (end_mono - time.monotonic()) / (len(told) - number + 1)
        went.append(_send(number, address, task, min(_LONGEST_S, max(_SHORTEST_S, left_s / _WAITS))))
    return Sending(went=went)


def _send(number: int, address: str, task: dict[str, Any], wait_s: float) -> Went:
    import apprise

    way = address.partition("://")[0] if "://" in address else "?"
    way = way if re.fullmatch(r"[a-zA-Z][\w+.-]{0,20}", way) else "?"
    said = _Said()
    logging.getLogger("apprise").addHandler(said)
    try:
        service = apprise.Apprise.instantiate(address)
        if service is None:
            return Went(number=number, way=way, ok=False, why="this is no address that can be sent to")
        service.socket_connect_timeout = service.socket_read_timeout = wait_s
        box = apprise.Apprise()
        box.add(service)
        picture = task.get("picture")
        ok = bool(box.notify(title=task["title"], body=task["body"], attach=picture))
        if not ok and picture is not None:  # a way that takes no pictures, or none so large
            ok = bool(box.notify(title=task["title"], body=task["body"]))
    except (OSError, ValueError, TypeError, LookupError, AttributeError, RuntimeError) as error:
        return Went(number=number, way=way, ok=False, why=_without(address, type(error).__name__))
    finally:
        logging.getLogger("apprise").removeHandler(said)
    why = None if ok else _without(address, said.last or "it was not taken")
    return Went(number=number, way=way, ok=ok, why=why)


class _Said(logging.Handler):
    """The library's last warning."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.last = ""

    def emit(self, record: logging.LogRecord) -> None:
        self.last = record.getMessage()


def _without(address: str, text: str) -> str:
    """The text without any part of the address, which may hold names, keys and tokens."""
    from urllib.parse import unquote

    parts = {part for form in (address, unquote(address)) for part in re.split(r"[^\w.-]+", form.partition("://")[2])}
    for part in sorted((part for part in parts if len(part) >= 3), key=len, reverse=True):
        text = re.sub(re.escape(part), "…", text, flags=re.IGNORECASE)
    return " ".join(text.split())[:200]
