"""What is typed into a plan's form, and what the form says to it, against the real rig."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from playwright.async_api import expect

from tests.web.conftest import Phone
from tests.web.test_plans_room import EVENING, edit, forgive, go, kept, save, unfold

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]

NUMBERS = [
    # "the decimal marker shall be either the point on the line or the comma on the line":
    # 22nd General Conference on Weights and Measures (2003), resolution 10; SI brochure, 9th edition, 5.4.4
    ("57.7", 57.7),
    ("57,7", 57.7),
    (" 7,5 ", 7.5),
    ("-0,25", -0.25),
    ("−12", -12),
    ("+3", 3),
    (",5", 0.5),
    ("7,", 7),
    ("", None),
    ("-", None),
    ("1.234,5", None),
    ("5 s", None),
    ("1e3", None),
]


async def test_a_comma_and_a_point_are_the_same(phone: Phone) -> None:
    await phone.open()
    read = (
        "(text) => import('/js/figures.js').then((one) => { const n = one.typed(text); return isNaN(n) ? null : n; })"
    )
    for text, wanted in NUMBERS:
        assert await phone.page.evaluate(read, text) == wanted, text


@pytest.mark.parametrize("mark", [",", "."])
async def test_figures_are_kept_as_they_were_typed(phone: Phone, mark: str) -> None:
    await edit(phone, EVENING)
    await unfold(phone)
    for field, value in (
        ("#plan-site-latitude", "58.25"),
        ("#plan-start-minutes", "-12.5"),
        ("#plan-pace-min_gap_s", "1.5"),
        (".points input >> nth=1", "6.5"),
    ):
        await phone.page.fill(field, "")
        await phone.page.type(field, value.replace(".", mark))  # letter by letter, as a hand does it
    await save(phone)
    plan = await kept(phone, "quay-at-dusk")
    assert (plan["site"]["latitude"], plan["pace"]["min_gap_s"], plan["pace"]["points"][0][1]) == (58.25, 1.5, 6.5)
    assert plan["when"]["start"] == "sunset-750s"
    await phone.page.select_option("#plan-pace-kind", "steady")
    await phone.page.fill("#plan-pace-interval_s", f"7{mark}5")
    await save(phone)
    assert (await kept(phone, "quay-at-dusk"))["pace"]["interval_s"] == 7.5
    forgive(phone, 422)


async def test_a_comma_is_read_while_a_shoot_is_changed_too(phone: Phone) -> None:
    await phone.rig.end()
    shoot = await phone.rig.shoot(pace={"kind": "steady", "interval_s": 5})
    await phone.open()
    await phone.page.tap("#change")
    await phone.page.fill("#pace-to", "7,5")
    await expect(phone.page.locator("#change-do")).to_be_enabled(timeout=60_000)
    await phone.page.tap("[data-step=pace-to][data-by='1']")
    assert await phone.page.input_value("#pace-to") == "8"
    await phone.page.fill("#pace-to", "7,5")
    await expect(phone.page.locator("#change-do")).to_be_enabled(timeout=60_000)
    await phone.page.tap("#change-do")
    await phone.shows("#said", "Going to 7.5 s")
    assert (await phone.rig.call("GET", f"shoots/{shoot}"))["adjust"]["pace"]["to_s"] == 7.5
    await phone.rig.end()


async def test_what_is_no_number_is_refused_and_not_left_out(phone: Phone) -> None:
    await edit(phone, EVENING)
    await unfold(phone)
    await phone.page.fill("#plan-pace-min_gap_s", "2 s")
    await phone.shows("#plan-pace-min_gap_s-trouble", "number")
    await phone.page.fill("#plan-start-minutes", "1.2.3")
    await phone.page.fill("#plan-pace-min_gap_s", "2")
    await phone.shows("#plan-when-start-trouble", "1.2.3")
    forgive(phone, 422)


async def test_only_names_that_the_rig_takes_are_begun(phone: Phone) -> None:
    """docs/plan.md: letters, digits, `.`, `_` and `-`, a letter or digit first."""
    await edit(phone, EVENING)
    await go(phone, "plans")
    await phone.page.tap("#plan-new")
    for name in ("..", ".a", "_a", "-a", "ä", "a/b", "x" * 65):
        await phone.page.evaluate("(name) => { document.getElementById('plan-new-name').value = name; }", name)
        await phone.page.tap("#plan-new-do")
        await phone.shows("#plan-new-sheet .trouble", "begin with a letter or digit")
        assert await phone.page.evaluate("sessionStorage.length") == 0, name
        await phone.page.fill("#plan-new-name", "a")
    await phone.page.tap("#plan-new-sheet .leave")
    await go(phone, "plans/..")
    await phone.shows("#room", "No plan named .. is kept")


async def test_an_end_in_the_morning_has_the_day_that_is_meant(phone: Phone) -> None:
    await edit(phone, EVENING | {"when": {"start": "sunset+20min", "stop": "sunrise+30min"}})
    first = (await phone.rig.call("GET", "plans/quay-at-dusk/forecast"))["windows"][0]
    evening = datetime.fromisoformat(first["start_local"])
    query = {"latitude": 57.66, "longitude": 11.72, "timezone": "Europe/Stockholm", "words": "sunrise+30min"}
    sky = await phone.rig.call("GET", "sky", params=query | {"date": str(evening.date() + timedelta(days=1))})
    morning = datetime.fromisoformat(sky["words"][0]["local"])
    assert morning > evening
    await phone.shows("#plan-stop-at", f"{morning:%a}, ")
    told = await phone.reads("#plan-stop-at")
    assert f"{morning:%b} {morning.day}" in told
    assert f"{morning:%-I:%M}" in told
    assert "today" not in told
    await phone.page.select_option("#plan-start-event", "nautical_dusk")
    await phone.page.fill("#plan-start-minutes", "240")  # late enough for a slow machine, whose evening runs on
    await phone.shows("#plan-start-at", "today")


async def test_changes_thrown_away_come_back_to_their_own_plan(phone: Phone) -> None:
    await edit(phone, EVENING)
    await phone.rig.call("PUT", "plans/other", json=EVENING | {"name": "other"})
    for again in ("here", "from the list", "in the same plan, opened anew"):
        await phone.page.fill("#plan-start-minutes", "-21")
        await phone.page.tap("#plan-throw")
        await phone.shows("#said-text", "Changes to quay-at-dusk thrown away")
        if again != "here":
            await go(phone, "plans")
            await phone.page.locator("#plans-list").wait_for()
        if again == "in the same plan, opened anew":
            await go(phone, "plans/quay-at-dusk")
            await phone.page.locator("#plan-start-minutes").wait_for()
        await phone.page.tap("#said-button")
        await phone.until("document.querySelector('#plan-start-minutes')?.value === '-21'")
    await phone.page.tap("#plan-throw")
    await phone.shows("#said-text", "thrown away")
    await go(phone, "plans/other")
    await phone.shows("#plan-name", "other")
    await expect(phone.page.locator("#said")).to_be_hidden()


async def test_a_plan_just_begun_is_not_said_to_be_an_old_one(phone: Phone) -> None:
    await phone.rig.end()
    await phone.open()
    await go(phone, "plans")
    await phone.page.tap("#plan-new")
    await phone.page.fill("#plan-new-name", "pier")
    await phone.page.tap("#plan-new-do")
    await phone.shows("#plan-note", "Not saved on the rig yet")
    await go(phone, "plans")
    await phone.shows("#plans-list", "Not saved yet, kept on this phone")
    assert "Kept on the rig" not in await phone.reads("#room")
    await phone.page.locator("#plans-list a").tap()
    await phone.shows("#plan-note", "Not saved on the rig yet")
    await phone.page.goto("about:blank")  # what is still asked for ends here
    forgive(phone, 422)  # no place yet
    assert phone.faults == []


async def test_common_refusals_are_said_in_words_of_the_page(phone: Phone) -> None:
    await edit(phone, EVENING)
    await unfold(phone)
    for field, value, trouble, words, saved in (
        (
            "#plan-pace-min_gap_s",
            "25",
            ".field:has(.handle) > .trouble",
            "the gap of 25 s. Make it",
            "Not saved. Interval over",
        ),
        (
            "#plan-start-minutes",
            "-2000",
            "#plan-when-start-trouble",
            "more than a day from",
            "Not saved. Start: That is",
        ),
        (
            "#plan-site-latitude",
            "",
            "#plan-site-latitude-trouble",
            "Give the place",
            "Not saved. Give the place first.",
        ),
    ):
        before = await phone.page.input_value(field)
        await phone.page.fill(field, value)
        await phone.shows(trouble, words)
        await phone.page.tap("#plan-save")
        await phone.shows("#said-text", saved)
        assert "min_gap_s" not in await phone.reads("#room")
        await phone.picture(f"plans-refused-{field[6:10]}")
        await phone.page.fill(field, before)
        await phone.shows("#plan-sum", "frames")
    forgive(phone, 422)


async def test_the_figure_of_a_point_stands_above_the_chart(phone: Phone) -> None:
    await edit(phone, EVENING)
    point, told = phone.page.locator(".handle").nth(1), phone.page.locator(".at")
    await point.scroll_into_view_if_needed()
    box = await point.bounding_box()
    assert box is not None
    height = "document.querySelector('.at').getBoundingClientRect().height"
    before = await phone.page.evaluate(height)
    x, y = box["x"] + 24, box["y"] + 24
    finger = await phone.page.context.new_cdp_session(phone.page)

    async def touch(kind: str, *points: dict[str, float]) -> None:
        await finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": list(points)})

    await touch("touchStart", {"x": x, "y": y})
    await touch("touchMove", {"x": x + 10, "y": y + 30})
    await touch("touchMove", {"x": x + 20, "y": y + 60})
    same = (
        "document.querySelector('.at').textContent.replaceAll('\\u00a0', ' ').trim()"
        " === document.querySelectorAll('.handle')[1].getAttribute('aria-valuetext')"
    )
    await phone.until(f"{same} && !/26\\s+s/.test(document.querySelector('.at').textContent)")
    text = await point.get_attribute("aria-valuetext")
    assert await phone.page.evaluate(height) == before, "nothing moves under the finger"
    await phone.picture("plans-point-held")
    await touch("touchEnd")
    await point.focus()
    await phone.page.keyboard.press("ArrowLeft")
    await phone.until(same)
    assert await told.inner_text() != text
    await phone.page.locator("#plan-save").focus()
    assert await told.inner_text() == ""


async def test_fields_side_by_side_stay_level(phone: Phone) -> None:
    await phone.page.set_viewport_size({"width": 320, "height": 780})
    await edit(phone, EVENING | {"pace": {"kind": "timed", "from_s": 5, "to_s": 20}})
    await phone.page.fill("#plan-pace-from_s", "0")
    await phone.page.locator("#plan-pace-from_s-trouble:visible").wait_for()
    top = "(key) => document.getElementById(`plan-pace-${key}`).getBoundingClientRect().top"
    assert await phone.page.evaluate(top, "from_s") == await phone.page.evaluate(top, "to_s")
    await phone.picture("plans-level")
    await phone.page.set_viewport_size({"width": 360, "height": 780})
    forgive(phone, 422)


async def test_the_list_says_in_words_when_a_plan_begins_and_ends(phone: Phone) -> None:
    await phone.rig.end()
    for name, when in (
        ("a", {"start": "now", "stop": "sunrise+30min"}),
        ("b", {"start": "sunset-1h30min", "duration": "3h"}),
        ("c", {"start": "civil_dusk", "frames": 600}),
        ("d", {"start": "18:20", "stop": "22:00"}),
    ):
        await phone.rig.call("PUT", f"plans/{name}", json=EVENING | {"name": name, "when": when})
    await phone.open()
    await go(phone, "plans")
    at = await todays(phone, ("sunrise+30min", "sunset-1h30min", "civil_dusk"))
    await phone.shows("#plans-list", f"now → 30 min after sunrise ({at[0]})")
    for words in (f"1 h 30 min before sunset ({at[1]}) → 3 h", f"civil dusk ({at[2]}) → 600 frames", "18:20 → 22:00"):
        assert words in await phone.reads("#plans-list")
    await phone.picture("plans-list-words")
    await go(phone, "")
    await phone.page.tap("#start")
    await phone.shows("#start-plans", f"1 h 30 min before sunset ({at[1]}) → 3 h")


async def todays(phone: Phone, words: tuple[str, ...]) -> list[str]:
    """What the rig itself says that they are today at the plan's place, as hours and minutes there."""
    query = EVENING["site"] | {"words": words}
    sky = await phone.rig.call("GET", "sky", params=query)
    zone = ZoneInfo(EVENING["site"]["timezone"])
    return [f"{datetime.fromisoformat(one['utc']).astimezone(zone):%H:%M}" for one in sky["words"]]


