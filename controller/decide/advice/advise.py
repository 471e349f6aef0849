"""What a plan comes to, and what may go wrong with it: the whole answer as one document."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date

from controller.decide.advice import clocks, exposures, needs, paces, picture, stars
from controller.decide.advice.ahead import Ahead, at_site, day_of, elsewhere, local, look_ahead
from controller.decide.advice.cautions import cautions
from controller.decide.advice.needs import Known
from controller.decide.advice.phases import clock_change, marks, phases
from controller.decide.advice.questions import Question, answer, changed
from controller.decide.exposure import Body
from controller.decide.plan import Plan
from controller.decide.safe_interval import needs_of
from controller.words.advice import Costs, PlanSummary, Skipped, Warned, WindowSummary


def advise(
    plan: Plan,
    asked: float | date,
    *,
    now_utc: float,
    body: Body | None = None,
    known: Known | None = None,
    question: Question | None = None,
) -> PlanSummary:
    """What `plan` comes to over the expected sky. Pure. Raises BadInput as `schedule.windows` does, and no-answer.

    Asked with a moment, POSIX seconds, as begun then; with a local day, by the windows that start from that day on.
    `body` holds the camera's dials, `known` what is known of sizes and room. With a question the summary is that of the
    plan which answers it.
    """
    known, given = known or Known(), plan
    if question is not None:
        plan = changed(plan, question, asked, body)
        if question.card_bytes is not None:
            known = replace(known, card_bytes=question.card_bytes)
    ahead, skipped = look_ahead(plan, asked, body)
    windows = [_window(plan, a) for a in ahead]
    storage, power = needs.storage_need(plan, ahead, known), needs.power_need(plan, ahead, known)
    trailing = stars.stars(plan, ahead)
    there = [stay for window in windows for stay in window.in_picture]
    frames = needs.total(ahead)
    clip_s = None if frames is None else frames / plan.releases_per_clip_s
    warned = [
        *(clocks.of_site(given, ahead[0].begin_utc) if ahead else ()),
        *(
            w
            for a, window in zip(ahead, windows, strict=True)
            for w in clocks.of_times(plan, a, window.clock_change, now_utc)
        ),
        *_looked_at(plan, ahead, windows, body, known),
        *needs.of_storage(plan, ahead, storage, known),
        *needs.of_power(plan, ahead, power),
        *stars.of_stars(plan, trailing),
        *paces.of_clip(clip_s),
    ]
    return PlanSummary(
        name=plan.name,
        plan=plan.document(),
        timezone=plan.site.timezone,
        elsewhere=elsewhere(plan, asked) if isinstance(asked, date) else None,
        windows=windows,
        skipped=[Skipped(day=s.day.isoformat(), cause=s.cause) for s in skipped],
        frames=frames,
        fps=plan.clip.fps,
        clip_s=clip_s,
        storage=storage,
        power=power,
        stars=trailing,
        field=picture.described(picture.field(plan)),
        warnings=ranked(warned),
        cautions=list(cautions(plan, ahead, there)),
        answer=None if question is None else answer(plan, question, ahead, body, storage.frame_bytes),
    )


def ranked(warned: list[Warned]) -> list[Warned]:
    """By what they would cost, the worst first, then by time; of those with the same remedy the first alone."""
    once: dict[str, Warned] = {}
    for warning in warned:
        once.setdefault(warning.remedy, warning)
    order = list(Costs)
    return sorted(once.values(), key=lambda w: (order.index(w.costs), w.utc or 0.0))


def _window(plan: Plan, ahead: Ahead) -> WindowSummary:
    coming = ahead.coming
    return WindowSummary(
        start_utc=ahead.begin_utc,
        start_local=local(plan, ahead.begin_utc),
        end_utc=coming.end_utc,
        end_local=None if coming.end_utc is None else local(plan, coming.end_utc),
        frames=coming.frames_left,
        clip_s=coming.clip_s,
        clock_change=clock_change(plan, ahead.begin_utc, ahead.end_utc),
        marks=marks(plan, ahead) if ahead.fine else [],
        phases=phases(plan, ahead) if ahead.fine else [],
        in_picture=picture.in_picture(plan, ahead) if ahead.fine else [],
    )


def _looked_at(
    plan: Plan, ahead: Sequence[Ahead], windows: Sequence[WindowSummary], body: Body | None, known: Known
) -> Iterator[Warned]:
    """What is warned of in the windows that are worked out to the minute: each thing once, where it is worst."""
    order, found = list(Costs), dict[str, list[tuple[Ahead, Warned]]]()
    for a, window in zip(ahead, windows, strict=True):
        for warned in _of_window(plan, a, window, body, known) if a.fine else ():
            found.setdefault(warned.remedy, []).append((a, warned))
    several = len({at_site(plan, a.begin_utc).date() for a in ahead}) > 1
    for group in found.values():
        a, worst = min(group, key=lambda pair: (order.index(pair[1].costs), -(pair[1].worst_ev or 0.0)))
        if several:
            day = at_site(plan, a.begin_utc).date()
            which = "" if len(group) == 1 else "first " if worst.worst_ev is None else "worst "
            worst = worst.model_copy(update={"what": f"{which}on {day_of(day)} {day.year}: {worst.what}"})
        yield worst


def _of_window(plan: Plan, ahead: Ahead, window: WindowSummary, body: Body | None, known: Known) -> Iterator[Warned]:
    needs = None if known.body is None else needs_of(known.body)
    yield from exposures.of_exposure(plan, ahead, body)
    yield from paces.of_stretched(plan, ahead)
    yield from paces.of_pace(plan, ahead, needs)
    yield from paces.of_motion(plan, ahead, known.motion_s)
    yield from picture.of_picture(plan, ahead, window.in_picture)
    yield from picture.of_moonlight(plan, ahead)
