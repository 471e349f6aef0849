"""A body's choices on their way to a process and back."""

from __future__ import annotations

from controller.decide.exposure import Body

Choices = tuple[list[float], list[float], list[float], bool]


def choices_of(body: Body | None) -> Choices | None:
    """JSON-able."""
    return None if body is None else (list(body.shutter_s), list(body.aperture), list(body.iso), body.bulb)


def body_of(choices: Choices | None) -> Body | None:
    """The inverse of `choices_of`."""
    if choices is None:
        return None
    shutter_s, aperture, iso, bulb = choices
    return Body(tuple(shutter_s), tuple(aperture), tuple(iso), bulb)
