"""The room of plans: written, kept, forecast, rehearsed and started from a phone, against the real rig."""

import json
import re
from datetime import date, timedelta
from typing import Any

import pytest

from tests.support.dusk_rig import PLAN
from tests.web.conftest import Phone

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]

EVENING = PLAN | {"when": {"start": "sunset-45min", "stop": "nautical_dusk+30min"}}

RICH = EVENING | {
    "name": "rich",
    "site": EVENING["site"] | {"floor_lx": 0.15},
    "pace": EVENING["pace"] | {"max_change": 0.02},
    "light": EVENING["light"] | {"regions": [{"rect": [0, 0, 1, 0.5], "weight": 0}], "brightness": [[0, 0], [-12, -1]]},
    "files": {"fetch": "preview", "keep": "30 days"},
    "optics": {"focal_mm": 24.0, "sensor_mm": [35.9, 23.9]},
    "view": {"azimuth_deg": 240.0},
    "power": {"battery_wh": 300.0, "draw_w": 12.0},
}
"""With tables and keys that the form has no fields for."""


async def edit(phone: Phone, plan: dict[str, Any]) -> dict[str, Any]:
    """Keep the plan alone on the rig, and open it in the editor; as the rig keeps it."""
    await phone.rig.end()
    kept: dict[str, Any] = await phone.rig.call("PUT", f"plans/{plan['name']}", json=plan)
    await phone.open()
    await go(phone, f"plans/{plan['name']}")
    await phone.shows("#plan-sum", "frames")
    return kept


async def go(phone: Phone, where: str) -> None:
    await phone.page.evaluate("(where) => { location.hash = where; }", where)


async def unfold(phone: Phone) -> None:
    await phone.page.evaluate("() => document.querySelectorAll('#room details').forEach((one) => { one.open = true; })")


async def save(phone: Phone) -> None:
    await phone.page.evaluate("() => { document.getElementById('said-text').textContent = ''; }")  # of the save before
    await phone.page.tap("#plan-save")
    await phone.shows("#said-text", "Saved on the rig")


async def kept(phone: Phone, name: str) -> dict[str, Any]:
    plan: dict[str, Any] = await phone.rig.call("GET", f"plans/{name}")
    return plan


def forgive(phone: Phone, *statuses: int) -> None:
    """Chromium notes each answer of 4xx as an error; these were wanted."""
    phone.faults[:] = [
        fault for fault in phone.faults if not any(f"status of {status}" in fault for status in statuses)
    ]


async def test_a_plan_is_written_kept_and_scheduled(phone: Phone) -> None:
    await phone.rig.end()
    await phone.open()
    await go(phone, "plans")
    await phone.page.tap("#plan-new")
    await phone.page.fill("#plan-new-name", "my pier")
    await phone.page.tap("#plan-new-do")
    await phone.shows("#plan-name", "my-pier")
    await phone.shows("#plan-where", "Not told yet")
    await phone.page.locator(".trouble:visible").first.wait_for()  # the rig wants a place
    await phone.page.fill("#plan-paste", "geo:57.7,11.95;u=40")
    await phone.shows("#plan-where", "57.7000°, 11.9500°")
    await phone.page.fill("#plan-site-timezone", "Europe/Stockholm")
    await unfold(phone)
    await phone.page.fill("#plan-when-date", "2026-10-24")
    await phone.shows("#plan-sum", "frames")
    assert await phone.page.locator("#room .trouble:visible").count() == 0
    await phone.picture("plans-new")
    await save(phone)
    forgive(phone, 404, 422)
    plan = await kept(phone, "my-pier")
    assert plan["site"] | {"latitude": 57.7, "longitude": 11.95, "timezone": "Europe/Stockholm"} == plan["site"]

    await phone.page.tap("#plan-start")
    await phone.page.locator("#plan-start-do:enabled").wait_for()
    assert "24" in await phone.reads("#plan-start-do")
    assert "24" in await phone.reads("#start-comes")
    foretold = await phone.rig.call("GET", "plans/my-pier/forecast")
    assert str(foretold["windows"][0]["frames"]) in await phone.reads("#plan-starts")  # shown before it is done
    await phone.picture("plans-start")
    await phone.page.tap("#plan-start-do")
    await phone.page.locator("body[data-room=rig]").wait_for()
    shoot = (await phone.rig.call("GET", "now"))["shoot"]
    assert (shoot["plan_name"], shoot["state"]) == ("my-pier", "waiting")
    await phone.rig.end()


