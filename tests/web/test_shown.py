"""How times, signs and marks are shown, and that what comes later moves nothing under a finger."""

from __future__ import annotations

import math
import re
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from playwright.async_api import expect

from tests.support.dusk_rig import PLAN
from tests.web.conftest import Phone
from tests.web.screens import SCREENS, enter_room

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]

NEW_YORK = "America/New_York"


async def words(phone: Phone, expression: str) -> Any:
    return await phone.page.evaluate(
        f"async () => {{ const say = await import('/js/words.js'); return {expression}; }}"
    )


async def test_times_are_told_by_twenty_four_hours_as_the_rig_tells_them(phone: Phone) -> None:
    """ISO 8601, 5.3.1: hours from 00 to 23. The phone speaks English of America, which would say 6:04 PM."""
    await SCREENS["rig"](phone)
    assert await phone.page.evaluate("navigator.language") == "en-US"
    now = await phone.rig.call("GET", "now")
    zone = ZoneInfo(PLAN["site"]["timezone"])
    await phone.shows("#left", f"{datetime.fromisoformat(now['end_utc']).astimezone(zone):%H:%M}")
    clock = "(await import('/js/figures.js')).clock(Date.UTC(2026, 9, 20, 22, 5) / 1000, undefined, 'Europe/Stockholm')"
    assert await phone.page.evaluate(f"async () => {clock}") == "00:05"
    assert not re.search(r"\d\s*[AP]M\b", await phone.reads("body"))


async def test_this_phone_tells_the_rigs_clock_and_its_zone(phone: Phone) -> None:
    await SCREENS["phone"](phone)
    zone = ZoneInfo("Europe/Stockholm")
    before = await phone.rig.call("GET", "now")
    said = await phone.reads("#rig-time")
    after = await phone.rig.call("GET", "now")
    assert said.endswith("Europe/Stockholm")
    day, month, hour = re.match(r"\w+, (\w+) (\d+) (\d\d:\d\d):\d\d", said).groups()  # type: ignore[union-attr]
    near = [datetime.fromisoformat(now["utc"]).astimezone(zone) for now in (before, after)]
    assert f"{near[0]:%b} {near[0].day}" == f"{day} {month}"
    assert (
        abs(60 * int(hour[:2]) + int(hour[3:]) - (60 * near[0].hour + near[0].minute))
        <= 15 + (near[1] - near[0]).seconds
    )


async def test_an_older_shoot_has_the_times_of_its_own_place(phone: Phone) -> None:
    await phone.rig.end()
    plan = PLAN | {"name": "over-there", "site": {"latitude": 40.7, "longitude": -74.0, "timezone": NEW_YORK}}
    older = (await phone.rig.call("POST", "shoots", json={"plan": plan}))["id"]
    await phone.rig.until_frames(2)
    await SCREENS["ended"](phone)
    await SCREENS["frames"](phone)
    await phone.shows("#frames-zone", "Europe/Stockholm")
    await phone.page.select_option("#which", older)
    await phone.shows("#frames-zone", "times of America/New York")
    frame = (await phone.rig.call("GET", f"shoots/{older}/frames?newest=true&limit=1"))[0]
    there = datetime.fromisoformat(frame["due_utc"]).astimezone(ZoneInfo(NEW_YORK))
    await phone.shows("#shown-says", f"{there:%H:%M:%S}")
    assert f"{there:%H:}" in await phone.page.inner_text(f"#which option[value='{older}']")


BRANCHES = """
async (frames) => (await import("/js/rooms/frames-curves.js")).branches(frames)
  .map((run) => run.map((frame) => frame.sun_altitude_deg))
"""


def sun_deg(hour: float) -> float:
    """Sun's altitude at the equinox, 57.7° north, by spherical astronomy: sin h = cos(latitude) cos(hour angle)."""
    return math.degrees(math.asin(math.cos(math.radians(57.7)) * math.cos(math.radians(15 * (hour - 12)))))


