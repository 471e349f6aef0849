"""Takes secrets and exact places out of what is shown to somebody who helps.

By two ways, so that one that fails is caught by the other: what is known to be secret here is replaced wherever it
stands, and what looks like a secret too. Of settings only those are shown that are known to be none.
"""

from __future__ import annotations

import os
import re
import shlex
import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any
from urllib.parse import unquote

from controller.store.addresses import VARIABLE

OUT = "[left-out]"
VARIABLES = ("DUSKHAND_TOKEN", VARIABLE)
_LEAST = 5  # characters: shorter ones would take words apart

_SHOWN = frozenset({"active", "edge", "pull", "use", "camera", "digest", "timezone", "kind", "addresses_file"})
"""Keys of settings whose texts are no secret; numbers and yes or no never are."""

_SECRET = re.compile(r"(?i)(?:^|_)(?:passw\w*|passphrase|psk|secret|token|key)$")
"""Keys of settings whose texts are left out wherever they stand. Paths, users and hosts are left out of the settings
alone: as words they stand in other places too, and would take what helps along."""

_PUBLIC = "host_key"  # of a server

_HOST = re.compile(r"localhost|(?:\d{1,3}\.){3}\d{1,3}|(?:[a-z0-9-]+\.)+[a-z]{2,}")
"""Part of an address that says where, and opens nothing."""

_OPTIONS = frozenset({"--host", "--port", "--verbose", "--dir"})

_PATTERNS = (
    (re.compile(r"(?i)\b(bearer|basic)\s+[\w.~+/=-]+"), r"\1 " + OUT),
    (re.compile(r"\b([a-z][a-z0-9+.-]*://)[^\s/@]+@"), r"\1" + OUT + "@"),
    (
        re.compile(r"(?i)\b([\w-]*(?:token|secret|passw|psk|api_?key|access_?key|cookie)[\w-]*)(\"?\s*[=:]\s*)\S+"),
        r"\1\2" + OUT,
    ),
    (re.compile(r"(?<![\w-])[A-Za-z0-9_-]{43}(?![\w-])"), OUT),  # 256 bits in base64url: sessions and tokens
    (re.compile(r"\bAKIA[0-9A-Z]{16}\b"), OUT),
    (re.compile(r"(?i)(serial ?number:?\s+)\S+"), r"\1" + OUT),
    (re.compile(r"(?i)\b(?:[0-9a-f]{2}:){5}[0-9a-f]{2}\b"), OUT),  # a network card's address tells where it is
)
_NUMBERS = frozenset(
    {"latitude", "longitude", "sun_altitude_deg", "sun_azimuth_deg", "moon_altitude_deg", "azimuth_deg"}
)
_SUN = re.compile(r"^(duskhand_(?:sun|moon)_\w+ )(-?[\d.]+)$", re.M)


class LeaveOut:
    """Knows what is secret here. `place` says whether the exact place may stay."""

    def __init__(self, secrets: Iterable[str] = (), *, place: bool = False) -> None:
        self.place = place
        self._known: set[str] = set()
        self.learn(secrets)

    def learn(self, secrets: Iterable[str]) -> None:
        """More of what is secret: each with its parts, as it is and as an address would write it."""
        for secret in secrets:
            for form in {secret, unquote(secret)}:
                rest = re.sub(r"([?&])[\w-]+=", r"\1", form.partition("://")[2])  # names of parameters are no secret
                parts = [part for part in re.split(r"[\s/:@?&=,;]+", rest) if not _HOST.fullmatch(part)]
                self._known |= {part for part in (form.strip(), *parts) if len(part) >= _LEAST}

    def learn_places(self, document: Any) -> None:
        """The coordinates in a document, so that they are found in texts too."""
        for key, value in _walk(document):
            if key in ("latitude", "longitude") and isinstance(value, float) and len(f"{abs(value):g}") >= _LEAST - 1:
                self._known |= {repr(value), f"{value:g}"} if not self.place else set()

    def text(self, text: str) -> str:
        """A text without them."""
        for secret in sorted(self._known, key=len, reverse=True):
            text = text.replace(secret, OUT)
        for pattern, instead in _PATTERNS:
            text = pattern.sub(instead, text)
        return text if self.place else _SUN.sub(lambda m: f"{m[1]}{float(m[2]):.0f}", text)

    def document(self, document: Any, key: str = "") -> Any:
        """A document of ours without them: places in whole degrees, which is to a hundred kilometres."""
        if isinstance(document, Mapping):
            return {self.text(str(name)): self.document(value, str(name)) for name, value in document.items()}
        if isinstance(document, list | tuple):
            return [self.document(value, key) for value in document]
        if isinstance(document, str):
            return self.text(document)
        if key in _NUMBERS and not self.place and isinstance(document, int | float):
            return round(document)
        return document

    def settings(self, text: str) -> Any:
        """A TOML document of settings: numbers, yes or no, and the texts that are known to be no secret."""
        try:
            return _shown(tomllib.loads(text))
        except (ValueError, RecursionError):
            return f"{OUT}: it is no TOML"

    def variables(self, text: str) -> list[str]:
        """An environment file: names, and of the service's options those that are known to be no secret."""
        lines = []
        for line in text.splitlines():
            name, equals, value = line.strip().partition("=")
            if equals and not name.startswith("#"):
                lines.append(f"{name}={_options(value) if name == 'DUSKHAND_OPTIONS' else OUT}")
        return lines


