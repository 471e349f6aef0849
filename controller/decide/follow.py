"""Follow the light: what the scene's brightness will be, from the sky model and the pictures so far (docs/follow.md).

The sky model knows how fast a clear sky darkens; what it cannot know (clouds, hills, lamps, the direction that the
camera looks in) is the offset between scene and model. A Kalman filter estimates that offset and its rate, and carries
both to the next frame's mid-exposure, so that a dusk is followed without lag. Where the light swings back and forth
within minutes, as under broken cloud, readings count for less, and the exposure follows what stays.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from controller.decide.plan import FollowLight

STEP_EV = 1 / 3
_LATE_S = 600.0  # no picture comes later than this
_LONG_S = 86_400.0  # after which a reading says no more than where the light may be

NIGHT = ((5.0, 0.0), (-3.0, -0.7), (-10.0, -1.7))
"""How bright a picture should be, EV against mid grey, by scene EV: the darker the scene, the darker its picture."""

_DRIFT_VAR_S = 1e-5  # EV² a second that the offset wanders besides its rate
_RATE_SD = 0.0012  # EV a second, 0.07 a minute: what a sky may darken faster or slower than the model's
_UNKNOWN_RATE_SD = 0.004  # before the first pictures: the light of a town stops a dusk at 0.3 a minute
_RATE_S = 240.0  # and for how long a rate lasts
_JUMP_RATE_SD = 0.005  # after a jump: what jumped may go on
_READING_SD = 0.05  # EV: noise and JPEG codes of a mean near mid grey
_CURVE_SD = 0.1  # a surprise is read far from mid grey, where the tone curve is known less well: EV per EV
_UNKNOWN_VAR = 9.0  # EV²: before the first picture the model may be off by 3 EV
_SETTLED_VAR = 0.3

_SWING_S = 110.0  # light that turns within about three times so long is swinging, not going anywhere
_SWING_MEAN_S = 900.0
_CALM_VAR = 0.02**2  # what a camera's own noise looks like
_SWING_PRIOR_S = 120.0
_SWING_LASTS_S = 600.0  # readings closer to each other than this see the same swing
_SWING_FREE_VAR = 0.05**2  # so much of it is followed
_SWING_FADES_EV = 1 / 60  # a rate lasts half so long under light that swings by this
_HIGHLIGHTS, _HIGHLIGHTS_MOST_EV = 0.7, 0.3  # of the swing, kept free above the trend

_GATE_EV = 0.4  # a reading further off than this (and 4 sd) may be a passing headlight
_CONFIRM, _CONFIRM_S = 3, 12.0  # and is believed once so many readings agree on it, for so long
_CLIPPED_SD = 2.0  # EV: how far above the reading of an all clipped frame the scene may be
_PUSH_EV = 2.0  # how far to go beyond the bound that an all clipped or all black frame gives
_PUSH_SETTLED_EV = 1.5  # where the light is known it changes by less than it may be off at the start
_BOUND_FROM, _PUSH_FROM = 0.5, 0.8  # shares at an end of the scale: a reading fades out, then is nothing but a bound

_ALONG_EV = STEP_EV / 2  # with the trend, a step is due as soon as it brings the exposure nearer
_STILL_EV = 0.27  # without one, half a step and room for noise
_AGAINST_EV = 0.45  # against it, only a real change of light is followed: the trend itself will bring the rest
_TREND_EV_MIN = 0.1
_SWING_EDGE, _SWING_MOST_EV = 8.0, 0.3  # turning needs so much more, per EV that the light swings, and at most
_JUMP_EV = 1.5  # from here on the limit on EV per minute would only spoil frames
_FAST_EV_MIN = 0.7  # no dusk goes as fast, an eclipse does
_JUMP_INTERVALS = 2.5  # the slot after a picture may have been ordered before that was metered


@dataclass(frozen=True, slots=True)
class Swing:
    """How the light goes back and forth within minutes, from the readings' offsets.

    Mean squares are kept apart by sign: light that swings is off to both sides, light that goes somewhere to one.
    """

    near_ev: float = 0.0  # averaged over _SWING_S, and that average averaged again
    far_ev: float = 0.0
    over_ev2: float = 0.0  # how far readings are off the level and slope of those two, upwards and downwards
    under_ev2: float = 0.0
    bright_ev2: float = 0.0  # and off what the filter foresaw
    dark_ev2: float = 0.0
    known_s: float = 0.0  # for how long that has been counted
    slow_ev: float = 0.0  # the estimated offset, over _SWING_MEAN_S


@dataclass(frozen=True, slots=True)
class Light:
    """What is known of the scene's brightness against the sky model: scene EV minus model EV, its rate, and how sure.

    `doubt_ev` is the surprise of the last `doubts` readings, that do not fit, since `doubt_utc`; they wait for more.
    """

    utc: float | None = None  # of the last reading
    offset_ev: float = 0.0
    rate_ev_s: float = 0.0
    variance: float = _UNKNOWN_VAR
    rate_variance: float = _UNKNOWN_RATE_SD**2
    covariance: float = 0.0
    swing: Swing = Swing()
    doubt_ev: float = 0.0
    doubt_utc: float = 0.0
    doubts: int = 0
    jumped_utc: float = -math.inf  # when doubts were last believed
    settled_utc: float = -math.inf  # since when it is settled

    @property
    def settled(self) -> bool:
        """Whether pictures have told the offset well enough to move with care."""
        return self.variance < _SETTLED_VAR

    @property
    def swing_ev(self) -> float:
        """How far the light swings back and forth within minutes, EV rms, beyond a camera's noise."""
        s = self.swing
        return math.sqrt(max(0.0, 2 * math.sqrt(min(s.over_ev2 * s.under_ev2, s.bright_ev2 * s.dark_ev2)) - _CALM_VAR))

    @property
    def highlights_ev(self) -> float:
        """How much less to expose under light that swings, so that its bright moments are not lost."""
        return min(_HIGHLIGHTS_MOST_EV, _HIGHLIGHTS * self.swing_ev)

    @property
    def slow_ev(self) -> float:
        """The offset over _SWING_MEAN_S, for what must not sway with clouds."""
        return self.swing.slow_ev

    def offset_at(self, utc: float) -> float:
        """The offset to expect at a moment after the last reading, EV: its rate carries it on for a few minutes."""
        if self.utc is None or utc <= self.utc:
            return self.offset_ev
        lasts_s = self.rate_lasts_s
        return self.offset_ev + self.rate_ev_s * lasts_s * -math.expm1((self.utc - utc) / lasts_s)

    @property
    def rate_lasts_s(self) -> float:
        """For how long the rate goes on, seconds: under light that swings it is soon over."""
        return _RATE_S / (1 + self.swing_ev / _SWING_FADES_EV)


