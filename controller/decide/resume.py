"""Going on from the log: what was in force when the rig was stopped."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from controller.decide import exposure as dials
from controller.decide import follow
from controller.decide.bracket import Bracket, exposures, room_s
from controller.decide.exposure import ANY_BODY, Body, Triple
from controller.decide.follow import Light
from controller.decide.place import place_at
from controller.decide.plan import FixedLight, FollowLight, Plan
from controller.decide.schedule import Window
from controller.decide.step import Adjust, Moment, Progress, Slot, limits_in_force, next_slot
from controller.words.brackets import index_of, middle_index
from controller.words.documents import Frame

_ROUNDS = 6
_SAME_EV = 0.1
_AT_LIMIT_EV = 0.7  # a frame further from what was asked for was held back by a limit


def resume(
    plan: Plan,
    window: Window,
    now: Moment,
    *,
    last: Frame,
    frames_done: int,
    rows: Sequence[Frame] = (),
    adjust: Adjust | None = None,
    then: Adjust | None = None,
    body: Body | None = None,
) -> Progress:
    """Go on from the last slot in the log, after a restart: with its interval and exposure in force.

    `then` is what was in force of changes when the last slot was decided, where that is not the present `adjust`.

    The next slot is due one interval after the last one, even if that has passed: what was missed is logged. Of a plan
    with brackets `rows` are the log's before `last`, those of its bracket and of the one before: what is left of the
    bracket goes on around the same exposure. Where they are not there the bracket is chosen anew.
    """
    due_utc = last.due_utc + last.interval_s
    progress = Progress(
        window=window,
        seq=last.seq + 1,
        due_mono=now.mono + due_utc - now.utc,
        due_utc=due_utc,
        interval_s=last.interval_s,
        exposure=_exposure(last),
        frames_done=frames_done,
        light=_known(plan, last, then or adjust),
        unspent_s=last.interval_s,
    )
    if plan.light.bracket_ev is None:
        return progress
    by_seq = {row.seq: row for row in [*rows, last]}
    return _in_bracket(plan, adjust or Adjust(), then or adjust, body or ANY_BODY, progress, by_seq)


def light_after(plan: Plan, last: Frame, adjust: Adjust | None = None) -> Light:
    """What a logged frame tells of the light: its picture, or where that was not metered what was asked for its
    exposure, which was right when it was chosen, the bias in force included."""
    held = _exposure(last)
    if held is None:
        return Light()
    place, scene = place_at(plan.site, last.due_utc), last.scene_ev
    if scene is None:
        asked = held.ev if last.target_ev is None else last.target_ev
        asked += plan.light.offsets[index_of(last.seq, plan.light.offsets)]
        scene = asked
        if isinstance(plan.light, FollowLight):
            asked += plan.light.bias_ev + (adjust.bias_ev if adjust is not None else 0.0)
            for _ in range(_ROUNDS):  # how bright it is to be depends on the scene itself
                scene = asked + follow.brightness(plan.light, scene, place.altitude_deg)
    mid_utc = last.due_utc + held.shutter_s / 2
    model_ev = place.model_ev(mid_utc)
    guess = Light(offset_ev=scene - model_ev)  # the exposure was right for it: no surprise
    return follow.measured(guess, mid_utc, model_ev, scene, last.clipped or 0.0, last.black or 0.0)


def _known(plan: Plan, last: Frame, adjust: Adjust | None) -> Light:
    """The same, as well known as before: no start anew, at which the exposure goes to its place in one step."""
    return replace(light_after(plan, last, adjust), settled_utc=-math.inf)


def _exposure(row: Frame) -> Triple | None:
    if not (row.shutter_s and row.aperture and row.iso):
        return None
    return dials.triple(row.shutter_s, row.aperture, row.iso)


def _in_bracket(
    plan: Plan, adjust: Adjust, then: Adjust | None, body: Body, progress: Progress, rows: Mapping[int, Frame]
) -> Progress:
    """The same progress with what is left of the bracket that the last row belongs to."""
    offsets = plan.light.offsets
    count = len(offsets)
    last = rows[progress.seq - 1]
    begun = last.seq - index_of(last.seq, offsets)
    mine = [row for seq in range(begun, last.seq + 1) if (row := rows.get(seq)) is not None]
    before = [row for seq in range(begun - count, begun) if (row := rows.get(seq)) is not None]
    lit = [row for row in [*before, *mine] if index_of(row.seq, offsets) == middle_index(offsets)]
    metered = [row for row in lit if row.scene_ev is not None]
    light = _known(plan, (metered or lit or [last])[-1], then)
    progress = replace(progress, light=light, interval_s=None, exposure=None)
    taken = [exposure for row in mine if (exposure := _exposure(row)) is not None]
    if len(taken) <= last.seq - begun:
        return progress
    before_s = sum(row.interval_s for row in before) if len(before) == count else None
    at_0 = [row for row in before if offsets[index_of(row.seq, offsets)] == 0]
    held = _exposure(at_0[-1]) if at_0 else None
    first = replace(progress, seq=begun, due_mono=0.0, due_utc=mine[0].due_utc, interval_s=before_s, exposure=held)
    anew = next_slot(plan, adjust, first, body, Moment(mine[0].due_utc, 0.0))
    if isinstance(anew, Slot) and mine[0].target_ev is not None and isinstance(plan.light, FollowLight):
        then = replace(adjust, bias_ev=adjust.bias_ev + anew.target_ev - mine[0].target_ev)  # asked for as it was
        anew = next_slot(plan, then, first, body, Moment(mine[0].due_utc, 0.0))
    if not isinstance(anew, Slot) or anew.bracket is None:
        return progress
    base = _base(plan, adjust, body, mine, anew.base)
    if len(taken) == count:
        return replace(progress, interval_s=sum(row.interval_s for row in mine), exposure=base)
    cycle_s = anew.bracket.interval_s
    room = room_s(cycle_s, plan.pace.min_gap_s, offsets)
    rest = exposures(plan.light, base, limits_in_force(plan, adjust), body, room)[len(taken) :]
    target_ev = base.ev if last.target_ev is None else last.target_ev + offsets[len(taken) - 1]
    whole = Bracket(cycle_s, target_ev, base, (*taken, *rest))
    return replace(progress, interval_s=cycle_s, exposure=base, bracket=whole)


def _base(plan: Plan, adjust: Adjust, body: Body, mine: list[Frame], anew: Triple) -> Triple:
    """What a bracket is around: its frame at 0 EV; while that is still to come, what the frames before it are around.

    `anew` is what would be chosen with what the log knows: mostly the same.
    """
    light, offsets = plan.light, plan.light.offsets
    for row in mine:
        exposure, offset = _exposure(row), offsets[index_of(row.seq, offsets)]
        if exposure is None or row.target_ev is None or isinstance(light, FixedLight):
            continue
        if offset == 0:
            return exposure
        around_ev = exposure.ev + offset
        if abs(exposure.ev - row.target_ev) < _AT_LIMIT_EV and abs(around_ev - anew.ev) > _SAME_EV:
            limits = limits_in_force(plan, adjust)
            return dials.allocate(around_ev, limits, light.giving_way, body, math.inf)
    return anew
