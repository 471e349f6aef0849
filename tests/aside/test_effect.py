"""The same answer by way of a process as without."""

from __future__ import annotations

from dataclasses import replace

from controller.aside.effect import effect_aside
from controller.aside.process import FORECAST_S, Aside
from controller.decide.effect import Change, effect
from controller.decide.pace import PaceChange
from controller.decide.safe_interval import Needs
from controller.decide.schedule import windows
from controller.decide.step import Adjust
from tests.decide import changed, example
from tests.decide.test_effect import BODY, NOON, under_way

NEEDS = Needs(step_s=0.5, gap_s=3.0, basis="measured for this test")


async def test_all_that_an_answer_hangs_on_goes_to_the_process() -> None:
    """A body that is held open in bulb, a scene darker than the model, a bias in force, an interval and frames done."""
    plan = changed(
        example("quay_at_dusk"), light={"bulb": True, "shutter_s": [0.001, 240.0]}, pace={"stretch_to_s": 300}
    )
    window = next(windows(plan, NOON))
    at = under_way(plan, window, done=70, interval_s=7.0, offset_ev=-1.25, body=replace(BODY, bulb=True))
    at = replace(at, adjust=Adjust(bias_ev=-0.7, iso=(100, 400)))
    pace = PaceChange(from_s=7.0, to_s=4.0, start_utc=NOON, over_s=1800.0)
    change = Change(replace(at.adjust, pace=pace, iso=(100, 51200)), hold_s=120.0)
    here, aside = effect(at, change, NEEDS), Aside("effect", FORECAST_S)
    there = await effect_aside(aside, at, change, NEEDS)
    assert there.model_dump_json() == here.model_dump_json()
    assert here.stands != here.then
    assert len(here.words) == 2
    for other in (
        replace(at, body=BODY),
        replace(at, adjust=Adjust()),
        under_way(plan, window, done=70, interval_s=7.0, body=replace(BODY, bulb=True)),
        replace(at, done=71),
        replace(at, stopping=True),
    ):
        assert effect(other, change, NEEDS) != here  # each of them tells
    waiting = replace(at, window=None, progress=None)
    stopped = Change(Adjust(), stop=True)
    there = await effect_aside(aside, waiting, stopped, None)
    assert there.model_dump_json() == effect(waiting, stopped).model_dump_json()
