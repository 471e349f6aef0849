"""What a body's codes mean in light: its tone curve, recovered from pictures whose exposures are known.

Two pictures of a scene that differ by a known exposure say how far apart in light their codes are. All such pairs
together give the curve, as Debevec & Malik (SIGGRAPH 1997) do it: least squares for g(code) = log2 of the light on the
sensor, with the light of each place in the scene unknown too, codes near the ends weighing little, and a penalty on
roughness. Ours differs in three ways. Unknown is the departure from sRGB, whose local contrast runs straight between a
few knots, so that small noisy pictures suffice. Places are cells of the picture whose light varies little. And the
scene's light may change between the pictures: as the sky model says, and by a drift that is solved for alongside.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from controller.decide.meter import MID_CODE, SRGB, Curve
from controller.decide.picture import read_picture

Array = NDArray[np.float64]

LOWEST, HIGHEST = 20, 240
"""Codes between which a curve is judged."""

STEP_EV = 0.2
"""Exposures that differ by so much are a step."""

_GRID = 26, 40  # cells of a picture, down and across
_FLAT = 7.0  # standard deviation of the codes in a cell whose mean stands for them
_CODES = 4.0, 250.0  # means that are neither black nor clipped

_KNOTS = np.array([1, 4, 10, 20, 32, 46, 62, 80, 100, MID_CODE, 140, 165, 190, 212, 230, 244, 255])
_BASE = np.log2(np.maximum(SRGB.linear.astype(np.float64), 1e-9))
_AT = _BASE[_KNOTS]
_BEND_SD = 0.12  # change of local contrast, against sRGB's, from one knot to the next
_SLOPE_SD = 0.5
_CODE_SD, _CELL_SD = 1.2, 0.03  # what is uncertain in a cell's mean: in codes, and in EV
_OUTLIER_EV = 0.15
_ROUNDS = 4

_DRIFT_SD = 0.5  # EV a minute: a bracket in broken cloud
_RATE_SD = 0.15  # EV a minute by which a clear sky departs from its model
_RATE_WALK_SD = 0.05  # EV a minute from one pair to the next

_CONTRAST = 0.35, 3.0  # local contrast against sRGB's that a picture style may have
_SPREAD = 60, 160  # codes that the pictures must reach down and up to
_BEST_EV, _BETTER = 0.06, 0.9
_PAIRS = 12
_WIDE_EV = 1.0  # steps, as of a plan's brackets, beside which the light's own change is small
_SHOTS = 5


@dataclass(frozen=True, slots=True, eq=False)
class Shot:
    """A picture for learning: mean codes of its cells (NaN where one cannot be used), the true EV at ISO 100 that it
    was exposed with, the middle of its exposure, and the EV that the sky model expects of the scene then (any constant
    where there is no model)."""

    cells: NDArray[np.float32]
    exposure_ev: float
    utc: float
    sky_ev: float


@dataclass(frozen=True, slots=True, eq=False)
class Learned:
    """A curve, how far two halves of the pictures disagree on it (EV rms on codes 20–240), and how well it explains
    them against the curve before: rms residuals in EV."""

    curve: Curve
    quality_ev: float
    residual_ev: float
    before_ev: float


@dataclass(frozen=True, slots=True)
class NotLearned:
    """Why the pictures give no curve that is better than the one in use; `enough` is false where there are too few."""

    why: str
    enough: bool = True


def cells(jpeg: bytes, shape: float | None = None, every: int = 1) -> NDArray[np.float32]:
    """Mean codes of every n-th cell of a picture, all three channels in one line. Raises MeterError."""
    picture = read_picture(jpeg, shape)
    planes = picture.planes.astype(np.float32)
    size = planes.shape[1:]
    rows, columns = (np.arange(n) * m // n for n, m in ((min(g, m), m) for g, m in zip(_GRID, size, strict=True)))
    count = np.outer(np.diff(rows, append=size[0]), np.diff(columns, append=size[1])).astype(np.float32)
    mean = _sums(planes, rows, columns) / count
    variance = _sums(planes**2, rows, columns) / count - mean**2
    good = (variance < _FLAT**2) & (mean > _CODES[0]) & (mean.max(axis=0) < _CODES[1])
    found = np.full((3, *_GRID), np.nan, np.float32)
    found[:, : rows.size, : columns.size] = np.where(good, mean, np.nan)
    return found.ravel()[::every]


def _sums(planes: NDArray[np.float32], rows: NDArray[np.intp], columns: NDArray[np.intp]) -> NDArray[np.float32]:
    sums: NDArray[np.float32] = np.add.reduceat(np.add.reduceat(planes, rows, axis=1), columns, axis=2)
    return sums


def from_bracket(shots: Sequence[Shot], before: Curve = SRGB) -> Learned | NotLearned:
    """The curve from pictures of one scene, seconds apart, at known exposures; five at least."""
    if len(shots) < _SHOTS or max(s.exposure_ev for s in shots) - min(s.exposure_ev for s in shots) < 3:
        return NotLearned(f"{len(shots)} pictures over too few stops of exposure", enough=False)
    minutes = np.array([(shot.utc - shots[0].utc) / 60 for shot in shots])
    whole = _Group(shots, minutes[:, None], (0,))
    order = np.argsort([shot.exposure_ev for shot in shots], kind="stable")
    halves = [[_Group([shots[i] for i in half], minutes[half][:, None], (0,))] for half in (order[::2], order[1::2])]
    return _judged([whole], halves, np.array([[1 / _DRIFT_SD]]), before)


def from_steps(shots: Sequence[Shot], before: Curve = SRGB) -> Learned | NotLearned:
    """The curve from a shoot's own frames, in order of time: pairs of neighbours, some of them a step apart.

    Pairs without a step tell how fast the light really changes, and with it what of a step's change is the exposure's;
    steps of a stop and more need none.
    """
    pairs = [(a, b) for a, b in itertools.pairwise(shots) if 0 < b.utc - a.utc < 180]
    apart = [abs(b.exposure_ev - a.exposure_ev) for a, b in pairs]
    steps, wide = sum(ev >= STEP_EV for ev in apart), sum(ev >= _WIDE_EV for ev in apart)
    if min(steps, max(wide, len(pairs) - steps)) < _PAIRS:
        what = f"{steps} steps of exposure and {len(pairs) - steps} pairs of frames without one"
        return NotLearned(f"{what}; {_PAIRS} of each are needed", enough=False)
    groups = [_Group([a, b], np.array([[0.0], [(b.utc - a.utc) / 60]]), (k,)) for k, (a, b) in enumerate(pairs)]
    count = len(groups)
    walk = np.diff(np.eye(count), axis=0) / _RATE_WALK_SD
    prior = np.vstack([np.eye(count) / _RATE_SD, walk])
    quarters = np.arange(count) * 8 // count
    halves = [[g for g, q in zip(groups, quarters, strict=True) if q % 2 == side] for side in (0, 1)]
    return _judged(groups, halves, prior, before)


# ---- least squares


class _Group:
    """Pictures whose cells see the same places. `moves` (pictures, columns) is what one unit of each of the unknown
    changes of light, numbered `columns`, does to each picture, EV."""

    def __init__(self, shots: Sequence[Shot], moves: Array, columns: tuple[int, ...]) -> None:
        codes = np.array([shot.cells for shot in shots], dtype=np.float64)
        seen = np.isfinite(codes)
        codes = codes[:, seen.sum(axis=0) >= 2]
        self.codes = np.nan_to_num(codes, nan=1.0)
        light = np.array([shot.sky_ev - shot.exposure_ev for shot in shots])
        # A code that says little of the light, for its curve is steep there, weighs little.
        steep = np.interp(self.codes, np.arange(256), np.gradient(_BASE))
        self.weights = np.isfinite(codes) / ((_CODE_SD * steep) ** 2 + _CELL_SD**2)
        self.asked: Array = np.broadcast_to(light[:, None], self.codes.shape)
        self.moves, self.columns = moves, columns


@dataclass(frozen=True, slots=True, eq=False)
class _Fit:
    departure: Array  # from sRGB at the knots, EV
    residual_ev: float


def _fit(groups: Sequence[_Group], prior: Array, start: Array, *, free: bool) -> _Fit:
    """Least squares with outliers weighing less round by round; `free`: the curve too, not only the light."""
    knots, lights = _KNOTS.size, prior.shape[1]
    departure: Array = start.copy()
    changes: Array = np.zeros(lights)
    for _ in range(_ROUNDS):
        left, right = np.zeros((knots + lights,) * 2), np.zeros(knots + lights)
        squares = weight = 0.0
        for group in groups:
            basis = _basis(group.codes)
            columns = [knots + c for c in group.columns]
            unknown = np.concatenate(
                [basis, -np.broadcast_to(group.moves[:, None, :], (*basis.shape[:2], len(columns)))], axis=2
            )
            wanted = group.asked - np.interp(group.codes, np.arange(256), _BASE)
            now = np.concatenate([departure, changes[list(group.columns)]])
            off = _centred(wanted - unknown @ now, group.weights)
            weights = group.weights / (1 + (off / _OUTLIER_EV) ** 2)
            squares += float((weights * _centred(wanted - unknown @ now, weights) ** 2).sum())
            weight += float(weights.sum())
            flat = _centred(unknown, weights[..., None]).reshape(-1, unknown.shape[2])
            into = [*range(knots), *columns]
            weighed = flat * weights.reshape(-1, 1)
            left[np.ix_(into, into)] += flat.T @ weighed
            right[into] += weighed.T @ _centred(wanted, weights).ravel()
        left[knots:, knots:] += prior.T @ prior * _strength(groups)
        if free:
            rough = _roughness()
            left[:knots, :knots] += rough.T @ rough
            solved: Array = np.linalg.solve(left, right)
            departure, changes = solved[:knots], solved[knots:]
        else:
            rest = right[knots:] - left[knots:, :knots] @ departure
            changes = np.asarray(np.linalg.solve(left[knots:, knots:], rest), dtype=np.float64)
    return _Fit(departure, float(np.sqrt(squares / max(weight, 1e-9))))


def _strength(groups: Sequence[_Group]) -> float:
    """How many cells speak of one change of light: what is known of it counts like all of them together."""
    return float(np.mean([group.codes.shape[1] for group in groups])) if groups else 1.0


def _basis(codes: Array) -> Array:
    """(…, knots): the departure at a code as a mean of those at the knots beside it, straight in log light."""
    at = np.interp(codes, np.arange(256), _BASE)
    after = np.clip(np.searchsorted(_AT, at), 1, _AT.size - 1)
    share = np.clip((at - _AT[after - 1]) / (_AT[after] - _AT[after - 1]), 0, 1)
    basis = np.zeros((*codes.shape, _AT.size))
    np.put_along_axis(basis, (after - 1)[..., None], (1 - share)[..., None], axis=-1)
    np.put_along_axis(basis, after[..., None], share[..., None], axis=-1)
    return basis


def _roughness() -> Array:
    """Rows whose squares are the penalty: bends, slopes, and mid grey that stays where it is."""
    slope = np.diff(np.eye(_AT.size), axis=0) / np.diff(_AT)[:, None]
    anchor = np.eye(_AT.size)[_KNOTS == MID_CODE] * 1e3
    return np.vstack([np.diff(slope, axis=0) / _BEND_SD, slope / _SLOPE_SD, anchor])


def _centred(values: Array, weights: Array) -> Array:
    """Without each cell's own mean over the pictures: the light of its place, which is not known."""
    total = np.maximum(weights.sum(axis=0), 1e-12)
    out: Array = values - (values * weights).sum(axis=0) / total
    return out


