"""What stands in the picture: sun and moon."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from controller.decide import sky
from controller.decide.advice.ahead import Ahead, local, stretch
from controller.decide.advice.view import Field, Frame, field_of_view, stays
from controller.decide.moon import Moon, illuminated
from controller.decide.plan import Plan
from controller.words.advice import Costs, FieldOfView, InPicture, Warned
from controller.words.stops import shutter_time

DARK_DEG = -12.0
"""From here down stars shape the picture. Common practice, no source."""

SUN_REMEDY = "Put a solar filter before the lens, or turn it away or cover it until the sun is out of the picture"

_BURNS_S = 0.5  # with the sun in the picture (common practice, no source)
_MOON_BURNS_S = 1.0
_LIT = 0.25
_BRIGHTER_EV = 0.5
_WHILE_S = 1800.0


def field(plan: Plan) -> Field | None:
    """The angles of view; None where the plan does not tell lens and sensor."""
    optics = plan.optics
    if optics is None or optics.focal_mm is None or optics.sensor_mm is None:
        return None
    return field_of_view(optics.sensor_mm, optics.focal_mm)


def frame(plan: Plan) -> Frame | None:
    """Where the picture's edges lie; None where the plan does not tell."""
    angles = field(plan)
    if angles is None or plan.view is None:
        return None
    return Frame(plan.view.azimuth_deg, plan.view.altitude_deg, angles)


def described(angles: Field | None) -> FieldOfView | None:
    """The same, for the document."""
    if angles is None:
        return None
    return FieldOfView(
        horizontal_deg=round(angles.horizontal_deg, 2),
        vertical_deg=round(angles.vertical_deg, 2),
        diagonal_deg=round(angles.diagonal_deg, 2),
    )


# ---- sun and moon


def in_picture(plan: Plan, ahead: Ahead) -> list[InPicture]:
    """When sun and moon stand in the picture during a window."""
    edges = frame(plan)
    if edges is None:
        return []
    found = []
    for body in ("sun", "moon"):
        for stay in stays(edges, body, plan.site.latitude, plan.site.longitude, ahead.begin_utc, ahead.told_utc):
            during = [p for p in ahead.points if stay.enters_utc <= p.utc <= stay.leaves_utc]
            during += [ahead.at(utc)[2] for utc in (stay.enters_utc, stay.leaves_utc)]
            found.append(
                InPicture(
                    body=body,
                    enters_utc=stay.enters_utc,
                    enters_local=local(plan, stay.enters_utc),
                    leaves_utc=stay.leaves_utc,
                    leaves_local=local(plan, stay.leaves_utc),
                    longest_exposure_s=max(p.longest.shutter_s for p in during),
                )
            )
    return sorted(found, key=lambda stay: stay.enters_utc)


def of_picture(plan: Plan, ahead: Ahead, there: Sequence[InPicture]) -> Iterator[Warned]:
    """Sun and moon where they spoil pictures."""
    for stay in there:
        when = stretch(plan, stay.enters_utc, stay.leaves_utc, ahead.begin_utc)
        exposures = f"exposures of up to {shutter_time(stay.longest_exposure_s)}"
        if stay.body == "sun":
            long = stay.longest_exposure_s >= _BURNS_S
            what = f"the sun stands in the picture {when}, with {exposures}"
            what += ": its disc burns into them" if long else ": expect flare, and burnt sky around it"
            costs = Costs.NIGHT if long else Costs.COMFORT
            yield Warned(costs=costs, what=what, remedy=SUN_REMEDY, utc=stay.enters_utc)
        elif stay.longest_exposure_s >= _MOON_BURNS_S and (lit := illuminated(stay.enters_utc)) > _LIT:
            what = f"the moon, {100 * lit:.0f} % lit, stands in the picture {when}, with {exposures}: it burns out"
            remedy = "Turn the view, or choose another night"
            yield Warned(costs=Costs.QUALITY, what=what, remedy=remedy, utc=stay.enters_utc)


def of_moonlight(plan: Plan, ahead: Ahead) -> Iterator[Warned]:
    """The moon up in the dark, where it makes the sky brighter than stars stand."""
    lit = []
    for point in ahead.points:
        if point.sun_altitude_deg <= DARK_DEG and point.moon_altitude_deg > 0 and point.utc <= ahead.end_utc:
            moonless = sky.scene_ev(point.sun_altitude_deg, sky.night_lx(Moon(-90.0, 0.0), plan.site.floor_lx))
            if (brighter_ev := point.scene_ev - moonless) > _BRIGHTER_EV:
                lit.append((point.utc, brighter_ev))
    if not lit or lit[-1][0] - lit[0][0] < _WHILE_S:
        return
    first_utc, last_utc = lit[0][0], lit[-1][0]
    when, most_ev = stretch(plan, first_utc, last_utc, ahead.begin_utc), max(ev for _, ev in lit)
    what = (
        f"the moon, {100 * illuminated(first_utc):.0f} % lit, is up in the dark {when} and lifts the light by up "
        f"to {most_ev:.1f} EV: faint stars go, and the land is lit"
    )
    remedy = "For stars choose a night on which it is thin, or down while it is dark"
    yield Warned(costs=Costs.QUALITY, what=what, remedy=remedy, utc=first_utc, worst_ev=round(most_ev, 2))
