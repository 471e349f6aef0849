"""A restart in the middle of a bracket: what was begun goes on as if nothing had happened.

The reference is the same walk without a restart.
"""

from __future__ import annotations

import itertools

import pytest

from controller.decide.meter import Reading
from controller.decide.plan import Plan
from controller.decide.resume import resume
from controller.decide.schedule import windows
from controller.decide.step import Adjust, Moment, Slot, begin, metered, next_slot, used
from controller.words.documents import Frame
from tests.decide import changed, example
from tests.decide.test_step import NOON, moment

FOLLOW = example("quay_at_dusk")
FIXED = {"kind": "fixed", "shutter_s": 0.5, "aperture": 8, "iso": 100}
BRIGHTER_EV = 1.4  # the scene than the sky model


def bracketed(offsets: list[float], light: str) -> Plan:
    if light == "fixed":
        pace = {"kind": "steady", "interval_s": 9, "min_gap_s": 0.5}
        return changed(FOLLOW, light={**FIXED, "bracket_ev": offsets}, pace=pace)
    return changed(FOLLOW, light={"bracket_ev": offsets}, pace={"min_gap_s": 0.5})


def walked(plan: Plan, count: int, *, bias_ev: float = 0.0, since: int = 0) -> list[tuple[Slot, Frame]]:
    """Slots of a dusk, where interval and exposure both move, with their rows; with a bias since some slot."""
    window = next(windows(plan, NOON))
    progress = begin(plan, window, Moment(window.start_utc, 0.0), earliest_mono=0.0)
    found = []
    for number in range(1, count + 1):
        adjust = Adjust(bias_ev=bias_ev if number >= since else 0.0)
        slot = next_slot(plan, adjust, progress, None, moment(progress, window.start_utc))
        assert isinstance(slot, Slot)
        progress = used(progress, slot, True)
        over_ev = slot.sky_ev + BRIGHTER_EV - slot.exposure.ev
        reading = Reading(min(1.0, 0.18 * 2**over_ev), float(over_ev > 2.4), 0.0, 160, 120, 0.18)
        progress, scene_ev = metered(plan, adjust, progress, slot, reading)
        found.append((slot, row_of(slot, scene_ev, reading.clipped)))
    return found


def row_of(slot: Slot, scene_ev: float | None, clipped: float) -> Frame:
    return Frame(
        shoot="s",
        seq=slot.seq,
        camera="c",
        due_utc=slot.due_utc,
        interval_s=slot.interval_s,
        shutter_s=slot.exposure.shutter_s,
        aperture=slot.exposure.aperture,
        iso=slot.exposure.iso,
        exposure_ev=slot.exposure.ev,
        target_ev=slot.target_ev,
        scene_ev=scene_ev,
        clipped=clipped,
    )


def gone_on(plan: Plan, rows: list[Frame], count: int) -> list[Slot]:
    """The next slots after a restart that finds these rows."""
    last = rows[-1]
    now = Moment(last.due_utc + 0.5, 100.0)
    progress = resume(plan, next(windows(plan, NOON)), now, last=last, frames_done=len(rows), rows=rows[-20:])
    slots = []
    for _ in range(count):
        slot = next_slot(plan, Adjust(), progress, None, Moment(now.utc + progress.due_mono - 100, progress.due_mono))
        assert isinstance(slot, Slot)
        slots.append(slot)
        progress = used(progress, slot, True)
    return slots


@pytest.mark.parametrize("light", ["follow", "fixed"])
@pytest.mark.parametrize("offsets", [[-2, 0, 2], [0, -1, 1, -3, 3], [2, -1]])
@pytest.mark.parametrize("begun", [30, 330])
def test_the_rest_of_a_bracket_goes_on_wherever_it_was_cut(offsets: list[float], light: str, begun: int):
    plan = bracketed(offsets, light)
    size = len(offsets)
    begun -= begun % size
    whole = walked(plan, begun + 2 * size)
    for index in range(size):
        cut = begun + index + 1
        rest = size - index - 1
        slots = gone_on(plan, [row for _, row in whole[:cut]], rest + size)
        expected = [slot for slot, _ in whole[cut : cut + rest + size]]
        assert [slot.seq for slot in slots] == [slot.seq for slot in expected]
        for slot, wanted in zip(slots[:rest], expected[:rest], strict=True):
            assert slot.exposure.shutter_s == pytest.approx(wanted.exposure.shutter_s)
            assert slot.exposure.iso == pytest.approx(wanted.exposure.iso)
            assert slot.due_utc == pytest.approx(wanted.due_utc, abs=1e-3)
            assert slot.target_ev == pytest.approx(wanted.target_ev, abs=1e-6)
        # The bracket after it begins where it would have begun, to what an interval may change by.
        assert slots[rest].due_utc == pytest.approx(expected[rest].due_utc, abs=0.05)
        assert abs(slots[rest].exposure.ev - expected[rest].exposure.ev) <= 1 / 3 + 1e-6


