"""Stars in the picture: how far they trail, and what may be done about it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from controller.decide.advice import trails
from controller.decide.advice.ahead import Ahead
from controller.decide.advice.picture import DARK_DEG, frame
from controller.decide.plan import FollowLight, Plan
from controller.decide.reach import reach_of
from controller.decide.step import Adjust
from controller.words.advice import Costs, Stars, Warned
from controller.words.stops import shutter_time

_A_STEP_EV = 0.2  # less is no step on a dial


def stars(plan: Plan, ahead: Sequence[Ahead]) -> Stars | None:
    """How far stars trail in the longest exposure in the dark; None where it does not get dark or no lens is told."""
    optics = plan.optics
    dark = [p for a in ahead if a.fine for p in a.points if p.sun_altitude_deg <= DARK_DEG and p.utc <= a.end_utc]
    if optics is None or optics.focal_mm is None or not dark:
        return None
    longest = max((p.longest for p in dark), key=lambda exposure: exposure.shutter_s)
    edges = frame(plan)
    declination = 0.0 if edges is None else edges.least_declination_deg(plan.site.latitude)
    focal_mm, pixel_um = optics.focal_mm, optics.pixel_um
    trail = pixel = npf = None
    if pixel_um is not None:
        trail = trails.trail_px(longest.shutter_s, focal_mm, pixel_um, declination)
        pixel = trails.points_s(1.0, focal_mm, pixel_um, declination)
        npf = trails.npf_s(longest.aperture, focal_mm, pixel_um, declination)
    return Stars(
        exposure_s=longest.shutter_s,
        aperture=longest.aperture,
        iso=longest.iso,
        declination_deg=round(declination, 2),
        trail_px=None if trail is None else round(trail, 2),
        one_pixel_s=None if pixel is None or pixel > 1e6 else round(pixel, 2),
        rule_500_s=round(trails.rule_500_s(focal_mm, optics.sensor_mm), 2),
        npf_s=None if npf is None or npf > 1e6 else round(npf, 2),
    )


def of_stars(plan: Plan, found: Stars | None) -> Iterator[Warned]:
    """Exposures in which stars are no points."""
    if found is None:
        return
    most_s = found.rule_500_s if found.npf_s is None else min(found.npf_s, found.rule_500_s)
    if found.exposure_s <= most_s:
        return
    by = "" if found.trail_px is None else f" by {found.trail_px:.1f} pixels"
    what = f"stars trail{by} in exposures of {shutter_time(found.exposure_s)}"
    rules = f"{found.rule_500_s:.2g} s by the 500 rule"
    if found.npf_s is not None:
        rules = f"{found.npf_s:.2g} s by the NPF formula, {rules}"
    remedy = f"For points expose for less: {rules}; {_made_up(plan, found, math.log2(found.exposure_s / most_s))}"
    yield Warned(costs=Costs.QUALITY, what=what, remedy=remedy)


def _made_up(plan: Plan, found: Stars, lacks_ev: float) -> str:
    """What makes up for a shorter exposure, as far as the plan's limits go."""
    if not isinstance(plan.light, FollowLight):
        return f"{lacks_ev:.1f} EV of ISO or aperture make up for it"
    darkest = reach_of(plan, Adjust(), None).darkest
    iso_ev, aperture_ev = math.log2(darkest.iso / found.iso), 2 * math.log2(found.aperture / darkest.aperture)
    ways = [way for way, ev in (("a higher ISO", iso_ev), ("a wider aperture", aperture_ev)) if ev > _A_STEP_EV]
    if iso_ev + aperture_ev >= lacks_ev - _A_STEP_EV:
        return f"{' or '.join(ways) or 'nothing else'} makes up for it"
    there = f", and only {iso_ev + aperture_ev:.1f} EV of {' and '.join(ways)} are left" if ways else ""
    at_limit = "" if ways else ", and ISO and aperture are at their limits"
    return f"that lacks {lacks_ev:.1f} EV{there}{at_limit}: allow a higher ISO, or take a faster lens"
