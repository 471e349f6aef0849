"""What a plan asks of camera and rig, as advice works it out."""

from __future__ import annotations

from dataclasses import replace

from controller.decide.advice import needs
from controller.decide.advice.ahead import look_ahead
from controller.decide.advice.needs import Known
from controller.decide.advice.paces import gap_s, step_s
from controller.decide.checks.facts import PlanFacts
from controller.decide.exposure import Body
from controller.decide.plan import ByPulse, Plan
from controller.words.errors import BadInput


def plan_facts(plan: Plan, now_utc: float, body: Body | None, known: Known) -> PlanFacts:
    """From `now_utc`, POSIX seconds, on. Pure. Raises BadInput where nothing is left to shoot."""
    ahead, _ = look_ahead(plan, now_utc, body)
    points = [p for a in ahead for p in a.points if p.utc <= a.end_utc]
    if not points:
        what = "the plan has no time left to shoot"
        raise BadInput("no-window", what, where="[when]", remedy="Give a stop in the future")
    room = replace(known, card_bytes=None)
    need, frames = needs.storage_need(plan, ahead, room), needs.total(ahead)
    least_s = min(gap_s(plan, p) for p in points)
    return PlanFacts(
        name=plan.name,
        frames=None if frames is None else frames + need.test_frames,
        longest_exposure_s=max(p.longest.shutter_s for p in points),
        shortest_exposure_s=min(exposure.shutter_s for p in points for exposure in p.exposures),
        shortest_interval_s=min(p.interval_s for p in points),
        longest_interval_s=max(p.interval_s for p in points),
        least_gap_s=least_s,
        least_step_s=min(step_s(plan, p) for p in points),
        on_pulses=isinstance(plan.pace, ByPulse),
        cameras=plan.cameras.named if plan.cameras else (),
        frame_bytes=need.frame_bytes,
        frame_bytes_assumed=need.assumed,
        card_bytes=need.card_bytes,
        rig_bytes=need.rig_bytes,
        frees=plan.files.keep_days is not None or plan.files.free_card != "never",
    )
