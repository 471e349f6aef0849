"""The room of the frames: looked through, listed, and as curves; of a shoot that runs, and of evenings before it."""

import asyncio
import re
from typing import Any

import httpx
import pytest
from playwright.async_api import Route, expect

from tests.support.dusk_rig import DuskRig, dusk_rig
from tests.support.rigs import EVENING_UTC
from tests.support.told_shoot import ToldShoot
from tests.web.conftest import Phone
from tests.web.screens import THEMES, dress
from tests.web.test_rules import TARGETS, WIDE, axe

pytestmark = [pytest.mark.browser, pytest.mark.asyncio(loop_scope="module")]

DAY_S = 86_400
RUN = range(100, 105)
LONG = ToldShoot(
    "2026-10-19-pier", EVENING_UTC - DAY_S, 600, missed=[*RUN, 301], lost=[200], doubted=[50, 400], blind=[350]
)
TWO = ToldShoot("2026-10-18-two", EVENING_UTC - 2 * DAY_S, 12, missed=[3], cameras=("camera-1", "camera-2"))
SHORT = ToldShoot("2026-10-17-short", EVENING_UTC - 3 * DAY_S, 40, missed=[11, 12, 13, 30])

SEEN = """
() => {
  window.seen = [];
  const look = () => { const text = document.getElementById("shown-says").textContent;
    if (window.seen.at(-1) !== text) window.seen.push(text); };
  const all = { childList: true, characterData: true, subtree: true };
  new MutationObserver(look).observe(document.getElementById("shown-says"), all);
}
"""


@pytest.fixture(scope="module")
def rig(tmp_path_factory: pytest.TempPathFactory):
    directory = tmp_path_factory.mktemp("frames")
    for shoot in (SHORT, TWO, LONG):
        shoot.tell(directory / "rig")
    with dusk_rig(directory) as running:
        yield running


async def enter(phone: Phone, shoot: ToldShoot | None = LONG, view: str = "look") -> None:
    """The room, with that shoot chosen, or as it is entered."""
    await phone.open()
    await phone.page.evaluate("location.hash = 'frames'")
    await phone.page.locator("#which option").first.wait_for(state="attached")
    if shoot is not None:
        await phone.page.select_option("#which", shoot.id)
        await phone.shows("#shown-says", f"of {shoot.slots}")
    if view != "look":
        await phone.page.tap(f"[data-view={view}]")


async def slide_to(phone: Phone, seq: int) -> None:
    await phone.page.evaluate(
        "(seq) => { const at = document.getElementById('at'); at.value = seq;"
        " at.dispatchEvent(new Event('input', { bubbles: true })); }",
        seq,
    )
    await phone.shows("#shown-says", f" {seq} of ")


def previews(phone: Phone) -> list[str]:
    return [url for url in phone.requests if "preview" in url]


async def page_of(rig: DuskRig, shoot: ToldShoot, query: str = "") -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = await rig.call("GET", f"shoots/{shoot.id}/frames?{query}")
    return found


# ---- the flip book


async def test_no_picture_is_shown_or_fetched_before_it_is_asked_for(phone: Phone) -> None:
    await enter(phone)
    await phone.until("document.querySelector('#strip .bars')?.getAttribute('d').split('M').length > 100")
    await expect(phone.page.locator("#shown-place")).to_be_hidden()
    assert previews(phone) == []
    await phone.picture("frames-hidden")
    await phone.page.tap("#pictures")
    await phone.until("document.querySelector('#shown-place img')?.naturalWidth > 0")
    await phone.until("document.querySelectorAll('#strip .slices img').length > 8")
    assert "brightness" in await phone.page.evaluate(
        "getComputedStyle(document.querySelector('#shown-place img')).filter"
    )
    assert len(previews(phone)) < 25, "as many as there is room for, of 594"
    await phone.picture("frames-shown")
    await phone.page.tap("#pictures")
    await expect(phone.page.locator("#shown-place")).to_be_hidden()
    await expect(phone.page.locator("#strip .slices")).to_be_hidden()


async def test_stepping_by_buttons_and_keys(phone: Phone) -> None:
    await enter(phone)
    await slide_to(phone, 102)
    await phone.page.tap("#on")
    await phone.shows("#shown-says", "Slot 103 of 600")
    for _ in range(2):
        await phone.page.keyboard.press("ArrowRight")
    await phone.shows("#shown-says", "Frame 105 of 600")
    await phone.page.focus("#at")
    await phone.page.keyboard.press("ArrowLeft")
    await phone.shows("#shown-says", "Slot 104 of 600")
    told = await phone.page.get_attribute("#at", "aria-valuetext")
    assert told
    assert "missed" in told
    assert await phone.reads("#shown-says") == told