@pytest.mark.parametrize("bias_ev", [-1.5, 1.5])
@pytest.mark.parametrize("taken", [1, 2])
def test_a_bracket_that_has_begun_keeps_its_exposure_though_a_bias_came_since(bias_ev: float, taken: int):
    """Where no limit held its first frame back: only the next one may follow what a person changed."""
    plan = bracketed([2, 0, -2], "follow")
    whole = walked(plan, 33)
    rows = [row for _, row in whole[: 30 + taken]]
    now = Moment(rows[-1].due_utc + 0.5, 100.0)
    window = next(windows(plan, NOON))
    progress = resume(
        plan, window, now, last=rows[-1], frames_done=len(rows), rows=rows, adjust=Adjust(bias_ev=bias_ev)
    )
    for slot, _ in whole[30 + taken :]:
        at = Moment(now.utc + progress.due_mono - 100, progress.due_mono)
        going_on = next_slot(plan, Adjust(bias_ev=bias_ev), progress, None, at)
        assert isinstance(going_on, Slot)
        assert going_on.exposure.ev == pytest.approx(slot.exposure.ev)
        progress = used(progress, going_on, True)


def held_at_first(plan: Plan, whole: list[tuple[Slot, Frame]], adjust: Adjust) -> list[tuple[Slot, Slot]]:
    """The second frames of brackets whose first was held back by a limit: after a restart between them, and without."""
    window, found = next(windows(plan, NOON)), []
    for begun in range(0, len(whole) - 2, 3):
        first, second, _ = (slot for slot, _ in whole[begun : begun + 3])
        if first.exposure.ev - first.target_ev < 0.7 or second.exposure.shutter_s == first.exposure.shutter_s:
            continue
        rows = [row for _, row in whole[: begun + 1]]
        now = Moment(rows[-1].due_utc + 0.5, 100.0)
        progress = resume(plan, window, now, last=rows[-1], frames_done=len(rows), rows=rows[-6:], adjust=adjust)
        slot = next_slot(plan, adjust, progress, None, Moment(now.utc + progress.due_mono - 100, progress.due_mono))
        assert isinstance(slot, Slot)
        found.append((slot, second))
    return found


@pytest.mark.parametrize("bias_ev", [-1.5, 0.0, 1.5])
def test_a_first_frame_that_a_limit_held_back_does_not_move_the_rest(bias_ev: float):
    """Its exposure tells little of what the bracket is around, and that is the same whatever was changed since.

    Where a step of the exposure fell on that very bracket it may come an interval later.
    """
    plan = changed(bracketed([2, 0, -2], "follow"), light={"shutter_s": [0.0005, 0.0125], "iso": [100, 100]})
    found = held_at_first(plan, walked(plan, 1200), Adjust(bias_ev=bias_ev))
    assert len(found) > 100
    assert sum(slot.exposure == wanted.exposure for slot, wanted in found) >= 0.95 * len(found)
    assert all(abs(slot.exposure.ev - wanted.exposure.ev) <= 1 / 3 + 1e-6 for slot, wanted in found)


@pytest.mark.parametrize("offsets", [[2, 0, -2], [2, -2, 0]])
def test_an_exposure_that_was_on_its_way_goes_on_from_where_it_was(offsets: list[float]):
    """Two stops of bias come in by a third every 13 s (max_ev_per_min, 1.5): a restart does not make them a jump."""
    plan = changed(bracketed(offsets, "follow"), light={"shutter_s": [0.0005, 0.0125], "iso": [100, 100]})
    whole = walked(plan, 340, bias_ev=2.0, since=250)
    found = held_at_first(plan, whole, Adjust(bias_ev=2.0))
    lags = [wanted for _, wanted in found if wanted.bracket and wanted.bracket.base.ev - wanted.bracket.target_ev > 0.7]
    assert len(lags) > 5
    assert all(abs(slot.exposure.ev - wanted.exposure.ev) <= 1 / 3 + 1e-6 for slot, wanted in found)


@pytest.mark.parametrize("offsets", [None, [2, 0, -2]])
def test_between_two_intervals_a_restart_is_no_reason_to_jump_either(offsets: list[float] | None):
    plan = FOLLOW if offsets is None else bracketed(offsets, "follow")
    size = len(plan.light.offsets)
    adjust, window, lagged = Adjust(bias_ev=2.0), next(windows(FOLLOW, NOON)), 0
    whole = walked(plan, 120 * size, bias_ev=2.0, since=80 * size)
    for cut in range(80 * size, 119 * size, size):
        rows, (wanted, _) = [row for _, row in whole[:cut]], whole[cut]
        now = Moment(rows[-1].due_utc + 0.5, 100.0)
        progress = resume(plan, window, now, last=rows[-1], frames_done=cut, rows=rows[-2 * size :], adjust=adjust)
        slot = next_slot(plan, adjust, progress, None, Moment(now.utc + progress.due_mono - 100, progress.due_mono))
        assert isinstance(slot, Slot)
        assert abs(slot.exposure.ev - wanted.exposure.ev) <= 1 / 3 + 1e-6
        lagged += wanted.exposure.ev - wanted.target_ev > 0.7
    assert lagged > 5


