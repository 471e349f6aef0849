"""The watch over a rig: what its checks find reaches log, page, figures and messages, once when it begins and ends."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest

from api.figures import exposition
from controller.daemon import Rig
from controller.decide.messages.document import Messages
from controller.engine.post import Post
from controller.engine.watching import SHOOTS_KEPT, Watching
from controller.words.clock import WallClock
from controller.words.documents import Raised
from controller.words.layout import FINDINGS
from tests.support.rigs import EVENING_UTC, Evening, camera_there, ended, plan, until

NOWHERE = "ptpip:127.0.0.1:1:1"
SENT = {"went": [{"number": 1, "way": "json", "ok": True}]}


class Time:
    mono = 0.0

    def __call__(self) -> float:
        return self.mono


class Stand:
    """A rig, and a watch over it whose time and machine are the test's."""

    def __init__(self, rig: Rig, root: Path, **rules: Any) -> None:
        self.rig, self.root, self.time, self.sent = rig, root, Time(), []
        post = Post(rig.directory, Messages(**rules), self._send, self.time)
        rig._chores._scheduler.pause()  # the rig's own watch looks no more
        rig.watching = self.watching = Watching(rig, post, self.time, root)
        self.watching.open()

    async def _send(self, **task: Any) -> dict[str, Any]:
        self.sent.append(task)
        return SENT

    async def look(self, after_s: float = 0.0) -> set[str]:
        """A look, so much later; the checks whose findings stand."""
        self.time.mono += after_s
        await self.watching.look()
        await self.watching.post.look()
        await until(lambda: self.watching.post._sending is None)
        return {finding.check for finding in self.watching.standing}

    def machine(self, **files: str) -> None:
        places = {
            "model": "proc/device-tree/model",
            "temp": "sys/class/thermal/thermal_zone0/temp",
            "throttled": "sys/devices/platform/soc/soc:firmware/get_throttled",
        }
        for name, text in files.items():
            path = self.root / places[name]
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text)


@pytest.fixture
async def rig(tmp_path: Path) -> AsyncIterator[Rig]:
    async with Evening().rig(tmp_path, NOWHERE) as rig:
        yield rig


def kinds(notes: list[Any]) -> list[tuple[str, str]]:
    return [(note.kind, note.facts["check"]) for note in notes if note.kind in ("raised", "cleared")]


async def test_a_pi_that_gets_hot(rig: Rig, tmp_path: Path) -> None:
    """By two lines, and only after its time; lines and times are those of decide/health/temperature.py."""
    stand = Stand(rig, tmp_path / "root")
    stand.machine(model="Raspberry Pi 4 Model B Rev 1.4\0", temp="82000\n", throttled="0\n")
    assert await stand.look() == set()
    assert await stand.look(60) == set()
    assert await stand.look(61) == {"temperature"}
    now = await rig.now()
    (finding,) = now.findings
    assert "82 °C" in finding.what
    assert f"{finding.what}. {finding.remedy}" in now.attention
    assert not now.well
    text = exposition(now, [], rig.healthz()).decode()
    assert 'duskhand_finding{camera="",check="temperature",urgent="false"} 1.0' in text
    assert "duskhand_findings 1.0" in text
    stand.machine(temp="77000\n")
    assert await stand.look(3600) == {"temperature"}
    stand.machine(temp="60000\n")
    assert await stand.look(10) == {"temperature"}
    assert await stand.look(601) == set()
    assert kinds(await rig.store.notes()) == [("raised", "temperature"), ("cleared", "temperature")]
    assert [json.loads(event.data)["kind"] for event in rig.hub._kept if event.kind == "note"] == ["raised", "cleared"]
    assert [task["title"] for task in stand.sent] == [
        "Duskhand: temperature (rig)",
        "Duskhand: over: temperature (rig)",
    ]
    assert "duskhand_findings 0.0" in exposition(await rig.now(), [], rig.healthz()).decode()


async def test_a_dip_of_the_supply_between_two_looks(rig: Rig, tmp_path: Path) -> None:
    """Bit 16 of get_throttled says that it was so since the start (Raspberry Pi documentation, from memory)."""
    stand = Stand(rig, tmp_path / "root")
    stand.machine(model="Raspberry Pi 4 Model B Rev 1.4\0", throttled="0\n")
    assert await stand.look() == set()
    stand.machine(throttled="10000\n")
    assert await stand.look(15) == {"supply of the Pi"}
    assert await stand.look(15) == {"supply of the Pi"}
    assert await stand.look(3700) == set()
    again = Stand(rig, tmp_path / "root")
    assert await again.look() == set(), "what was before the rig began is the readiness check's"