async def test_a_slot_without_a_frame_is_shown_with_its_cause(phone: Phone) -> None:
    await enter(phone)
    await phone.page.tap("#pictures")
    for seq, said in ((102, "the camera did not answer"), (200, "the card was full"), (350, "No small picture")):
        await slide_to(phone, seq)
        await phone.shows("#shown-place", said)
    await phone.picture("frames-none")
    await phone.until("document.querySelector('#strip .line').getAttribute('d').split('M').length > 3")


async def test_a_finger_on_the_strip_goes_there(phone: Phone) -> None:
    await enter(phone)
    await phone.until("document.querySelector('#strip .bars') !== null")
    box = await phone.page.locator("#strip").bounding_box()
    assert box
    await phone.page.mouse.move(box["x"] + box["width"] / 2, box["y"] + 20)
    await phone.page.mouse.down()
    await phone.page.mouse.up()
    await phone.until("Math.abs(Number(document.getElementById('at').value) - 300) <= 6")
    assert re.search(r"(29|30)\d of 600", await phone.reads("#shown-says"))


async def test_playing_shows_each_run_of_missed_slots(phone: Phone) -> None:
    await enter(phone, SHORT)
    await phone.page.evaluate(SEEN)
    await phone.page.select_option("#speed", "25")
    await phone.page.tap("#play")
    await phone.page.locator("#play[aria-label=Pause]").wait_for()
    await phone.shows("#shown-says", "Frame 40 of 40")
    await phone.page.locator("#play[aria-label=Play]").wait_for()
    seen = await phone.page.evaluate("window.seen")
    assert [text.split(",")[0] for text in seen if text.startswith("×")] == ["× Slots 11 to 13", "× Slot 30 of 40"]
    frames = [int(text.split()[1]) for text in seen if text.startswith("Frame")]
    assert len(frames) < 30, "of 40, since 25 a second are more than are fetched"


async def test_playing_passes_over_more_where_the_link_is_slow(phone: Phone) -> None:
    link = asyncio.Lock()

    async def slowly(route: Route) -> None:
        async with link:  # three pictures a second, however many are asked for at once
            await asyncio.sleep(0.33)
        await route.continue_()

    await enter(phone)
    await phone.page.route("**/preview.jpg", slowly)
    await slide_to(phone, 110)
    await phone.page.select_option("#speed", "6")
    await phone.page.tap("#play")
    await phone.until("/Shows 1 slot in \\d/.test(document.getElementById('look-told').textContent)", 60)
    await phone.picture("frames-slow")
    await phone.page.tap("#play")
    await phone.page.locator("#play[aria-label=Play]").wait_for()
    at = await phone.reads("#shown-says")
    await asyncio.sleep(1)
    assert await phone.reads("#shown-says") == at
    await phone.page.unroute_all(behavior="ignoreErrors")


async def test_a_long_shoot_is_played_through_in_little_time(phone: Phone) -> None:
    await enter(phone)
    await slide_to(phone, 1)
    await phone.page.evaluate(SEEN)
    await phone.page.select_option("#speed", "all")
    await phone.page.tap("#play")
    await phone.shows("#shown-says", "Frame 600 of 600", 120)
    seen = await phone.page.evaluate("window.seen")
    missed = [text.split(",")[0] for text in seen if text.startswith("×")]
    assert missed == ["× Slots 100 to 104", "× Slot 200 of 600", "× Slot 301 of 600"]
    assert len(seen) < 250, "of 600"


async def test_no_stride_passes_over_a_run(phone: Phone) -> None:
    await phone.open()
    passed = await phone.page.evaluate(
        """async () => {
          const { after } = await import("/js/rooms/frames-player.js");
          const runs = [[1, 2], [7, 7], [9, 30], [64, 64], [65, 70], [99, 100]], found = [];
          for (const stride of [1, 2, 4, 8, 64, 256]) for (let start = 0; start < 99; start++) {
            const seen = [];
            for (let at = start; at < 100 && seen.length < 200;) seen.push(at = after(at, stride, runs, 100));
            const due = runs.filter(([from]) => from > start).map(([from]) => from);
            if (seen.at(-1) < 99 || due.some((from) => !seen.includes(from))) found.push([stride, start, seen]);
          }
          return found;
        }"""
    )
    assert passed == []


