"""One message, sent in a process of its own by a library that knows the ways of mail, chat and push services.

Addresses are secrets: nothing that comes back names one.
"""

from __future__ import annotations

import logging
import re
import time
from pathlib import Path
from typing import Any

from controller.store.addresses import addresses
from controller.words.sending import Sending, Went

_PATIENCE_S = 100.0
"""For all addresses together, so that one that keeps silent takes nothing from the others: less than MESSAGE_S, after
which the process is ended and nobody knows who had the message."""

_LONGEST_S, _SHORTEST_S = 30.0, 2.0  # of one wait; the first is for a mobile network's edge
_WAITS = 3  # of an address: to connect, to be answered, and once more without the picture


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