def shifted(light: Light, step_s: float) -> Light:
    """The same, once the wall's clock was put forward by so many seconds."""
    if light.utc is None:
        return light
    names = ("utc", "doubt_utc", "jumped_utc", "settled_utc")
    return replace(light, **{name: getattr(light, name) + step_s for name in names})


def measured(light: Light, utc: float, sky_ev: float, scene_ev: float, clipped: float, black: float) -> Light:
    """Take in one picture, exposed around `utc`.

    `clipped` and `black` are shares of pixels. Where much of a frame is clipped, its reading is a lower bound: it may
    raise the estimate, and hardly lowers it; all clipped, the scene must be brighter still. Black frames likewise.
    What is no number teaches nothing.
    """
    if not math.isfinite(utc + sky_ev + scene_ev + clipped + black):
        return light
    if light.utc is not None and utc <= light.utc:
        if utc > light.utc - _LATE_S:
            return light  # a picture that came late; a newer one has spoken
        light = Light(offset_ev=light.offset_ev)  # the wall's clock was set back: what was known of time is void
    elif light.utc is not None and utc > light.utc + _LONG_S:
        light = Light(offset_ev=light.offset_ev)
    since_s = 0.0 if light.utc is None else utc - light.utc
    ahead = _ahead(light, since_s)
    surprise = scene_ev - sky_ev - ahead.offset_ev
    push_ev = _pushed(surprise, clipped, black, _PUSH_SETTLED_EV if light.settled else _PUSH_EV)
    scene_ev, surprise = scene_ev + push_ev, surprise + push_ev
    bounded = clipped if surprise < 0 else black
    bound_sd = _CLIPPED_SD * bounded / max(1e-6, 1 - _rise(bounded, _BOUND_FROM, _PUSH_FROM))
    noise = (_READING_SD + _CURVE_SD * min(abs(surprise), 6.0) + bound_sd) ** 2
    swing_var, jumped_utc = light.swing_ev**2, light.jumped_utc
    jumped = light.utc is not None and abs(surprise) > max(_GATE_EV, 4 * math.sqrt(ahead.variance + noise + swing_var))
    if jumped:
        again = light.doubt_ev * surprise > 0 and abs(surprise - light.doubt_ev) < max(0.5, abs(surprise) / 2)
        since, doubts = (light.doubt_utc, light.doubts + 1) if again else (utc, 1)
        if doubts < _CONFIRM or utc - since < _CONFIRM_S:
            return Light(utc, *ahead, light.swing, surprise, since, doubts, jumped_utc, light.settled_utc)
        jumped_utc = utc
        ahead = ahead._replace(variance=_UNKNOWN_VAR, covariance=0.0, rate_variance=_JUMP_RATE_SD**2)
    elif light.settled:
        noise += max(0.0, swing_var - _SWING_FREE_VAR) * max(1.0, _SWING_LASTS_S / max(since_s, 1.0))
    gain = ahead.variance / (ahead.variance + noise)
    rate_gain = ahead.covariance / (ahead.variance + noise)
    beyond = min(abs(surprise), _CLIPPED_SD) * (clipped if surprise > 0 else black)  # how much further it may be
    offset_ev, variance = ahead.offset_ev + gain * surprise, ahead.variance * (1 - gain) + beyond**2
    swing = _still(scene_ev - sky_ev, offset_ev)  # a jump among the first readings is the start's
    if light.settled and variance < _SETTLED_VAR and not (jumped and light.swing.known_s < _SWING_PRIOR_S):
        swing = _swung(light.swing, since_s, scene_ev - sky_ev, surprise, offset_ev)
    return Light(
        utc,
        offset_ev,
        rate_ev_s=ahead.rate_ev_s + rate_gain * surprise,
        variance=variance,
        rate_variance=ahead.rate_variance - rate_gain * ahead.covariance,
        covariance=ahead.covariance * (1 - gain),
        swing=swing,
        jumped_utc=jumped_utc,
        settled_utc=light.settled_utc if light.settled else utc,
    )