async def test_curves_over_the_suns_altitude_do_not_fold_back_at_midnight(phone: Phone) -> None:
    await phone.open()
    hours = [17 + i / 4 for i in range(57)]  # 17:00 to 7:00
    frames = [
        {
            "sun_altitude_deg": sun_deg(hour),
            "due_utc": f"2026-03-{20 + int(hour // 24)}T{int(hour % 24):02}:{int(hour % 1 * 60):02}:00Z",
        }
        for hour in hours
    ]
    evening, morning = await phone.page.evaluate(BRANCHES, frames)
    assert evening == sorted(evening, reverse=True)
    assert morning == sorted(morning)
    assert evening[-1] == morning[0] == pytest.approx(57.7 - 90)  # at midnight: as far below as the pole is above
    days = [frame | {"due_utc": str(frame["due_utc"]).replace("03-2", "04-2")} for frame in frames[:5]]
    assert len(await phone.page.evaluate(BRANCHES, [*frames[:5], *days])) == 2, "two evenings are two runs"


async def test_a_slot_without_a_frame_is_no_bar_of_light(phone: Phone) -> None:
    await phone.open()
    drawn = await phone.page.evaluate("""
      async () => {
        const { openStrip } = await import("/js/rooms/frames-strip.js");
        const state = (seq) => ([3, 4, 5].includes(seq) ? "missed" : "written");
        const slot = (seq) => ({ seq, id: seq, state: state(seq), scene_ev: seq === 4 ? null : 5, exposure_ev: 12 });
        const all = [1, 2, 3, 4, 5, 6].map(slot);
        const strip = openStrip({ last: () => 6, whole: () => all, runs: () => [[3, 5]], every: () => 1 }, () => {});
        document.getElementById("rig").prepend(strip.element);
        strip.picture(false);
        const paths = ["bars", "line"].map((kind) => strip.element.querySelector(`.${kind}`).getAttribute("d"));
        strip.close();
        return paths;
      }
    """)
    assert drawn[0].count("M") == 3  # those that are there
    assert drawn[1].count("H") == 1, "a line from the first to the last of those that are not"
    assert drawn[1].count("l8 8") == 2


async def test_the_phones_way_back_leaves_what_takes_a_stop_back(phone: Phone) -> None:
    await SCREENS["black"](phone)
    await phone.page.evaluate("location.hash = ''")
    await phone.until("document.body.dataset.room === 'rig'")
    await phone.page.tap("#stop")
    await phone.page.evaluate("history.back()")
    await phone.until("location.hash === ''")
    assert await phone.page.evaluate("document.body.dataset.room") == "rig"
    await phone.page.tap("#said-button")
    await phone.shows("#said-text", "Not stopped")
    await enter_room(phone, "black")  # and then again it may


async def test_the_sign_of_a_bias_turns_by_a_tap(phone: Phone) -> None:
    await SCREENS["change"](phone)
    await phone.page.tap("[data-part=brightness]")
    await phone.page.fill("#bias", "0.5")
    await phone.page.tap(".sign")
    await expect(phone.page.locator("#bias")).to_have_value("-0.5")
    await phone.shows("#effect-says", "Same number of frames")


async def test_nothing_moves_as_an_answer_comes(phone: Phone) -> None:
    await SCREENS["change"](phone)
    seen = "['#change-sheet', '#pace-to', '#change-do'].map((one) => document.querySelector(one))"
    places = f"{seen}.map((one) => one.getBoundingClientRect().top)"
    await phone.until("!/Working/.test(document.querySelector('#effect-says').textContent)")
    before = await phone.page.evaluate(places)
    await phone.page.tap("[data-step=pace-to][data-by='1']")
    assert await phone.page.evaluate(places) == before
    await phone.until("/frames|Frames/.test(document.querySelector('#effect-says').textContent)")
    assert await phone.page.evaluate(places) == before


async def test_copies_in_trouble_can_be_tried_again(phone: Phone) -> None:
    await SCREENS["ended"](phone)
    now = await phone.rig.call("GET", "now")
    now["places"] = [
        {"name": "shed", "kind": "directory", "waiting": 3, "trouble": "/mnt/shed is not there", "by_itself": True}
    ]
    await phone.told(now)
    await phone.shows("#beside", "Copies to shed: /mnt/shed is not there")
    await phone.page.tap("#copy-again")
    await phone.shows("#said-text", "The copies are tried again")


async def test_nouns_stay_nouns_within_a_german_sentence(phone: Phone) -> None:
    """Duden, D 81: nouns are written with a capital."""
    await phone.page.context.add_cookies([{"name": "language", "value": "de", "url": phone.rig.url}])
    await phone.page.goto(phone.rig.url)
    assert (
        await words(phone, "say.frames.aShoot('pier', '18:20', say.STATES.waiting)")
        == "18:20, wartet auf den Beginn: pier"
    )
    assert "prüft die Kamera" in await words(phone, "say.change.ended('checking')")
