"""What the commands make of a service that refuses them, or is none."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, HTTPServer

import pytest

from controller.commands.asking import call
from controller.words.errors import DuskhandError


@contextmanager
def answering(status: int, document: dict[str, str]) -> Iterator[str]:
    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            body = json.dumps(document).encode()
            self.send_response(status)
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: object) -> None: ...

    server = HTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


def test_a_machine_that_is_not_let_in_is_told_of_the_token() -> None:
    refusal = {"code": "not-paired", "detail": "this device is not paired with the rig", "remedy": "Show a code"}
    with answering(401, refusal) as url, pytest.raises(DuskhandError, match="DUSKHAND_TOKEN") as caught:
        call(url, "/api/v1/cameras")
    assert caught.value.code == "not-paired"


def test_no_service_is_told_without_numbers_of_the_system() -> None:
    with pytest.raises(DuskhandError, match="no service answers: connection refused") as caught:
        call("http://127.0.0.1:9", "/api/v1/cameras")
    assert "Errno" not in str(caught.value)
