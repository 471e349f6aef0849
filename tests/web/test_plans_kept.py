"""The room of plans where something goes wrong, and what is done with a whole plan; and the rules of every screen."""

import asyncio
from typing import Any

import pytest
from playwright.async_api import expect

from tests.support.dusk_rig import PLAN
from tests.web.conftest import Phone
from tests.web.screens import THEMES, dress
from tests.web.test_files import contrast
from tests.web.test_plans_room import EVENING, RICH, edit, forgive, go, kept, save, unfold
from tests.web.test_rules import TARGETS, TEXTS, WIDE, axe, hexed

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]

PLACES = [
    # RFC 5870, sections 1, 6.1 and 9.4
    ("geo:13.4125,103.8667", (13.4125, 103.8667)),
    ("geo:48.2010,16.3695,183", (48.201, 16.3695)),
    ("geo:48.198634,16.371648;crs=wgs84;u=40", (48.198634, 16.371648)),
    ("geo:90,-22.43;crs=WGS84", (90, -22.43)),
    ("geo:66,30;u=6.500;FOo=this%2dthat", (66, 30)),
    ("geo:323482,4306480;crs=EPSG:32618;u=20", None),  # another reference system
    ("geo:0,0?q=57.7,11.95(pier)", (57.7, 11.95)),  # common practice, no source
    # 57°42' is 57.7°, 11°57' is 11.95°, 30" is 1/120°: arithmetic
    ("57.7, 11.95", (57.7, 11.95)),
    ("57.7 11.95", (57.7, 11.95)),
    ("57.7,11.95", (57.7, 11.95)),
    ("−33.9, 151.2", (-33.9, 151.2)),
    ("57,7 11,95", (57.7, 11.95)),
    ("57,7, 11,95", (57.7, 11.95)),
    ("57,7; 11,95", (57.7, 11.95)),
    ("57; 11", (57, 11)),
    ("57.7,11", (57.7, 11)),
    ("57°42'N 11°57'E", (57.7, 11.95)),
    ("57° 42′ 0″ N, 11° 57′ 0″ E", (57.7, 11.95)),
    ("57°42'30\"N 11°57'30\"W", (57.708333, -11.958333)),
    ("N 57° 42.5' E 11° 57.5'", (57.708333, 11.958333)),
    ("S33°54' E151°12'", (-33.9, 151.2)),
    ("11,95°E 57,7°N", (57.7, 11.95)),
    ("57°42' 11°57'", (57.7, 11.95)),
    ("Meet me: 57.70123, 11.95456 by the crane", (57.70123, 11.95456)),
    ("https://map.example/@57.7,11.95,15z", (57.7, 11.95)),
    ("https://map.example/?q=57.7%2C11.95", (57.7, 11.95)),
    ("https://map.example/?mlat=57.7&mlon=11.95#map=15/1/2", (57.7, 11.95)),
    ("Look https://map.example/#map=15/57.7/-11.95", (57.7, -11.95)),
    ("", None),
    ("57.7", None),
    ("57,7", None),  # one number, or two?
    ("97.7, 11.95", None),
    ("57.7, 191.95", None),
    ("57°72'N 11°57'E", None),
    ("57°42'N", None),
    ("57°42'N 11°57'O", None),  # O is east in one language and west in another
    ("the pier at dusk", None),
]


async def test_places_are_read_out_of_what_people_paste(phone: Phone) -> None:
    await phone.open()
    for text, wanted in PLACES:
        read = "(text) => import('/js/rooms/plans-place.js').then((one) => one.readPlace(text))"
        found = await phone.page.evaluate(read, text)
        place = None if wanted is None else {"latitude": wanted[0], "longitude": wanted[1]}
        assert found == (place and pytest.approx(place, abs=1e-6)), text


async def test_a_place_is_told_as_it_was_read(phone: Phone) -> None:
    await edit(phone, EVENING)
    await unfold(phone)
    await phone.page.fill("#plan-paste", "the pier")
    await phone.shows("#plan-read", "No place found")
    await phone.page.fill("#plan-paste", "59°19'30\"N 18°3'E")
    await phone.shows("#plan-read", "59.32500°")
    await phone.page.tap("#plan-own-zone")
    zone = await phone.page.evaluate("Intl.DateTimeFormat().resolvedOptions().timeZone")
    await save(phone)
    site = (await kept(phone, "quay-at-dusk"))["site"]
    assert (site["latitude"], site["longitude"], site["timezone"]) == (59.325, 18.05, zone)