async def test_sun_events_have_their_clock_times_of_the_day(phone: Phone) -> None:
    await edit(phone, EVENING)
    query = {"latitude": 57.66, "longitude": 11.72, "timezone": "Europe/Stockholm", "words": "sunset-45min"}
    sky = await phone.rig.call("GET", "sky", params=query)

    def told(local: str) -> str:
        return local[11:16]

    async def either(words: str) -> re.Pattern[str]:
        """Of this day, or of the next where the window is over by the rig's clock, which runs fast."""
        today = date.fromisoformat(sky["date"])
        days = [{**query, "words": words, "date": str(today + timedelta(days=more))} for more in (0, 1)]
        each = [await phone.rig.call("GET", "sky", params=day) for day in days]
        return re.compile("|".join(told(day["words"][0]["local"]) for day in each))

    for event in ("sunset", "civil_dusk", "sunrise"):
        option = phone.page.locator(f"#plan-start-event option[value={event}]", has_text=await either(event))
        await option.wait_for(state="attached")
    await phone.shows("#plan-start-at", await either("sunset-45min"))
    await phone.page.fill("#plan-start-minutes", "90")
    await phone.shows("#plan-start-at", await either("sunset+90min"))
    await phone.page.select_option("#plan-start-event", "civil_dusk")
    await phone.page.fill("#plan-start-minutes", "-10")
    await save(phone)
    assert (await kept(phone, "quay-at-dusk"))["when"]["start"] == "civil_dusk-10min"


@pytest.mark.parametrize(
    ("kind", "then", "wanted"),
    [
        ("time", ("#plan-when-stop-text", "22:15"), {"stop": "22:15"}),
        ("duration", ("#plan-when-duration", "1h30min"), {"duration": "1h30min"}),
        ("frames", ("#plan-when-frames", "450"), {"frames": 450}),
        ("never", None, {}),
    ],
)
async def test_an_end_of_each_kind(
    phone: Phone, kind: str, then: tuple[str, str] | None, wanted: dict[str, Any]
) -> None:
    await edit(phone, EVENING)
    await phone.page.select_option("#plan-when-stop", kind)
    if then:
        await phone.page.fill(*then)
    await save(phone)
    when = (await kept(phone, "quay-at-dusk"))["when"]
    assert {key: when[key] for key in ("stop", "duration", "frames") if key in when} == wanted


async def test_days_that_come_again(phone: Phone) -> None:
    await edit(phone, EVENING)
    await unfold(phone)
    await phone.page.select_option("#plan-when-every", "every")
    for day in ("Sat", "Sun"):
        await phone.page.locator(".days label", has_text=day).tap()
    await phone.page.fill("#plan-when-from", "2026-12-01")
    await phone.page.fill("#plan-when-until", "2027-02-28")
    await phone.page.fill("#plan-when-skip", "2026-12-25, 2027-01-01")
    await phone.shows("#plan-figures", "windows")
    await save(phone)
    when = (await kept(phone, "quay-at-dusk"))["when"]
    assert when["every"] == ["mon", "tue", "wed", "thu", "fri"]
    assert (when["from"], when["until"]) == ("2026-12-01", "2027-02-28")
    assert when["skip"] == ["2026-12-25", "2027-01-01"]
    await phone.page.select_option("#plan-when-every", "once")
    await save(phone)
    assert {"every", "from", "until"}.isdisjoint((await kept(phone, "quay-at-dusk"))["when"])


async def test_what_the_form_does_not_know_is_kept_and_told(phone: Phone) -> None:
    before = await edit(phone, RICH)
    also = await phone.reads("#plan-also")
    for name in (
        "floor_lx 0.15",
        "max_change",
        "regions",
        "brightness",
        "30 days",
        "focal_mm",
        "azimuth_deg",
        "draw_w",
    ):
        assert name in also
    assert "bulb" not in also, "what is as usual is not worth a word"
    await unfold(phone)
    await phone.page.fill("#plan-pace-min_gap_s", "2")
    await save(phone)
    assert await kept(phone, "rich") == before | {"pace": before["pace"] | {"min_gap_s": 2.0}}


async def test_windows_of_a_day_are_left_alone(phone: Phone) -> None:
    windows = [{"start": "civil_dawn", "stop": "sunrise+1h"}, {"start": "16:00", "duration": "45min"}]
    before = await edit(phone, EVENING | {"when": {"every": "day", "windows": windows}})
    assert "2 windows a day" in await phone.reads("#plan-when")
    await phone.page.locator("#plan-files summary").tap()
    await phone.page.fill("#plan-clip-fps", "30")
    await save(phone)
    after = await kept(phone, "quay-at-dusk")
    assert after.pop("clip")["fps"] == 30.0
    assert after == {table: value for table, value in before.items() if table != "clip"}