def test_rows_that_are_not_all_there_give_a_new_bracket_in_step():
    plan = bracketed([-2, 0, 2], "follow")
    rows = [row for _, row in walked(plan, 332)]
    slots = gone_on(plan, [rows[-1]], 4)
    assert [slot.seq for slot in slots] == [333, 334, 335, 336]
    assert slots[3].exposure.ev - slots[2].exposure.ev == pytest.approx(-2, abs=1 / 3)
    for before, after in itertools.pairwise(slots):
        assert after.due_mono == pytest.approx(before.due_mono + before.interval_s)


@pytest.mark.parametrize("middle_ev", [None, 2.0])
def test_of_a_bracket_the_frame_in_its_middle_tells_of_the_light(middle_ev: float | None):
    """The others are clipped or black more easily. Where the newest in the middle was not metered it is the one before,
    and not what was asked for of the newest, which may have been held."""
    plan = bracketed([-2, 0, 2], "follow")
    rows = [row for _, row in walked(plan, 90)]
    odd = [row if row.seq % 3 == 2 else row.model_copy(update={"scene_ev": row.scene_ev + 3.0}) for row in rows]
    if middle_ev is not None:
        held = odd[88].target_ev + middle_ev
        odd[88] = odd[88].model_copy(update={"scene_ev": None, "target_ev": held})
    now = Moment(odd[-1].due_utc + 0.5, 100.0)
    again = resume(plan, next(windows(plan, NOON)), now, last=odd[-1], frames_done=90, rows=odd[-6:])
    assert odd[88].seq % 3 == 2
    assert again.light.offset_at(now.utc) == pytest.approx(BRIGHTER_EV, abs=0.1)


@pytest.mark.parametrize("count", [400, 1000])
@pytest.mark.parametrize("bias_ev", [-1.5, 0.0, 2.0])
def test_a_restart_without_a_metered_frame_knows_the_bias_that_was_in_force(bias_ev: float, count: int):
    """The light is told by what was asked for; the reference is the scene itself. After 1000 slots it is dark enough
    that pictures are to be darker than mid grey."""
    adjust, window = Adjust(bias_ev=bias_ev), next(windows(FOLLOW, NOON))
    progress = begin(FOLLOW, window, Moment(window.start_utc, 0.0), earliest_mono=0.0)
    for _ in range(count):
        slot = next_slot(FOLLOW, adjust, progress, None, moment(progress, window.start_utc))
        assert isinstance(slot, Slot)
        progress = used(progress, slot, True)
        over_ev = slot.sky_ev + BRIGHTER_EV - slot.exposure.ev
        reading = Reading(min(1.0, 0.18 * 2**over_ev), float(over_ev > 2.4), 0.0, 160, 120, 0.18)
        progress, _ = metered(FOLLOW, adjust, progress, slot, reading)
    now = moment(progress, window.start_utc)
    again = resume(FOLLOW, window, now, last=row_of(slot, None, 0.0), frames_done=count, adjust=adjust)
    assert (slot.sky_ev < 0) is (count == 1000)
    assert again.light.offset_at(now.utc) == pytest.approx(BRIGHTER_EV, abs=0.25)


@pytest.mark.parametrize("offsets", [None, [-2, 0, 2]])
@pytest.mark.parametrize("bias_ev", [-1.5, 1.5])
def test_a_bias_that_came_after_the_last_frame_holds_where_nothing_is_metered(
    bias_ev: float, offsets: list[float] | None
):
    """What is known of the light is what the last frame was exposed for, without that bias; the sky model tells how
    much darker it is a while later."""
    plan = FOLLOW if offsets is None else bracketed(offsets, "follow")
    size = len(plan.light.offsets)
    window = next(windows(plan, NOON))
    rows = [row.model_copy(update={"scene_ev": None}) for _, row in walked(plan, 40 * size)]
    now = Moment(rows[-1].due_utc + 0.5, 100.0)
    asked = []
    for adjust in (Adjust(), Adjust(bias_ev=bias_ev)):
        progress = resume(
            plan, window, now, last=rows[-1], frames_done=40, rows=rows[-6:], adjust=adjust, then=Adjust()
        )
        slot = next_slot(plan, adjust, progress, None, Moment(now.utc + progress.due_mono - 100, progress.due_mono))
        assert isinstance(slot, Slot)
        asked.append(slot.target_ev)
    assert asked[1] == pytest.approx(asked[0] - bias_ev, abs=1e-6)
