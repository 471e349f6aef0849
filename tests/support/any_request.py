"""Requests that hypothesis and schemathesis invent, against a service that runs."""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import quote

import httpx
import schemathesis
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

CHECKS = [
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
]

ENDLESS = ("/events", "/live.mjpeg")
"""Calls whose answers do not end: asked, and hung up on."""

SLOW = ("/rehearsal", "/forecast", "/check", "/beat", "/report", "/report.html")
"""Calls that start a process, or take frames: asked less often."""

KNOWN = {"camera": "camera-1", "name": "evening", "frame": "1"}
"""Names that there are on a rig with one camera, a plan and a frame, by what they stand for in paths."""

SAFE = ("GET", "HEAD", "OPTIONS")


@dataclass
class Tally:
    """What came of it: answers by status, and what should not have been."""

    statuses: Counter[int] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)

    @property
    def asked(self) -> int:
        return self.statuses.total()

    def take(self, what: str, status: int, fine: bool, text: str = "") -> None:
        self.statuses[status] += 1
        if not fine:
            self.wrong.append(f"{what}: {status} {text[:300]}")


def by_schema(url: str, examples: int, known: dict[str, str], number: int = 1, only: Iterable[str] = ()) -> Tally:
    """Ask every call of the served schema `examples` times, the slow ones a fifth of it; `only` names parts of paths.

    `known` has names that there are, by what they stand for in paths, put in every other time.

    A 503 is right where a camera, or room, is wanted that is not there: such as says its code and remedy.
    """
    tally = Tally()
    schema = schemathesis.openapi.from_url(f"{url}/openapi.json")
    for found in schema.get_all_operations():
        operation = found.ok()
        if only and not any(part in operation.path for part in only):
            continue
        if operation.path.endswith(ENDLESS):
            with httpx.stream("GET", url + operation.path.replace("{camera}", "camera-1"), timeout=60) as answer:
                tally.take(operation.path, answer.status_code, answer.status_code in (200, 409, 503))
            continue
        some = max(2, examples // 5) if operation.path.endswith(SLOW) else examples

        @seed(number)
        @settings(max_examples=some, suppress_health_check=list(HealthCheck), deadline=None, database=None)
        @given(case=operation.as_strategy(), real=st.booleans())
        def ask(case: schemathesis.Case, real: bool) -> None:
            if real and not case.path.endswith("/beat"):  # which takes test frames for minutes
                case.path_parameters |= {name: known[name] for name in case.path_parameters if name in known}
            answer = case.call(timeout=240)
            fine, text = answer.status_code < 500 or _said(answer), ""
            try:
                case.validate_response(answer, checks=CHECKS if fine else [not_a_server_error])
            except BaseException as error:  # noqa: BLE001  schemathesis raises groups of its own
                fine, text = False, f"{case.as_curl_command()} {_reasons(error)}"
            tally.take(f"{case.method} {case.path}", answer.status_code, fine, text)

        ask()
    return tally


def _said(answer: Any) -> bool:
    problem = answer.json() if answer.status_code == 503 else {}
    return problem.get("code") not in (None, "internal") and bool(problem.get("remedy"))


def _reasons(error: BaseException) -> str:
    return "; ".join(str(each) for each in getattr(error, "exceptions", [error]))


# ---- strangers

_words = st.text(max_size=12) | st.sampled_from(["camera-1", "x", "1", "..", "%2e%2e", "test-frame", "evening", "\x00"])
_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)
_HEADERS: dict[str, st.SearchStrategy[str]] = {
    "X-Forwarded-For": st.sampled_from(["127.0.0.1", "::1", "localhost", ""]),
    "Forwarded": st.just("for=127.0.0.1;host=localhost"),
    "X-Real-IP": st.just("127.0.0.1"),
    "X-Original-URL": st.just("/api/v1/now"),
    "X-HTTP-Method-Override": st.sampled_from(["GET", "DELETE"]),
    "Origin": st.sampled_from(["null", "http://rig.example", "http://localhost"]),
    "Sec-Fetch-Site": st.sampled_from(["same-origin", "none", "cross-site"]),
    "Authorization": st.text("abcXYZ0 =:", max_size=50).map(lambda text: f"Bearer {text}".strip()),
    "Cookie": st.text("abcXYZ0=_-;", max_size=50).map(lambda text: f"duskhand={text}"),
    "Content-Type": st.sampled_from(["application/json", "application/toml", "text/plain", "multipart/form-data"]),
    "If-Match": st.sampled_from(["*", '"x"']),
}
_HOSTS = st.sampled_from(["rig.example", "localhost.example", "127.0.0.1.example", "rig.example:8760", "0.0.0.0@x"])


def _body(value: Any) -> bytes:
    return json.dumps(value).encode()


def strangers(url: str, examples: int, number: int = 1) -> Tally:
    """So many requests by somebody without a session: any call, any method, headers that claim to be from elsewhere.

    They come from this machine, but name it as no request of this machine would, which makes them a stranger's.
    """
    tally = Tally()
    paths = sorted(httpx.get(f"{url}/openapi.json").json()["paths"])
    plans = _values | st.fixed_dictionaries({"plan": _values, "code": st.text(max_size=9), "name": st.text(max_size=9)})

    @seed(number)
    @settings(max_examples=examples, suppress_health_check=list(HealthCheck), deadline=None, database=None)
    @given(
        st.sampled_from(["GET", "HEAD", "OPTIONS", "POST", "PUT", "PATCH", "DELETE", "TRACE", "BREW"]),
        st.sampled_from(paths),
        st.lists(_words, min_size=3, max_size=3),
        st.fixed_dictionaries({}, optional=_HEADERS),
        _HOSTS,
        plans.map(_body) | st.binary(max_size=40),
    )
    def ask(method: str, path: str, names: list[str], headers: dict[str, str], host: str, body: bytes) -> None:
        for part, name in zip([part for part in path.split("/") if part.startswith("{")], names, strict=False):
            path = path.replace(part, quote(name, safe="%"), 1)
        content = None if method in SAFE else body
        answer = client.request(method, url + path, headers={**headers, "Host": host}, content=content)
        at_door = path == "/api/v1/session" and method in ("GET", "POST")
        fine = answer.status_code in (401, 403, 404, 405) or (at_door and answer.status_code in (200, 400, 413, 422))
        tally.take(f"{method} {path} {headers}", answer.status_code, fine, answer.text)

    with httpx.Client(timeout=60) as client:
        ask()
    return tally


def kept(directory: Path) -> str:
    """All that the rig's database holds, as SQL, but what the rig itself writes down of its bodies every minute."""
    connection = sqlite3.connect(f"file:{directory / 'frames.sqlite3'}?mode=ro", uri=True)
    try:
        return "\n".join(line for line in connection.iterdump() if not line.startswith('INSERT INTO "bod'))
    finally:
        connection.close()
