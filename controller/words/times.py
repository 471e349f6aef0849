"""UTC as POSIX seconds inside, as ISO 8601 in documents."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated

from pydantic import BeforeValidator, PlainSerializer


def iso(utc: float | None) -> str | None:
    """POSIX seconds as ISO 8601 UTC with milliseconds and 'Z'."""
    if utc is None:
        return None
    return datetime.fromtimestamp(round(utc, 3), UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def from_iso(text: str) -> float:
    """POSIX seconds of an ISO 8601 time that carries its offset from UTC; ValueError, for people, of another."""
    try:
        when = datetime.fromisoformat(text)
    except ValueError:
        when = None
    if when is None or when.tzinfo is None:
        raise ValueError(f"{text[:40]!r} is no time with its offset from UTC, such as 2026-12-03T17:20:05Z")
    return when.timestamp()


def _read(value: object) -> object:
    return from_iso(value) if isinstance(value, str) else value


Utc = Annotated[float, BeforeValidator(_read), PlainSerializer(iso, return_type=str, when_used="json")]
"""POSIX seconds in code, ISO 8601 in JSON."""
