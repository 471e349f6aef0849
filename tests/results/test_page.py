"""The report's page: HTML that is whole and stands alone, whatever was shot. Read by the standard library's parsers."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from functools import cache
from html.parser import HTMLParser
from typing import Any
from urllib.parse import quote
from xml.etree import ElementTree

import numpy as np
import pytest

from controller.results.clip.over_gaps import Gaps
from controller.results.clip.steady import steady
from controller.results.report.documents import ClipMade, Report
from controller.results.report.gather import Gatherer
from controller.results.report.integrity import Damage, Integrity
from controller.results.report.page import page
from controller.words.documents import Frame, FrameState, Note
from tests.results.dusk import NOTES, START, shoot, slots

VOID = {"meta", "br", "img", "link", "input", "hr"}  # HTML Living Standard, 13.1.2: void elements
EVIL = '<script>alert(1)</script> & "quay" <b>\''


class Checked(HTMLParser):
    """What HTML's own rules ask for and a browser would silently mend."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: Counter[str] = Counter()
        self.ids: Counter[str] = Counter()
        self.refers: set[str] = set()
        self.attributes: Counter[str] = Counter()
        self.links: list[str] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_startendtag(tag, attrs)
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags[tag] += 1
        assert len(dict(attrs)) == len(attrs), (tag, attrs)
        for name, value in attrs:
            self.attributes[name] += 1
            assert value is not None or name == "download"
            if name == "id":
                self.ids[str(value)] += 1
            if name in ("aria-labelledby", "aria-describedby"):
                self.refers.update(str(value).split())
            if name == "href" and tag == "a":
                self.links.append(str(value))
            elif name == "href":
                assert str(value).startswith("#")
                self.refers.add(str(value)[1:])
            self.refers.update(re.findall(r"url\(#([^)]+)\)", str(value)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] != "style":
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


def made(frames: Sequence[Frame], notes: Sequence[Note] = (), home: str | None = None, **fields: Any) -> str:
    more = {name: fields.pop(name) for name in ("integrity", "clips") if name in fields}
    gather = Gatherer(shoot(list(frames), **fields))
    for frame in frames:
        gather(frame)
    return page(*gather.drawn(notes, more.get("integrity"), None, more.get("clips", ())), home=home)


def with_cause(cause: str) -> list[Frame]:
    return [frame.model_copy(update={"cause": frame.cause and cause}) for frame in slots()]


def days(count: int) -> list[Frame]:
    return [
        frame.model_copy(update={"seq": 240 * day + frame.seq, "due_utc": frame.due_utc + 86_400 * day})
        for day in range(count)
        for frame in slots()
    ]


def two_cameras() -> list[Frame]:
    both = [frame.model_copy(update={"camera": name, "skew_ms": 1.5}) for frame in slots() for name in ("a", "b")]
    return sorted(both, key=lambda frame: (frame.seq, frame.camera))


BARE = Frame(shoot="x", seq=1, camera="c", due_utc=START, interval_s=5, state=FrameState.RELEASED)
CLIP = ClipMade(path="shoots/x/a.mp4", name=f"{EVIL}.mp4", bytes=1_000_000, made_utc=START, url='/clips/"a".mp4')
BROKEN = Integrity(verified_utc=START, checked=9, whole=7, damaged=[Damage(seq=3, local_file=EVIL, fault="missing")])
PAGES = {
    "a dusk": lambda: made(slots(), NOTES),
    "nothing yet": lambda: made([]),
    "one frame": lambda: made([BARE]),
    "two frames": lambda: made(slots()[:2]),
    "several evenings": lambda: made(days(5)),
    "two cameras": lambda: made(two_cameras(), NOTES),
    "no zone of this world": lambda: made(slots(), plan={"site": {"timezone": "Nowhere/At_all"}}),
    "all missed": lambda: made([f.model_copy(update={"state": FrameState.MISSED, "late_ms": None}) for f in slots()]),
    "evil names": lambda: made(
        with_cause(EVIL),
        [Note(utc=START, kind="k", text=EVIL)],
        plan_name=EVIL,
        cause=EVIL,
        plan={"when": {"start": EVIL, "stop": EVIL}},
        clips=[CLIP],
        integrity=BROKEN,
        home='../?a="b"',
    ),
}


@cache
def html_of(name: str) -> str:
    return PAGES[name]()


@pytest.mark.parametrize("name", PAGES)
def test_the_page_is_whole_and_stands_alone(name: str) -> None:
    html = html_of(name)
    found = Checked(html)
    assert html.startswith("<!DOCTYPE html>")
    assert {"html", "head", "body", "main", "title", "h1", "style"} <= set(found.tags)
    assert [tag for tag in ("script", "link", "img", "iframe", "object", "b") if found.tags[tag]] == []
    assert not any(attribute.startswith("on") or attribute in ("src", "style") for attribute in found.attributes)
    assert not re.search(r"https?:|//\w|@import|url\((?!#)", html)
    assert [name for name, count in found.ids.items() if count > 1] == []
    assert found.refers <= set(found.ids)
    assert found.tags["caption"] == found.tags["table"]
    assert found.tags["svg"] == found.tags["desc"] == html.count('role="img"')


@pytest.mark.parametrize("name", ["a dusk", "several evenings", "two cameras", "all missed"])
def test_drawings_are_whole_xml(name: str) -> None:
    drawings = re.findall(r"<svg.*?</svg>", html_of(name), re.S)
    assert len(drawings) == (1 if name == "all missed" else 3)
    for drawing in drawings:
        root = ElementTree.fromstring(drawing)
        assert root.findtext("title")
        assert len(str(root.findtext("desc"))) > 20
        paths = " ".join(path.get("d", "") for path in root.iter("path"))
        assert not re.search("nan|inf", paths)
        assert all(math.isfinite(float(number)) for number in re.findall(r"-?\d+\.?\d*", paths))


def test_what_comes_from_outside_is_text() -> None:
    found = Checked(html_of("evil names"))
    assert (
        found.text.count("<script>alert(1)</script>") >= 7
    )  # name, its title, cause, window, cause of slots, note, file
    assert found.links == ['../?a="b"', f"clips/{quote(CLIP.name)}"]


def test_it_says_what_the_report_says() -> None:
    said = Checked(html_of("a dusk")).text
    for words in (
        "235 frames: 97.9 % of 240 slots", "sunset-45min to nautical_dusk+30min", "61–62, 16:05:30 – 16:05:36",
        "the latest, frame 99 8.2 ms", "changed 40 times, by 0.33 EV at most (frame 12)", "1/100 s f/2.8 ISO 100",
        "235 frames, their sizes are not known", "Tue 2026-12-01 16:00:00 – 16:27:53 Europe/Stockholm",
        "connected again", "the frames as metered 0.126 0.278", "4 missed slots marked at the foot",
    ):  # fmt: skip
        assert words in said, words
    assert "Window by window" not in said
    assert "301–302, 2026-12-02 16:05:30" in Checked(html_of("several evenings")).text
    assert "No slot has come due" in Checked(html_of("nothing yet")).text
    assert "7 of 9 read on 2026-12-01 15:00:00Z and found whole" in Checked(html_of("evil names")).text
    assert "And 1 more" in Checked(html_of("evil names")).text


def test_windows_are_told_apart() -> None:
    gather = Gatherer(shoot([]))
    for frame in days(3):
        gather(frame)
    found = gather.report([])
    assert [(part.slots, part.frames, part.missed, part.lost) for part in found.stretches] == [(240, 235, 4, 1)] * 3
    assert [part.first_utc - START for part in found.stretches] == [0, 86_400, 172_800]
    (silent,) = found.missed
    assert (silent.slots, silent.times, silent.last.first_seq) == (12, 9, 480 + 150)


# ---- flicker before and after, and bounds


def told(frames: Sequence[Frame]) -> Report:
    gather = Gatherer(shoot([]))
    for frame in frames:
        gather(frame)
    return gather.report([])


def test_steadied_figures_are_those_of_the_steadied_track() -> None:
    """The same in numpy: differences of what `steady` wants of the metered brightness."""
    shown = [frame for frame in slots() if frame.state is FrameState.WRITTEN]
    exposure = np.array([frame.exposure_ev for frame in shown])
    measured = np.array([frame.scene_ev for frame in shown]) - exposure
    gaps = Gaps.of([frame.due_utc for frame in shown], [frame.interval_s for frame in shown])
    found, wanted = told(slots()), steady(measured, exposure, gaps).wanted
    assert found.steadied is not None
    assert found.brightness is not None
    assert found.steadied.every == 1
    assert found.steadied.after.first_rms_ev == pytest.approx(np.sqrt(np.mean(np.diff(wanted) ** 2)))
    assert found.brightness.second_rms_ev == pytest.approx(np.sqrt(np.mean(np.diff(measured, n=2) ** 2)))
    assert found.steadied.after.first_rms_ev < 0.1 * found.brightness.first_rms_ev


def test_what_is_kept_does_not_grow_with_the_frames(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("controller.results.report.brightness.BLOCK", 20)
    monkeypatch.setattr("controller.results.report.brightness.MOST_BLOCKS", 6)
    frames = [
        BARE.model_copy(
            update={
                "seq": seq, "due_utc": START + 5.0 * seq, "scene_ev": 9.0, "exposure_ev": 9.0 + 0.1 * (seq % 2),
                "state": FrameState.MISSED if seq % 2 == 0 and seq > 600 else FrameState.WRITTEN,
                "cause": f"cause {seq}" if seq < 900 else "asleep",
            }
        )
        for seq in range(1, 2001)
    ]  # fmt: skip
    found = told(frames)
    assert found.steadied is not None
    assert found.brightness is not None
    assert 2 <= found.steadied.every <= 32
    assert found.steadied.after.frames <= 6 * 20
    assert found.brightness.frames == 600 + 700
    assert len(found.missed) <= 101
    others = found.missed[0]  # 49 of the causes that are one slot each, and all of those that were asleep
    assert (others.cause, others.slots, others.times, len(others.runs)) == ("other causes", 600, 600, 200)
    assert others.last.first_seq == 2000
    assert sum(group.slots for group in found.missed) == 700