async def test_an_emptied_field_does_not_mean_something_else(phone: Phone) -> None:
    """Without a stop a shoot goes on until it is stopped: nobody says that by emptying a field."""
    await edit(phone, EVENING)
    for kind, field in (
        ("duration", "#plan-when-duration"),
        ("frames", "#plan-when-frames"),
        ("time", "#plan-when-stop-text"),
    ):
        await phone.page.select_option("#plan-when-stop", kind)
        await phone.shows("#plan-sum", "frames")
        await phone.page.fill(field, "")
        await phone.shows("#plan-sum", "Not a plan yet")
    forgive(phone, 422)


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("#plan-site-latitude", "157", "157 is out of range"),
        ("#plan-site-timezone", "Europe/Nowhere", "no time zone"),
        ("#plan-pace-min_gap_s", "-1", "out of range"),
        ("#plan-clip-fps", "0", "out of range"),
        (".points input >> nth=3", "-5", "out of range"),
    ],
)
async def test_what_the_rig_refuses_stands_beside_its_field(phone: Phone, field: str, value: str, words: str) -> None:
    await edit(phone, RICH)
    await unfold(phone)
    before = await phone.page.locator(field).input_value()
    await phone.page.fill(field, value)
    place = phone.page.locator(".field", has=phone.page.locator(field.partition(" ")[0])).last
    await place.locator(".trouble", has_text=words).wait_for()
    await phone.shows("#plan-sum", "Not a plan yet")
    await phone.page.fill(field, before)
    await phone.shows("#plan-sum", "frames")
    assert await phone.page.locator("#room .trouble:visible").count() == 0
    forgive(phone, 422)


async def test_a_plan_changed_elsewhere_is_not_written_over(phone: Phone) -> None:
    await edit(phone, EVENING)
    await phone.page.fill("#plan-start-minutes", "-20")
    theirs = EVENING | {"clip": {"fps": 50}}
    await phone.rig.call("PUT", "plans/quay-at-dusk", json=theirs)
    await phone.page.tap("#plan-save")
    await phone.shows("#plan-clash", "changed elsewhere")
    await phone.picture("plans-clash")
    assert (await kept(phone, "quay-at-dusk"))["clip"]["fps"] == 50
    assert await phone.page.input_value("#plan-start-minutes") == "-20", "what was typed is still there"
    await phone.page.tap("#plan-mine")
    await phone.shows("#said-text", "Saved on the rig")
    plan = await kept(phone, "quay-at-dusk")
    assert (plan["when"]["start"], plan["clip"]["fps"]) == ("sunset-20min", 25)

    await phone.page.fill("#plan-start-minutes", "-10")
    await phone.rig.call("PUT", "plans/quay-at-dusk", json=theirs)
    await phone.page.tap("#plan-save")
    await phone.page.locator("#plan-theirs").tap()
    await phone.until("document.querySelector('#plan-start-minutes').value === '-45'")
    assert (await kept(phone, "quay-at-dusk"))["clip"]["fps"] == 50
    forgive(phone, 412)


async def test_nothing_typed_is_lost(phone: Phone) -> None:
    await edit(phone, EVENING)
    await phone.page.fill("#plan-start-minutes", "-33")
    await phone.shows("#plan-note", "Not saved")
    await go(phone, "frames")  # left by mistake
    await phone.page.locator("body[data-room=frames]").wait_for()
    await go(phone, "plans")
    await phone.shows("#plans-list", "changes not saved")
    await phone.page.locator("#plans-list a").tap()
    await phone.shows("#plan-note", "what you typed before")
    assert await phone.page.input_value("#plan-start-minutes") == "-33"
    await phone.page.reload()
    await phone.shows("#plan-note", "what you typed before")
    assert await phone.page.input_value("#plan-start-minutes") == "-33"

    await phone.page.context.set_offline(True)
    await phone.page.fill("#plan-start-minutes", "-34")
    await phone.page.tap("#plan-save")
    await phone.shows("#said-text", "No answer from the rig")
    assert (await kept(phone, "quay-at-dusk"))["when"]["start"] == "sunset-45min", "nothing is queued"
    await phone.page.context.set_offline(False)
    await asyncio.sleep(3)
    assert (await kept(phone, "quay-at-dusk"))["when"]["start"] == "sunset-45min", "nor sent later"
    await phone.shows("#plan-sum", "frames")
    await phone.page.tap("#plan-throw")
    await phone.until("document.querySelector('#plan-start-minutes').value === '-45'")
    await phone.page.tap("#said-button")  # brought back
    await phone.until("document.querySelector('#plan-start-minutes').value === '-34'")
    await save(phone)
    assert (await kept(phone, "quay-at-dusk"))["when"]["start"] == "sunset-34min"
    phone.faults[:] = [fault for fault in phone.faults if "ERR_INTERNET_DISCONNECTED" not in fault]