class _Ahead(NamedTuple):
    """The same quantities as Light's, in its order."""

    offset_ev: float
    rate_ev_s: float
    variance: float
    rate_variance: float
    covariance: float


def _ahead(light: Light, since_s: float) -> _Ahead:
    """Offset and rate carried on: the rate fades (Ornstein and Uhlenbeck's process), what is known of both too."""
    keep = math.exp(-since_s / _RATE_S)
    reach = _RATE_S * (1 - keep)
    fresh = _RATE_SD**2 * (1 - keep * keep)
    lasts_s = light.rate_lasts_s  # what is not known of a rate grows as ever
    fades = math.exp(-since_s / lasts_s)
    variance = min(
        _UNKNOWN_VAR,
        light.variance
        + 2 * reach * light.covariance
        + reach * reach * light.rate_variance
        + _DRIFT_VAR_S * since_s
        + fresh * since_s * since_s / 3,
    )
    rate_variance = keep * keep * light.rate_variance + fresh
    together = math.sqrt(variance * rate_variance)  # more than that no two quantities can have in common
    covariance = keep * (light.covariance + reach * light.rate_variance) + fresh * since_s / 2
    return _Ahead(
        light.offset_ev + light.rate_ev_s * lasts_s * (1 - fades),
        rate_ev_s=fades * light.rate_ev_s,
        variance=variance,
        rate_variance=rate_variance,
        covariance=max(-together, min(together, covariance)),
    )


def _still(reading_ev: float, offset_ev: float) -> Swing:
    return Swing(near_ev=reading_ev, far_ev=reading_ev, slow_ev=offset_ev)