async def test_the_newest_is_followed_until_one_looks_elsewhere(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.rig.until_frames(4)
    await enter(phone, None)
    await phone.shows("#shown-says", "Frame ")
    await phone.page.tap("#pictures")
    first = int((await phone.reads("#shown-says")).split()[1])
    await phone.until(f"Number(document.getElementById('shown-says').textContent.split(' ')[1]) >= {first + 2}")
    await phone.page.tap("#back")
    await phone.page.tap("#back")
    there = (await phone.reads("#shown-says")).split(" of ")[0]
    last = int((await phone.rig.call("GET", "now"))["last_frame"]["seq"])
    await phone.rig.until(lambda now: now["last_frame"]["seq"] >= last + 3)
    await phone.until(f"Number(document.getElementById('at').max) >= {last + 3}")
    assert (await phone.reads("#shown-says")).split(" of ")[0] == there


async def test_the_facts_are_those_of_the_log(phone: Phone) -> None:
    await enter(phone)
    await slide_to(phone, 300)
    (row,) = await page_of(phone.rig, LONG, "after=299&limit=1")
    told = await phone.page.evaluate(
        "Object.fromEntries([...document.querySelectorAll('#facts dl > div')]"
        ".map((one) => [...one.children].map((e) => e.textContent.replaceAll('\\u00a0', ' '))))"
    )
    assert told["State"] == "On the camera's card"
    assert told["File on the card"] == row["camera_file"] == "/DCIM/0300.JPG"
    assert told["Exposure"] == "1/4 s, f/2.8, ISO 100"
    assert told["Exposure, EV at ISO 100"] == f"{row['exposure_ev']:.1f} EV"
    assert told["Interval to the next"] == "20.0 s"
    assert told["Sun"] == "5.0° below the horizon, azimuth 250°"
    assert told["Moon"] == "12.0° above the horizon"
    assert told["Burnt out, of the picture"] == "1 %"
    assert "Why" not in told, "what is not known, or does not apply, is left out"
    assert "Late by" in told
    await phone.page.locator("#facts").scroll_into_view_if_needed()
    await phone.picture("frames-facts")


# ---- the list


async def listed(phone: Phone) -> list[int]:
    seqs: list[int] = await phone.page.evaluate(
        "[...document.querySelectorAll('#list button')].map((one) => Number(one.dataset.seq))"
    )
    return seqs


async def test_the_list_pages_from_the_newest_back(phone: Phone) -> None:
    await enter(phone, LONG, "list")
    await phone.until("document.querySelectorAll('#list button').length === 30")
    assert await listed(phone) == list(range(600, 570, -1))
    await phone.page.tap("#older")
    await phone.until("document.querySelectorAll('#list button').length === 60")
    assert await listed(phone) == list(range(600, 540, -1))
    limits = [int(found[1]) for url in phone.requests if (found := re.search(r"frames\?.*limit=(\d+)", url))]
    assert limits
    assert max(limits) < 600, "never the whole log"


async def test_which_frames_and_how_many_of_each(phone: Phone) -> None:
    await enter(phone, LONG, "list")
    await phone.shows("[data-kind=missed]", "7")
    await phone.shows("[data-kind=doubtful]", "2")
    await phone.shows("[data-kind=all]", "600")
    await phone.page.tap("[data-kind=missed]")
    await phone.until("document.querySelectorAll('#list button').length === 7")
    assert await listed(phone) == [301, 200, 104, 103, 102, 101, 100]
    await phone.shows("#list [data-seq='102']", "the camera did not answer")
    await expect(phone.page.locator("#older")).to_be_hidden()
    await phone.picture("frames-missed")
    await phone.page.tap("[data-kind=doubtful]")
    await phone.until("document.querySelectorAll('#list button').length === 2")
    assert await listed(phone) == [400, 50]
    await phone.shows("#list [data-seq='50']", "found on the card")
    await phone.page.tap("#list [data-seq='50']")
    await phone.shows("#shown-says", "Frame 50 of 600")
    await phone.shows("#facts", "found on the card")
    await phone.page.tap("[data-view=list]")
    await expect(phone.page.locator("#list [data-seq='50']")).to_be_focused()  # one comes back to where one was
    assert await listed(phone) == [400, 50]


async def test_where_nothing_was_missed_it_says_so(phone: Phone) -> None:
    await phone.rig.end()
    await enter(phone, SHORT, "list")
    await phone.page.tap("[data-kind=doubtful]")
    await phone.shows("#list-empty", "None is doubtful")


async def test_new_frames_appear_without_a_jump(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.rig.until_frames(16)
    await enter(phone, None, "list")
    await phone.until("document.querySelectorAll('#list button').length > 14")
    top = (await listed(phone))[0]
    await phone.until(f"document.querySelector(\"#list [data-seq='{top + 1}']\") !== null")
    assert await listed(phone) == sorted(await listed(phone), reverse=True)
    row = f"document.querySelector(\"#list [data-seq='{top - 9}']\")"
    await phone.page.evaluate(f"{row}.scrollIntoView({{ block: 'center' }})")
    before, top = await phone.page.evaluate(f"{row}.getBoundingClientRect().top"), (await listed(phone))[0]
    assert await phone.page.evaluate("document.getElementById('list').getBoundingClientRect().top") < 0
    await phone.until(f"document.querySelector(\"#list [data-seq='{top + 2}']\") !== null")
    assert abs(await phone.page.evaluate(f"{row}.getBoundingClientRect().top") - before) <= 1


async def test_the_log_can_be_kept_as_a_table(phone: Phone) -> None:
    await enter(phone, LONG, "list")
    async with phone.page.expect_download() as coming:
        await phone.page.tap("#csv")
    download = await coming.value
    assert download.suggested_filename == f"{LONG.id}.csv"
    async with httpx.AsyncClient() as client:
        url = f"{phone.rig.url}api/v1/shoots/{LONG.id}/frames"
        answer = await client.get(url, headers={"Accept": "text/csv"})
    assert (await download.path()).read_bytes() == answer.content


@pytest.mark.parametrize("theme", THEMES)
async def test_each_view_keeps_the_rules(phone: Phone, theme: str) -> None:
    """As test_rules has them, for what is not seen on entering."""
    await dress(phone, theme)
    await enter(phone)
    await phone.page.set_viewport_size({"width": 320, "height": 640})  # WCAG 2.2, 1.4.10
    await phone.page.tap("#pictures")
    await phone.until("document.querySelector('#shown-place img')?.naturalWidth > 0")
    for view in ("curves", "list", "look"):
        await phone.page.tap(f"[data-view={view}]")
        await asyncio.sleep(1.2)  # colours move for a second
        await phone.picture(f"frames-{view}-{theme}")
        assert await axe(phone) == []
        assert [one for one in await phone.page.evaluate(TARGETS) if min(one[1:]) < 48] == []
        assert max(await phone.page.evaluate(WIDE)) <= 321
    await expect(phone.page.locator("#shown-place img")).to_be_visible()  # as it was left


# ---- which shoot, which camera


async def test_the_running_shoot_comes_first_and_older_ones_can_be_chosen(phone: Phone) -> None:
    shoot = await phone.rig.shoot()
    await enter(phone, None)
    assert await phone.page.input_value("#which") == shoot
    options = await phone.page.locator("#which option").all_text_contents()
    assert "shooting: " in options[0]
    assert [text.split(": ")[-1] for text in options][-3:] == [LONG.id, TWO.id, SHORT.id]
    await expect(phone.page.locator("#which-camera")).to_be_hidden()
    await phone.page.select_option("#which", TWO.id)
    await phone.shows("#shown-says", "of 12")
    await expect(phone.page.locator("#which-camera")).to_be_visible()
    await phone.page.select_option("#which-camera", "camera-2")
    await phone.shows("#facts", "camera-2")
    await phone.page.tap("[data-view=list]")
    await phone.shows("[data-kind=missed]", "1")  # the slot, of this camera
    await phone.until("document.querySelectorAll('#list button').length === 12")
    await phone.picture("frames-cameras")


# ---- curves


async def test_curves_over_the_suns_altitude(phone: Phone) -> None:
    await enter(phone, LONG, "curves")
    await phone.until("document.querySelector('#curves path.line')?.getAttribute('d').split(/[ML]/).length > 100")
    said = await phone.page.get_attribute("#curves svg", "aria-label")
    assert said
    assert "sun from 1.9° to −12.0°" in said
    labels = await phone.page.evaluate("[...document.querySelectorAll('#curves text')].map((text) => text.textContent)")
    assert {"EV at ISO 100", "Interval, s", "sun's altitude", "scene", "exposure", "× no frame"} <= set(labels)
    assert {"0°", "−3°", "−6°", "−9°"} <= set(labels)
    crosses = await phone.page.evaluate(
        "document.querySelector('#curves .cross').getAttribute('d').split('M').length - 1"
    )
    assert crosses == 3  # one for each run: 100 to 104, 200, 301
    await phone.picture("frames-curves")


async def test_curves_grow_while_it_shoots(phone: Phone) -> None:
    await phone.rig.shoot()
    await phone.rig.until_frames(4)
    await enter(phone, None, "curves")
    count = "document.querySelectorAll('#curves path.line')[1]?.getAttribute('d').split(/[ML]/).length ?? 0"
    await phone.until(f"{count} > 3")
    before = await phone.page.evaluate(count)
    await phone.until(f"{count} > {before + 1}")