async def test_a_point_follows_finger_keys_and_numbers(phone: Phone) -> None:
    await edit(phone, EVENING)
    await unfold(phone)
    frames = await phone.reads("#plan-figures")
    point = phone.page.locator(".handle").nth(1)
    await point.scroll_into_view_if_needed()
    box = await point.bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) >= 48
    x, y = box["x"] + 24, box["y"] + 24
    finger = await phone.page.context.new_cdp_session(phone.page)
    for kind, points in (
        ("touchStart", [{"x": x, "y": y}]),
        ("touchMove", [{"x": x + 10, "y": y + 30}]),
        ("touchMove", [{"x": x + 20, "y": y + 70}]),
        ("touchEnd", []),
    ):
        await finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    fields = phone.page.locator(".points input")
    sun, interval = [float(await fields.nth(i).input_value()) for i in (2, 3)]
    assert -12 < sun < -6, "to the right: lower sun"
    assert interval < 20, "downwards: shorter"
    await phone.until(f"document.querySelector('#plan-figures').innerText !== {json.dumps(frames)}")
    await phone.picture("plans-curve")

    await point.focus()
    await phone.page.keyboard.press("ArrowLeft")
    await phone.page.keyboard.press("ArrowUp")
    assert float(await fields.nth(2).input_value()) == sun + 0.5
    assert float(await fields.nth(3).input_value()) > interval
    await fields.nth(3).fill("17.3")
    assert "17.3 s" in str(await point.get_attribute("aria-valuetext"))
    await phone.page.tap("#plan-add-point")
    assert await phone.page.locator(".handle").count() == 4
    await phone.page.get_by_role("button", name="Take point 1 away").tap()
    await save(phone)
    points = (await kept(phone, "quay-at-dusk"))["pace"]["points"]
    assert points[1:] == [[sun + 0.5, 17.3], [-12.0, 29.0]]


async def test_each_pace_and_light_is_kept(phone: Phone) -> None:
    before = await edit(phone, EVENING)
    await phone.page.select_option("#plan-pace-kind", "timed")
    await phone.page.fill("#plan-pace-from_s", "18")
    await phone.page.fill("#plan-pace-to_s", "24")
    await phone.page.fill("#plan-pace-over", "40min")
    await phone.page.select_option("#plan-light-kind", "fixed")
    await phone.page.select_option("#plan-light-iso", label="ISO 800")
    await save(phone)
    plan = await kept(phone, "quay-at-dusk")
    assert {key: plan["pace"][key] for key in ("kind", "from_s", "to_s", "over")} == {
        "kind": "timed", "from_s": 18.0, "to_s": 24.0, "over": "40min",
    }  # fmt: skip
    assert (plan["light"]["kind"], plan["light"]["iso"]) == ("fixed", 800.0)
    await phone.page.select_option("#plan-pace-kind", "steady")
    await phone.page.fill("#plan-pace-interval_s", "22")
    await phone.page.select_option("#plan-light-kind", "follow")
    await phone.shows("#plan-sum", "frames")
    await save(phone)
    assert (await kept(phone, "quay-at-dusk"))["light"] == before["light"], "laid aside, and back"
    await phone.page.select_option("#plan-light-iso", label="ISO 6400")
    await phone.page.select_option("#plan-light-order", "iso,shutter")
    await save(phone)
    plan = await kept(phone, "quay-at-dusk")
    assert (plan["pace"]["kind"], plan["pace"]["interval_s"]) == ("steady", 22.0)
    assert "points" not in plan["pace"]
    assert (plan["light"]["iso"][1], plan["light"]["order"]) == (6400.0, ["iso", "shutter"])
    await phone.page.select_option("#plan-pace-kind", "light")
    await save(phone)
    assert (await kept(phone, "quay-at-dusk"))["pace"]["kind"] == "light"


async def test_a_rehearsal_is_drawn(phone: Phone) -> None:
    await edit(phone, EVENING)
    await phone.page.tap("[data-sky=cloudy]")
    assert await phone.page.get_attribute("[data-sky=cloudy]", "aria-busy") == "true"
    await phone.shows("#plan-rehearsal", "Rehearsing")
    await phone.page.locator("#plan-rehearsed svg").wait_for(timeout=120_000)
    assert "interval from" in str(await phone.page.get_attribute("#plan-rehearsed svg", "aria-label"))
    assert await phone.page.locator("#plan-rehearsed .line").count() >= 2
    await phone.shows("#plan-rehearsal", "It took")
    await phone.page.locator("#plan-rehearsed").scroll_into_view_if_needed()
    await phone.picture("plans-rehearsal")
    await phone.page.fill("#plan-start-minutes", "-30")
    await phone.shows("#plan-rehearsal", "before the last change")
