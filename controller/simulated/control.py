"""The control port: a JSON object on a line in, a JSON answer on a line out, for tests and the demo."""

from __future__ import annotations

import json
import logging
import socket
import threading
from collections.abc import Callable
from typing import Any

log = logging.getLogger("simulated")
Command = Callable[..., dict[str, Any]]


class Control:
    """Listens on 127.0.0.1 and calls the command that a line's `do` names with the other fields."""

    def __init__(self, port: int, commands: dict[str, Command]) -> None:
        self._commands = commands
        self._listener = socket.create_server(("127.0.0.1", port))
        self.port: int = self._listener.getsockname()[1]
        threading.Thread(target=self._accept, name="control", daemon=True).start()

    def _accept(self) -> None:
        while True:
            try:
                sock, _ = self._listener.accept()
            except OSError:
                return
            threading.Thread(target=self._serve, args=(sock,), name="control connection", daemon=True).start()

    def _serve(self, sock: socket.socket) -> None:
        with sock, sock.makefile("rw", encoding="utf-8") as lines:
            try:
                for line in lines:
                    lines.write(json.dumps(self._run(line)) + "\n")
                    lines.flush()
            except OSError as error:
                log.info("control connection ended: %s", error)

    def _run(self, line: str) -> dict[str, Any]:
        try:
            fields = dict(json.loads(line))
            name = str(fields.pop("do"))
            command = self._commands[name]
        except (ValueError, TypeError, KeyError):
            return {"error": f'write an object with "do", one of: {" ".join(sorted(self._commands))}'}
        try:
            return command(**fields)
        except (ValueError, TypeError) as error:
            return {"error": f"{name}: {error}"}