async def test_a_camera_that_stays_away_is_in_the_shoots_log(rig: Rig, tmp_path: Path) -> None:
    stand = Stand(rig, tmp_path / "root")
    shoot = await rig.start_shoot(plan())
    await until(lambda: rig.cameras()[0].trouble != "the camera is being connected")
    assert await stand.look() == set()
    assert await stand.look(121) == {"camera"}
    now = await rig.now()
    assert sum("Camera not there" in line for line in now.attention) == 1
    assert now.findings[0].urgent
    assert stand.sent[0]["title"] == "Duskhand: now: camera (camera-1)"
    await rig.shoots.stop(shoot.id)
    await ended(rig, shoot)
    assert await stand.look(1) == set()
    assert ("raised", "camera") in kinds(await rig.store.notes(shoot.id))


@pytest.mark.parametrize(
    ("what", "remedy", "line"),
    [
        ("It is full", "Free some", "It is full. Free some"),
        ("No answer.", "Wait", "No answer. Wait"),
        ("So it is", "", "So it is"),
    ],
)
def test_a_line_for_people(what: str, remedy: str, line: str) -> None:
    assert Raised(check="x", what=what, remedy=remedy, since_utc=0).line == line


async def test_messages_are_timed_by_the_shoots_own_clock(rig: Rig, tmp_path: Path) -> None:
    stand = Stand(rig, tmp_path / "root")
    site = {"latitude": 57.66, "longitude": 11.72, "timezone": "Asia/Tokyo"}
    await rig.start_shoot(plan(site=site))
    await stand.look()
    assert str(stand.watching.post.zone) == "Asia/Tokyo"


async def test_what_stands_is_known_after_a_restart(rig: Rig, tmp_path: Path) -> None:
    stand = Stand(rig, tmp_path / "root")
    stand.machine(temp="85000\n")
    await stand.look()
    await stand.look(121)
    await stand.watching.close()
    again = Stand(rig, tmp_path / "root")
    assert [finding.check for finding in again.watching.standing] == ["temperature"]
    await again.look(200)
    assert again.sent == [], "people know it already"
    stand.machine(temp="40000\n")
    await again.look(1)
    await again.look(601)
    assert [task["title"] for task in again.sent] == ["Duskhand: over: temperature (rig)"]


@pytest.mark.parametrize("text", ["", "{", "[]", '{"raised": [{}]}', '{"raised": [], "usual": 3}'])
async def test_a_file_that_is_torn_is_as_none_and_is_told(rig: Rig, tmp_path: Path, text: str) -> None:
    (rig.directory / FINDINGS).write_text(text)
    stand = Stand(rig, tmp_path / "root")
    assert f"{FINDINGS} cannot be read" in str(stand.watching.unread)
    assert await stand.look() == set()


async def test_what_is_torn_of_a_rigs_own_files_is_noted_in_its_log(tmp_path: Path) -> None:
    (tmp_path / "rig.toml").write_text("[messages]\n")
    for name in (FINDINGS, "messages.json", "clock.json"):
        (tmp_path / name).write_text("{")
    rig = Rig(tmp_path, WallClock(), [NOWHERE])
    await rig.open()
    try:
        notes = await rig.store.notes(kind="file-damaged")
    finally:
        await rig.close()
    assert [Path(note.text.split()[0]).name for note in notes] == ["clock.json", FINDINGS, "messages.json"]


