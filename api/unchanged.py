"""Answers that whoever asks has already."""

from __future__ import annotations

from starlette.responses import Response
from starlette.staticfiles import NotModifiedResponse


def unless_known(if_none_match: str | None, answer: Response) -> Response:
    """The answer, or 304 in its place where its entity tag is among those sent (RFC 9110, section 13.1.2)."""
    known = [tag.strip().removeprefix("W/") for tag in (if_none_match or "").split(",")]
    return NotModifiedResponse(answer.headers) if answer.headers["etag"] in known else answer