async def test_a_save_whose_answer_was_lost_is_known_again(phone: Phone) -> None:
    await edit(phone, EVENING)

    async def swallow(route: Any) -> None:
        if route.request.method == "PUT":
            await route.fetch()
            await route.abort()
        else:
            await route.continue_()

    await phone.page.route("**/api/v1/plans/quay-at-dusk", swallow)
    await phone.page.fill("#plan-start-minutes", "-25")
    await phone.page.tap("#plan-save")
    await phone.shows("#said-text", "It may or may not be saved")
    await phone.page.unroute("**/api/v1/plans/quay-at-dusk")
    await save(phone)
    assert not await phone.page.is_visible("#plan-clash")
    assert (await kept(phone, "quay-at-dusk"))["when"]["start"] == "sunset-25min"
    forgive(phone, 412)
    phone.faults[:] = [fault for fault in phone.faults if "ERR_FAILED" not in fault]


async def test_what_a_start_comes_to_is_told_before_it_can_be_done(phone: Phone) -> None:
    """A shoot that has the camera is named; a plan that begins after its end can be scheduled (docs/errors.md)."""
    await edit(phone, PLAN)
    later = PLAN | {"name": "later", "when": {"start": "noon", "duration": "1h"}}
    await phone.rig.call("PUT", "plans/later", json=later)
    await phone.rig.call("POST", "shoots", json={"plan": PLAN | {"name": "quay"}})
    await phone.rig.until_state("shooting")
    await phone.page.locator("h1", has_text="Shooting").wait_for()
    told = asyncio.Event()

    async def late(route: Any) -> None:
        answer = await route.fetch()
        await told.wait()
        await route.fulfill(response=answer)

    await phone.page.route("**/api/v1/forecast", late)
    await phone.page.tap("#plan-start")
    await phone.shows("#start-comes", "Working out")
    await expect(phone.page.locator("#plan-start-do")).to_be_disabled()
    told.set()
    await phone.shows("#start-others", "“quay” has the camera until")
    await phone.picture("plans-start-busy")
    await expect(phone.page.locator("#plan-start-do")).to_be_disabled()
    await phone.page.tap("#plan-start-sheet .leave")
    await phone.page.unroute_all(behavior="ignoreErrors")

    await go(phone, "plans/later")
    await phone.shows("#plan-name", "later")
    await phone.page.tap("#plan-start")
    await phone.page.locator("#plan-start-do:enabled").wait_for()
    await expect(phone.page.locator("#start-others")).to_be_empty()
    await phone.rig.end()


async def test_a_rename_whose_answer_was_lost_is_done_once(phone: Phone) -> None:
    await edit(phone, EVENING)
    keys: list[str | None] = []

    async def swallow(route: Any) -> None:
        keys.append(route.request.headers.get("idempotency-key"))
        if len(keys) > 1:
            return await route.continue_()
        await route.fetch()
        await route.abort()

    await phone.page.route("**/rename", swallow)
    await unfold(phone)
    await phone.page.tap("#plan-rename")
    await phone.page.fill("#plan-new-name", "third")
    await phone.page.tap("#plan-rename-do")
    await phone.page.locator("#plan-rename-sheet .trouble:visible").wait_for()
    await phone.page.tap("#plan-rename-do")
    await phone.shows("#plan-name", "third")
    assert keys[0] == keys[1] is not None
    assert [plan["name"] for plan in await phone.rig.call("GET", "plans")] == ["third"]
    phone.faults[:] = [fault for fault in phone.faults if "ERR_FAILED" not in fault]