def _swung(before: Swing, since_s: float, reading_ev: float, surprise: float, offset_ev: float) -> Swing:
    """How much the light swings: off its own level and slope over _SWING_S, and off what was foreseen."""
    share = -math.expm1(-since_s / _SWING_S)
    near = before.near_ev + share * (reading_ev - before.near_ev)
    far = before.far_ev + share * (near - before.far_ev)
    off = reading_ev - 2 * near + far
    known_s = before.known_s + since_s
    long = max(-math.expm1(-since_s / _SWING_MEAN_S), since_s / (known_s + _SWING_PRIOR_S))
    return Swing(
        near,
        far,
        before.over_ev2 + long * (max(0.0, off) ** 2 - before.over_ev2),
        before.under_ev2 + long * (min(0.0, off) ** 2 - before.under_ev2),
        before.bright_ev2 + long * (max(0.0, surprise) ** 2 - before.bright_ev2),
        before.dark_ev2 + long * (min(0.0, surprise) ** 2 - before.dark_ev2),
        known_s,
        before.slow_ev + long * (offset_ev - before.slow_ev),
    )


def brightness(rule: FollowLight, scene_ev: float, sun_altitude_deg: float) -> float:
    """How bright the picture should be against mid grey, EV: by the plan's sun altitudes, or by the light itself."""
    return along(NIGHT, scene_ev) if rule.brightness is None else along(rule.brightness, sun_altitude_deg)


def target_ev(rule: FollowLight, scene_ev: float, sun_altitude_deg: float, bias_ev: float = 0.0) -> float:
    """The exposure, EV at ISO 100, that suits a scene. `bias_ev` comes on top of the plan's; positive is brighter."""
    return scene_ev - brightness(rule, scene_ev, sun_altitude_deg) - rule.bias_ev - bias_ev


def settle(in_force_ev: float, wanted_ev: float, trend_ev_min: float, light: Light, heading: int) -> float:
    """The exposure to aim at: the one in force unless the wanted one is far enough off.

    `heading` is the direction of the last step (−1, 0, 1). On along it, a step comes as soon as it helps; turning needs
    more, so that noise and the stops' own rounding cannot make the exposure hunt: more still against a trend, which
    will bring the rest, and under light that swings.
    """
    off = wanted_ev - in_force_ev
    if abs(off) <= (_edge_ev(off, trend_ev_min, light.swing_ev, heading) if light.settled else _ALONG_EV):
        return in_force_ev
    return wanted_ev


def at_once(light: Light, off_ev: float, trend_ev_min: float, utc: float, interval_s: float) -> bool:
    """Whether an exposure that is so far off goes to where it should be in one step, past the plan's limit.

    So at the start, and where the light itself has jumped or runs away: a limit would spoil frames. What a person
    changes is no change of the light.
    """
    if not light.settled or utc - light.settled_utc <= _JUMP_INTERVALS * interval_s:
        return True
    jumped = utc - light.jumped_utc <= _JUMP_INTERVALS * interval_s
    fast = abs(trend_ev_min) > _FAST_EV_MIN and off_ev * trend_ev_min > 0
    return fast or (jumped and abs(off_ev) > _JUMP_EV)


def _edge_ev(off: float, trend_ev_min: float, swing_ev: float, heading: int) -> float:
    if off * heading > 0:
        return _ALONG_EV
    trend = min(1.0, abs(trend_ev_min) / _TREND_EV_MIN)
    edge = _ALONG_EV if off * trend_ev_min > 0 and not heading else _AGAINST_EV if off * trend_ev_min < 0 else _STILL_EV
    return _STILL_EV + trend * (edge - _STILL_EV) + min(_SWING_MOST_EV, _SWING_EDGE * swing_ev)


def along(points: Sequence[tuple[float, float]], x: float) -> float:
    """The value of a curve at `x`: linear between its points, constant beyond them."""
    points = points if points[0][0] <= points[-1][0] else points[::-1]
    after = bisect_left(points, (x,))
    if after == 0:
        return points[0][1]
    if after == len(points):
        return points[-1][1]
    (x0, y0), (x1, y1) = points[after - 1], points[after]
    return y0 + (y1 - y0) * (x - x0) / (x1 - x0)


def _pushed(surprise: float, clipped: float, black: float, most_ev: float) -> float:
    """How much further than its bound the scene of an all clipped or all black frame is taken to be, EV.

    Nothing where the bound agrees with what was foreseen: a frame that is meant to come out white tells nothing new.
    """
    beyond = _rise(clipped, _PUSH_FROM, 1.0) if surprise > 0 else -_rise(black, _PUSH_FROM, 1.0)
    return beyond * min(most_ev, abs(surprise))


def _rise(share: float, start: float, end: float) -> float:
    """0 up to a share of pixels, 1 from another on."""
    return min(1.0, max(0.0, (share - start) / (end - start)))
