"""Card, disk and battery against what a plan needs of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from controller.decide.advice import power, storage
from controller.decide.advice.ahead import Ahead, at_site, dated, minute
from controller.decide.first_light import most_before
from controller.decide.plan import Plan
from controller.decide.retention import CARD_KEEPS
from controller.words.advice import Costs, PowerNeed, StorageNeed, Warned
from controller.words.bodies import BodySeen
from controller.words.phrases import count, grouped, length, size

SETUP_S = 3600.0
"""How long before the first frame a rig is switched on, where that is not known. Common practice, no source."""

_YEARS_S = 3 * 366 * 86400.0


@dataclass(frozen=True, slots=True)
class Known:
    """What is known besides the plan; None is what is not."""

    body: BodySeen | None = None
    frame_bytes: float | None = None  # given by a person: goes before what a body was seen to do
    card_bytes: float | None = None  # the same
    rig_room_bytes: float | None = None
    on_utc: float | None = None  # since when the rig draws from its battery
    motion_s: float | None = None  # from the end of an exposure until the rig's motion stands still


def total(ahead: Sequence[Ahead]) -> int | None:
    """Frames of all windows; None if any is without an end."""
    counts = [a.coming.frames_left for a in ahead]
    return None if None in counts else sum(c for c in counts if c is not None)


def moment_of(ahead: Sequence[Ahead], frames: float, before_each: int = 0) -> float | None:
    """When so many frames are done, over all windows, those taken before each counted; None if that is not to come."""
    before = 0.0
    for a in ahead:
        before += before_each
        if frames <= before:
            return a.begin_utc
        if (utc := a.utc_of(frames - before)) is not None:
            return utc
        before += a.coming.frames_left or 0
    return None


# ---- storage


def storage_need(plan: Plan, ahead: Sequence[Ahead], known: Known) -> StorageNeed:
    """Bytes on card and rig, and when one of them is full."""
    frame_bytes, basis, assumed = _frame_bytes(known)
    seen = known.body.preview_bytes if known.body is not None else None
    preview_bytes = seen or storage.PREVIEW_BYTES
    frames, fetch = total(ahead), plan.files.fetch
    before_each = most_before(plan)
    tests = before_each * len(ahead)
    card_room = known.card_bytes
    if card_room is None and known.body is not None:
        card_room = known.body.free_bytes
    card_bytes = None if frames is None else (frames + tests) * frame_bytes
    rig_bytes = None if frames is None else storage.rig_bytes(fetch, frames, frame_bytes, preview_bytes)
    card_full = rig_full = None
    if card_room is not None and (card_bytes is None or card_bytes > card_room):
        card_full = moment_of(ahead, storage.frames_in_card(card_room, frame_bytes), before_each)
    kept_bytes = at_last = None
    if plan.files.free_card != "never" and (every := plan.files.every) is not None:
        kept_bytes = None if frames is None else (storage.stays_on_card(every, frames) + tests) * frame_bytes
        if card_full is not None and card_room is not None:
            room = storage.frames_in_card(card_room, frame_bytes) - tests
            at_last = moment_of(ahead, storage.frames_through_card(every, room))
    if known.rig_room_bytes is not None and (rig_bytes is None or rig_bytes > known.rig_room_bytes):
        rig_full = moment_of(ahead, storage.frames_in_rig(fetch, known.rig_room_bytes, frame_bytes, preview_bytes))
    return StorageNeed(
        frame_bytes=frame_bytes,
        preview_bytes=preview_bytes,
        basis=basis,
        assumed=assumed,
        fetch=fetch,
        test_frames=tests,
        card_bytes=card_bytes,
        rig_bytes=rig_bytes,
        card_room_bytes=card_room,
        rig_room_bytes=known.rig_room_bytes,
        card_full_utc=card_full,
        card_kept_bytes=kept_bytes,
        card_full_at_last_utc=at_last,
        rig_full_utc=rig_full,
        deleted=list(_deleted(plan)),
    )


def _deleted(plan: Plan) -> Iterator[str]:
    """A sentence for each place from which files go, by the rules of `controller.decide.retention`."""
    files = plan.files
    if files.keep_days is not None and files.every is not None:
        where = "two second places" if files.free_card != "never" else "a second place (two, once it is off the card)"
        days = count(files.keep_days, "day")
        yield f"from the rig: whole files older than {days}, each once it is verified in {where}; previews stay"
    if files.free_card != "never":
        yield (
            "from the camera's card: each fetched frame once it is verified in two places, of which the rig may be "
            f"one; the newest {CARD_KEEPS} stay"
        )


def _frame_bytes(known: Known) -> tuple[float, str, bool]:
    body = known.body
    if known.frame_bytes is not None:
        return known.frame_bytes, "as given", False
    if body is None or body.frame_bytes is None:
        return storage.FRAME_BYTES, "assumed: RAW and JPEG of 24 megapixels", True
    how = {
        "fetched files": f"mean of {body.frames} frames that were fetched",
        "room on the card": f"by the room that {body.frames} frames took on its card",
        "the body's own count": "by its own count of the room on its card",
    }[body.basis or "fetched files"]
    files = f", {body.files}" if body.files else ""
    return body.frame_bytes, f"{body.model}{files}: {how}", False


def of_storage(plan: Plan, ahead: Sequence[Ahead], need: StorageNeed, known: Known) -> Iterator[Warned]:
    """A card or a disk that is too small."""
    first_utc = ahead[0].begin_utc if ahead else 0.0
    each = f"at {size(need.frame_bytes)} a frame" + (", which is assumed" if need.assumed else "")
    if need.card_full_utc is not None and need.card_room_bytes is not None:
        room = storage.frames_in_card(need.card_room_bytes, need.frame_bytes)
        frames = total(ahead)
        of = "" if frames is None else f" of {grouped(frames + need.test_frames)}"
        tests = f", up to {grouped(need.test_frames)} test frames included" if need.test_frames else ""
        last_seen = known.card_bytes is None and known.body is not None
        seen = f", as last seen on {at_site(plan, known.body.seen_utc):%d %b}" if last_seen and known.body else ""
        holds = f"has room for {grouped(room)}{of} frames{tests} {each} ({size(need.card_room_bytes)} free{seen})"
        what, remedy = _full_card(plan, ahead, need, holds)
        yield Warned(costs=Costs.FRAMES, what=what, remedy=remedy, utc=need.card_full_utc)
    if need.rig_full_utc is not None and need.rig_room_bytes is not None:
        what = (
            f"the rig's disk is full at {_when(plan, need.rig_full_utc, first_utc)} {each} and fetch = {need.fetch} "
            f"({size(need.rig_room_bytes)} free): from then on frames are on the card only"
        )
        remedy = "Free some space, or fetch less"
        yield Warned(costs=Costs.COMFORT, what=what, remedy=remedy, utc=need.rig_full_utc)


def _full_card(plan: Plan, ahead: Sequence[Ahead], need: StorageNeed, holds: str) -> tuple[str, str]:
    """What is so of a card that is too small, and what to do. Nobody knows beforehand whether copies keep up."""
    assert need.card_full_utc is not None
    first_utc, every = ahead[0].begin_utc, plan.files.every
    full = _when(plan, need.card_full_utc, first_utc)
    larger = "a larger or an empty card"
    if need.card_bytes is not None:
        larger = f"a card with {size(need.card_bytes * 1.05)} free or more"
    if plan.files.free_card == "never" or every is None:
        return f"the card is full at {full}: it {holds}", f"Take {larger}, or smaller files"
    what = f"the card {holds}: from {full} on only where earlier ones are verified in two places by then, and deleted"
    if need.card_full_at_last_utc is not None:
        what += f"; at {_when(plan, need.card_full_at_last_utc, first_utc)} it is full all the same, by those that stay"
        return what, f"Take {larger}, or smaller files"
    frames = sum(a.points[-1].frames for a in ahead)
    per_h = frames / every * need.frame_bytes * 3600 / max(1.0, sum(a.end_utc - a.begin_utc for a in ahead))
    return what, f"See that a second place takes {size(per_h)} an hour, and the rig has room; or take {larger}"


# ---- power


def power_need(plan: Plan, ahead: Sequence[Ahead], known: Known) -> PowerNeed | None:
    """The battery against the whole plan, waiting included; None where the plan does not name one."""
    rule = plan.power
    if rule is None or not ahead:
        return None
    supply = power.supply(rule.battery_wh, rule.draw_w, rule.temperature_c)
    from_utc = ahead[0].begin_utc - SETUP_S if known.on_utc is None else known.on_utc
    end_utc = ahead[-1].coming.end_utc
    years = supply.lasts_s > _YEARS_S
    return PowerNeed(
        battery_wh=rule.battery_wh,
        draw_w=rule.draw_w,
        temperature_c=rule.temperature_c,
        share=round(supply.share, 3),
        usable_wh=round(supply.usable_wh, 1),
        lasts_s=round(supply.lasts_s),
        from_utc=from_utc,
        needed_wh=None if end_utc is None else round(power.energy_wh(rule.draw_w, end_utc - from_utc), 1),
        empty_utc=None if years else from_utc + supply.lasts_s,
        earliest_on_utc=None if end_utc is None or years else end_utc - supply.lasts_s,
    )


def of_power(plan: Plan, ahead: Sequence[Ahead], need: PowerNeed | None) -> Iterator[Warned]:
    """A battery that is too small, or too cold."""
    if need is None:
        return
    cold = "" if need.temperature_c is None else f" at {_celsius(need.temperature_c)}"
    if need.empty_utc is not None and need.needed_wh is not None and need.needed_wh > need.usable_wh:
        end_utc = ahead[-1].end_utc
        what = (
            f"the battery is empty at {_when(plan, need.empty_utc, ahead[0].begin_utc)}, "
            f"{length(end_utc - need.empty_utc)} before the end: it gives {grouped(need.usable_wh)} of its "
            f"{grouped(need.battery_wh)} Wh{cold}, and {grouped(need.needed_wh)} Wh are needed"
        )
        wanted_wh = need.needed_wh / (max(need.share, 0.05) * power.RESERVE)
        remedy = f"Take {grouped(wanted_wh)} Wh, which leaves a fifth in reserve; keep it warm, or draw less"
        on_utc = need.earliest_on_utc
        if len(ahead) > 1:
            remedy = f"Charge or change it every {length(need.lasts_s * power.RESERVE)}, keep it warm, or draw less"
        elif on_utc is not None and need.from_utc < on_utc < ahead[0].begin_utc:
            remedy += f"; switched on at {minute(plan, on_utc, ahead[0].begin_utc)} it would just last"
        yield Warned(costs=Costs.FRAMES, what=what, remedy=f"{remedy}", utc=need.empty_utc)
    elif need.needed_wh is not None and need.needed_wh > power.RESERVE * need.usable_wh:
        what = (
            f"the plan takes {need.needed_wh:.0f} of the {need.usable_wh:.0f} Wh that the battery gives{cold}, which "
            "leaves less than a fifth for its age and the wind"
        )
        yield Warned(costs=Costs.COMFORT, what=what, remedy="Take a larger one, or a second, for calm")
    if need.temperature_c is not None and need.temperature_c < power.COLDEST_C:
        coldest, least = _celsius(need.temperature_c), _celsius(power.COLDEST_C)
        what = f"{coldest} is colder than most lithium-ion cells are made for ({least})"
        remedy = "Keep the battery in an insulated box, warmed by what the rig draws, and try it beforehand"
        yield Warned(costs=Costs.NIGHT, what=what, remedy=remedy)


def _when(plan: Plan, utc: float, beside_utc: float) -> str:
    """With its date, where that is another day."""
    return (
        minute(plan, utc, beside_utc)
        if at_site(plan, utc).date() == at_site(plan, beside_utc).date()
        else dated(plan, utc)
    )


def _celsius(value: float) -> str:
    return f"{value:g} °C".replace("-", "−")