async def test_copy_rename_versions_and_delete(phone: Phone) -> None:
    first = await edit(phone, EVENING)
    await phone.page.fill("#plan-start-minutes", "-30")
    await save(phone)
    await unfold(phone)
    await phone.page.tap("#plan-versions")
    await phone.page.locator("#plan-versions-sheet .stack button:enabled").tap()
    await phone.until("document.querySelector('#plan-start-minutes').value === '-45'")
    assert (await kept(phone, "quay-at-dusk"))["when"]["start"] == "sunset-30min", "nothing changes until it is saved"
    await save(phone)
    assert await kept(phone, "quay-at-dusk") == first

    await unfold(phone)
    await phone.page.tap("#plan-copy")
    await phone.page.fill("#plan-new-name", "quay-at-dusk")
    await phone.page.tap("#plan-copy-do")
    await phone.shows("#plan-copy-sheet", "there already")
    await phone.page.fill("#plan-new-name", "second")
    await phone.page.tap("#plan-copy-do")
    await phone.shows("#plan-name", "second")
    await phone.page.locator("#plan-sum", has_text="frames").wait_for()
    await save(phone)
    assert await kept(phone, "second") == first | {"name": "second"}

    await unfold(phone)
    await phone.page.tap("#plan-rename")
    await phone.page.fill("#plan-new-name", "third")
    await phone.page.tap("#plan-rename-do")
    await phone.shows("#plan-name", "third")
    await phone.page.locator("#plan-more summary").tap()
    await phone.page.tap("#plan-delete")
    await phone.shows("#plan-delete-sheet", "for good")
    await phone.picture("plans-delete")
    await phone.page.tap("#plan-delete-do")
    await phone.shows("#plans-list", "quay-at-dusk")
    assert [plan["name"] for plan in await phone.rig.call("GET", "plans")] == ["quay-at-dusk"]
    forgive(phone, 404)


async def test_who_may_only_look_sees_the_plan_and_no_orders(phone: Phone) -> None:
    await edit(phone, EVENING)

    async def looking(route: Any) -> None:
        answer = await route.fetch()
        await route.fulfill(
            response=answer, body=(await answer.text()).replace('data-rights="all"', 'data-rights="view"')
        )

    await phone.page.route(f"{phone.rig.url}", looking)
    await phone.page.goto(phone.rig.url)
    await go(phone, "plans/quay-at-dusk")
    await phone.shows("#plan-sum", "frames")
    assert (
        await phone.page.locator("#plan-save, #plan-start, #plan-more, #plan-rehearsal, #plan-throw:visible").count()
        == 0
    )
    assert await phone.page.locator("#room fieldset :enabled:not(fieldset, legend)").count() == 0
    await go(phone, "plans")
    await phone.shows("#plans-list", "quay-at-dusk")
    assert await phone.page.locator("#plan-new").count() == 0


@pytest.mark.parametrize("theme", THEMES)
async def test_the_editor_keeps_the_rules(phone: Phone, theme: str) -> None:
    """As `test_rules.py` holds every screen to them; here with all of the form unfolded."""
    await dress(phone, theme)
    await edit(phone, RICH)
    await phone.picture(f"plans-editor-{theme}")
    await unfold(phone)
    await phone.page.select_option("#plan-when-every", "every")
    await phone.page.locator("#plan-warned, #plan-figures div").first.wait_for()
    await phone.page.tap("[data-sky=clear]")
    await phone.page.locator("#plan-rehearsed svg").wait_for(timeout=120_000)
    await asyncio.sleep(1.2)  # colours move for a second
    assert await axe(phone) == []
    targets = await phone.page.evaluate(TARGETS)
    assert [target for target in targets if target[1] < 48 or target[2] < 48] == []
    texts = await phone.page.evaluate(TEXTS)
    assert [text for text in texts if contrast(hexed(text[1]), hexed(text[2])) < 4.5] == []
    for width in (320, 360):
        await phone.page.set_viewport_size({"width": width, "height": 640})
        await asyncio.sleep(0.5)
        assert max(await phone.page.evaluate(WIDE)) <= width + 1