# ---- judging


def _judged(
    groups: Sequence[_Group], halves: Sequence[Sequence[_Group]], prior: Array, before: Curve
) -> Learned | NotLearned:
    codes = np.concatenate([group.codes[group.weights > 0] for group in groups])
    if codes.size < 500:
        return NotLearned("too little of the pictures is neither black nor clipped, and even", enough=False)
    low, high = np.percentile(codes, [2, 98])
    if low > _SPREAD[0] or high < _SPREAD[1]:
        what = f"the pictures hold codes {low:.0f} to {high:.0f} only"
        return NotLearned(f"{what}; {_SPREAD[0]} to {_SPREAD[1]} is needed", enough=False)
    nothing = np.zeros(_KNOTS.size)
    whole = _fit(groups, prior, nothing, free=True)
    parts = [_fit(half, prior, nothing, free=True).departure for half in halves]
    plain = _fit(groups, prior, _departure_of(before), free=False)
    contrast = 1 + np.diff(whole.departure) / np.diff(_AT)
    within = (_KNOTS[1:] > low) & (_KNOTS[:-1] < high)
    if not np.all((contrast[within] > _CONTRAST[0]) & (contrast[within] < _CONTRAST[1])):
        return NotLearned("no picture style has such a curve; the camera may not have exposed as it says")
    quality = _rms(parts[0] - parts[1]) / 2
    if not quality <= _BEST_EV:
        return NotLearned(f"two halves of the pictures disagree by {2 * quality:.2f} EV")
    if whole.residual_ev > _BETTER * plain.residual_ev:
        return NotLearned("the curve in use explains the pictures as well")
    return Learned(_curve(whole.departure), quality, whole.residual_ev, plain.residual_ev)


def _rms(departure: Array) -> float:
    codes = np.arange(LOWEST, HIGHEST + 1, dtype=np.float64)
    return float(np.sqrt(np.mean((_basis(codes) @ departure) ** 2)))


def _departure_of(curve: Curve) -> Array:
    light = np.log2(np.maximum(curve.linear[_KNOTS].astype(np.float64), 1e-9))
    departure: Array = light - light[_KNOTS == MID_CODE] - (_AT - _AT[_KNOTS == MID_CODE])
    return departure


def _curve(departure: Array) -> Curve:
    """Ascending by construction: local contrast is held inside its bounds where the pictures did not speak."""
    contrast = np.clip(1 + np.diff(departure) / np.diff(_AT), *_CONTRAST)
    light = np.concatenate([[0.0], np.cumsum(contrast * np.diff(_AT))])
    log = np.interp(_BASE[1:], _AT, light)
    linear = np.concatenate([[0.0], 2.0 ** (log - log[-1])])
    return Curve(linear.astype(np.float32))