def secrets_in(files: Iterable[Path]) -> set[str]:
    """Every text in these files that is one: of settings by its key, of others every line."""
    found = {os.environ[name] for name in VARIABLES if os.environ.get(name)}
    for file in files:
        try:
            text = file.read_text("utf-8", errors="replace")
        except OSError:
            continue
        if file.suffix == ".toml":
            found |= _of_settings(text)
        elif file.suffix == ".conf":
            for line in text.splitlines():
                name, _, value = line.strip().partition("=")
                found |= set(_words(value)) if name == "DUSKHAND_OPTIONS" else {_unquoted(value)}
        else:
            found |= {line.strip() for line in text.splitlines() if not line.startswith("#")}
    return {secret for secret in found if len(secret) >= _LEAST}


def _of_settings(text: str) -> set[str]:
    """Texts of secret keys, in comments too, and of a command what may be one; by lines where it is no TOML."""
    pairs = re.findall(r"([\w-]+)[\"']?\s*=\s*(?:\"([^\"\n]*)\"|'([^'\n]*)')", text)
    told: list[tuple[str, Any]] = [(key, a or b) for key, a, b in pairs]
    try:
        told += _walk(tomllib.loads(text))
    except (ValueError, RecursionError):
        lines = [line for line in text.splitlines() if "command" in line]
        told += [("command", ["", *(a or b for a, b in re.findall(r"\"([^\"]*)\"|'([^']*)'", line))]) for line in lines]
    found: set[str] = set()
    for key, value in told:
        if key.endswith("command"):
            words = value.split() if isinstance(value, str) else [str(word) for word in value]
            found |= {word for word in words[1:] if not word.startswith(("-", "/"))}
            found |= {word.partition("=")[2] for word in words if word.startswith("-")}
        elif isinstance(value, str) and _SECRET.search(key) and key != _PUBLIC:
            found.add(value)
    return found


def _unquoted(value: str) -> str:
    """A value of an environment file (systemd.exec(5)), which may stand in quotes."""
    quoted = len(value) > 1 and value[0] == value[-1] and value[0] in "\"'"
    return value[1:-1] if quoted else value


def _words(value: str) -> list[str]:
    """Of options the words that may be secret; of a command each."""
    try:
        words = shlex.split(_unquoted(value))
    except ValueError:
        return [value]
    told, secret = "", []
    for word in words:
        name, equals, given = word.partition("=")
        if word.startswith("--"):
            told = name
            secret += [given] if equals and name not in _OPTIONS else []
        elif told not in _OPTIONS and told != "--camera":
            secret += [word, *word.split()]
    return secret


def _options(value: str) -> str:
    try:
        words = shlex.split(_unquoted(value))
    except ValueError:
        return OUT
    secret = set(_words(value))
    return " ".join(OUT if word in secret or word.partition("=")[2] in secret else word for word in words)


def _shown(value: Any, key: str = "") -> Any:
    if isinstance(value, dict):
        return {name: _shown(inner, name) for name, inner in value.items()}
    if isinstance(value, list):
        return [_shown(inner, key) for inner in value]
    return value if isinstance(value, bool | int | float) or key in _SHOWN else OUT


def _walk(document: Any) -> Iterable[tuple[str, Any]]:
    if isinstance(document, Mapping):
        for key, value in document.items():
            yield str(key), value
            yield from _walk(value)
    elif isinstance(document, list | tuple):
        for value in document:
            yield from _walk(value)
