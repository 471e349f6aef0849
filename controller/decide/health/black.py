"""A lens that is covered, or frames that come out black by day."""

from __future__ import annotations

from controller.decide.health.facts import CameraSeen, Readings, Sign, of_shoots, says

NAME = "black frames"

IN_A_ROW = 5
DARKER_EV = 7.0
"""Below the sky model. Thunderclouds take four stops, a dense forest five (common practice, no source)."""

BRIGHT_AGAIN_EV = 5.0
BLACK, LIT = 0.95, 0.5  # shares of black pixels
_UNDER_MID_EV = -4.0  # a picture that is meant to come out darker tells nothing


def black_frames(now: Readings) -> list[Sign]:
    """With the sun above the horizon only, and an exposure that should show something; after sunset black may be right.

    A picture with light in it clears it at any hour.
    """
    return of_shoots(now, NAME, _black)


def _black(camera: CameraSeen) -> Sign | None:
    if len(camera.pictures) < IN_A_ROW:
        return None
    last = camera.pictures[-IN_A_ROW:]
    told = all(p.sun_altitude_deg > 0 and p.expected_ev > _UNDER_MID_EV for p in last)
    bad = told and all(p.black > BLACK or p.found_ev < p.expected_ev - DARKER_EV for p in last)
    newest = last[-1]
    good = newest.black < LIT and newest.found_ev > newest.expected_ev - BRIGHT_AGAIN_EV
    what = "The last pictures are black by day, the lens may be covered"
    what = what if not good else "Pictures show light again"
    remedy = "Look whether something is before the lens, and at the last picture"
    return Sign(NAME, says(bad, good), what, remedy, camera.id, raise_s=60.0, urgent=True)