async def test_a_dusk_with_a_camera_raises_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A shoot that goes well, looked at as if days passed between two looks; then its battery runs down."""
    monkeypatch.setattr("controller.engine.metering.LOOKS_APART_S", 0.0)
    evening = Evening(30.0)
    with evening.camera(tmp_path) as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            stand = Stand(rig, tmp_path / "root", digest="08:00", picture=True)
            await camera_there(rig)
            light = {"kind": "follow", "shutter_s": [0.0005, 15.0], "iso": [100, 3200], "aperture": [2.8, 2.8]}
            shoot = await rig.start_shoot(plan(interval_s=20.0, light=light))
            run = rig.shoots.runs[shoot.id]
            found: set[str] = set()
            async with asyncio.timeout(180):
                while len(run.reports.metering.looks) < 7:
                    found |= await stand.look(100_000)
                    await asyncio.sleep(0.2)
            assert found <= {"missed slots"}, "which a busy machine may miss"
            looks = list(run.reports.metering.looks)
            assert all(look.sharpness > 0 for look in looks)
            assert len({look.fingerprint for look in looks}) == len(looks)
            camera.control("fault", word="battery(9)")
            await rig._look_at_cameras()
            assert "battery" in await stand.look(15)
            assert any("9 %" in line for line in (await rig.now()).attention)
            post = stand.watching.post  # the digest: its hour has passed since the last one
            hour = int(rig.clock.utc() // 3600 % 24)
            post.rules = Messages(digest=f"{hour:02}:00", timezone="UTC", picture=True)
            stand.watching.daily._last_utc = rig.clock.utc() - 86_400.0
            await stand.look(7200)
            (digest,) = [task for task in stand.sent if task["title"].endswith("the day")]
            assert "Stands: Camera battery at 9 %" in digest["body"]
            assert "frames in the last day" in digest["body"]
            assert Path(digest["picture"]).read_bytes()[:2] == b"\xff\xd8"  # noqa: ASYNC240
            assert await stand.look(60)
            assert sum(task["title"].endswith("the day") for task in stand.sent) == 1


async def test_pictures_that_cannot_be_read(tmp_path: Path) -> None:
    """A body that gives no small pictures for a while: 24 frames, then good ones."""
    evening = Evening(20.0)
    with evening.camera(tmp_path, faults="ok*2 nothumb*24 ok*99") as camera:
        async with evening.rig(tmp_path, camera.address) as rig:
            stand = Stand(rig, tmp_path / "root")
            await camera_there(rig)
            await rig.start_shoot(plan(interval_s=10.0))
            found: set[str] = set()
            async with asyncio.timeout(120):
                while "metering" not in found:
                    found = await stand.look(40)
                    await asyncio.sleep(0.2)
                (finding,) = [each for each in stand.watching.standing if each.check == "metering"]
                assert "frames could be read, the light is not metered" in finding.what
                told = (await rig.now()).attention  # once, if only by the cause
                assert sum("not metered" in line or "the sky model alone" in line for line in told) == 1
                while "metering" in found:
                    found = await stand.look(40)
                    await asyncio.sleep(0.2)
            notes = kinds(await rig.store.notes())
            assert [kind for kind, check in notes if check == "metering"] == ["raised", "cleared"]


async def test_a_damaged_log_is_told_to_people(tmp_path: Path) -> None:
    """Not on the page alone: nobody may look at it for weeks."""
    directory = tmp_path / "rig"
    directory.mkdir()
    (directory / "frames.sqlite3").write_bytes(b"torn pages " * 1000)
    async with Evening().rig(tmp_path, NOWHERE) as rig:
        stand = Stand(rig, tmp_path / "root")
        assert await stand.look() == {"log made anew"}
        (task,) = stand.sent
        assert "made anew" in task["body"]
        assert "duskhand pair" in task["body"]
        assert sum("made anew" in line for line in (await rig.now()).attention) == 1
        await stand.watching.close()
    evening = Evening(utc=EVENING_UTC + 6 * 86_400.0)  # a start is no repair
    async with evening.rig(tmp_path, NOWHERE) as rig:
        stand = Stand(rig, tmp_path / "root")
        assert await stand.look() == {"log made anew"}
        assert stand.sent == [], "people know it already"
        assert sum("made anew" in line for line in (await rig.now()).attention) == 1
        rig.clock = Evening(utc=EVENING_UTC + 8 * 86_400.0).clock
        assert await stand.look(15) == set()
        assert await stand.look(15) == set()
        assert [task["title"] for task in stand.sent] == ["Duskhand: over: log made anew (rig)"]
        assert not any("made anew" in line for line in (await rig.now()).attention)


async def test_months_of_looks_and_shoots_leave_little_behind(rig: Rig, tmp_path: Path) -> None:
    stand = Stand(rig, tmp_path / "root")
    for number in range(12):
        shoot = await rig.start_shoot(plan(name=f"shoot-{number}", interval_s=1e4, when={"start": "now"}))
        run = rig.shoots.runs[shoot.id]
        for _ in range(60):
            stand.watching._camera(rig.cameras()[0], run, await rig.now())
        await rig.shoots.stop(shoot.id)
        await ended(rig, shoot)
        await stand.look(15)
    watching = stand.watching
    assert len(watching._usual) <= SHOOTS_KEPT
    assert len(watching._counts) <= SHOOTS_KEPT
    assert all(len(past) < 5 for past in watching._counts.values())
    assert (rig.directory / FINDINGS).stat().st_size < 10_000


async def test_a_digest_that_was_told_in_a_wrong_year_keeps_none_back(rig: Rig, tmp_path: Path) -> None:
    """The clock stood ten years ahead when the last one went out."""
    hour = int(rig.clock.utc() // 3600 % 24)
    stand = Stand(rig, tmp_path / "root", digest=f"{hour:02}:00", timezone="UTC")
    daily = stand.watching.daily
    daily._last_utc = rig.clock.utc() + 10 * 365.25 * 86_400
    await stand.look()
    assert daily._last_utc <= rig.clock.utc()
    assert stand.sent == []
    daily._last_utc -= 86_400.0  # and a day passed
    await stand.look()
    assert [task["title"] for task in stand.sent] == ["Duskhand: the day"]