async def test_films_that_the_rig_makes_by_itself_are_chosen_here(phone: Phone) -> None:
    """`[clip] daily` and `preview` of docs/plan.md; what goes against them is told at them."""
    await edit(phone, EVENING)
    await unfold(phone)
    for key in ("daily", "preview"):
        await phone.page.tap(f"label[for=plan-clip-{key}]")
    await save(phone)
    assert {key: (await kept(phone, "quay-at-dusk"))["clip"][key] for key in ("daily", "preview")} == {
        "daily": True, "preview": True,
    }  # fmt: skip
    await unfold(phone)
    await phone.page.tap("label[for=plan-clip-preview]")
    await phone.page.select_option("#plan-files-fetch", "none")
    await phone.shows("#plan-clip-daily-trouble", "no pictures to make a film of")
    await phone.shows("#plan-sum", "Not a plan yet: ▲ at “Make the clip of each window once it is over”.")
    await phone.picture("plan-films")
    await phone.page.tap("label[for=plan-clip-daily]")
    await save(phone)
    clip = (await kept(phone, "quay-at-dusk"))["clip"]
    assert (clip["daily"], clip["preview"]) == (False, False)
    forgive(phone, 422)


async def test_a_number_and_its_unit_stand_on_one_line(phone: Phone) -> None:
    """Also in what the rig says; where no unit follows, a line may break as it likes."""
    await phone.open()
    told = "async (text) => (await import('/js/page.js')).$dom.make('p', {}, text).textContent"
    for text, bound in (
        ("every 20 s for 3 h 5 min", "every 20\u00a0s for 3\u00a0h 5\u00a0min"),
        ("1/8 s, ISO 400", "1/8\u00a0s, ISO\u00a0400"),
        ("−6.4 EV, 32 GB, 94 %, 12.5 Wh", "−6.4\u00a0EV, 32\u00a0GB, 94\u00a0%, 12.5\u00a0Wh"),
        ("3 shoots, 12 minutes, 5 hours, 7 m high", "3 shoots, 12 minutes, 5 hours, 7\u00a0m high"),
        ("2 später, 4 möglich", "2 später, 4 möglich"),
    ):
        assert await phone.page.evaluate(told, text) == bound
