"""Figures for Prometheus: read back by its own parser (prometheus-client), names by its guide to naming metrics."""

from __future__ import annotations

import re
from pathlib import Path

import httpx
import pytest
from prometheus_client.parser import text_string_to_metric_families

from api.figures import exposition
from controller.daemon import Rig
from controller.words.documents import Exposure, FrameCounts, PlaceNow, PostNow, Raised
from tests.support.rigs import until
from tests.support.serving import PLAN


def read(text: str) -> dict[tuple[str, tuple[str, ...]], float]:
    """(name, values of the labels) -> value."""
    return {
        (sample.name, tuple(sample.labels.values())): sample.value
        for family in text_string_to_metric_families(text)
        for sample in family.samples
    }


async def test_what_prometheus_reads(client: httpx.AsyncClient, rig: Rig) -> None:
    await client.post("/api/v1/plans", json=PLAN)
    started = (await client.post("/api/v1/shoots", json={"plan": PLAN["name"]})).json()
    await until(lambda: rig.shoots.runs[started["id"]].book.last is not None)
    answer = await client.get("/metrics")
    assert answer.headers["content-type"].startswith("text/plain; version=")
    found = read(answer.text)
    assert found["duskhand_camera_there", ("camera-1",)] == 0  # nobody answers at that address
    assert found["duskhand_ok", ()] == 1
    assert found["duskhand_well", ()] == 0
    assert found["duskhand_frames_total", (started["id"], "missed")] >= 1
    states = {labels[1]: value for (name, labels), value in found.items() if name == "duskhand_shoot_state"}
    assert sum(states.values()) == 1
    assert {state for state, value in states.items() if value} <= {"checking", "recovering", "shooting"}
    assert found["duskhand_disk_free_bytes", ()] > 0


async def test_figures_are_those_of_now(rig: Rig) -> None:
    """Base units, as the guide wants them: milliseconds become seconds, percent a ratio."""
    now = await rig.now()
    camera = rig.cameras()[0].model_copy(update={"connected": True, "battery_percent": 64, "card_free_bytes": 31_500})
    assert now.shoot is None
    text = exposition(now, [camera], rig.healthz()).decode()
    found = read(text)
    assert found["duskhand_camera_battery_ratio", ("camera-1",)] == pytest.approx(0.64)
    assert found["duskhand_card_free_bytes", ("camera-1",)] == 31_500
    assert not any(name.startswith("duskhand_frames") for name, _ in found)
    for family in text_string_to_metric_families(text):
        assert family.documentation, family.name
        assert not family.name.endswith(("_ms", "_percent", "_minutes")), family.name


async def test_a_shoot_s_figures(rig: Rig) -> None:
    from tests.results.dusk import shoot, slots

    frames = slots()
    last = frames[98]
    made = shoot(frames).model_copy(update={"counts": FrameCounts(fetched=230, missed=4, lost=1)})
    now = (await rig.now()).model_copy(update={"shoot": made, "last_frame": last, "interval_s": 6.5})
    found = read(exposition(now, [], rig.healthz()).decode())
    assert found["duskhand_frames_total", (made.id, "fetched")] == 230
    assert found["duskhand_interval_seconds", ()] == 6.5
    assert found["duskhand_late_seconds", ()] == pytest.approx(last.late_ms / 1000)
    assert ("duskhand_scene_ev", ()) not in found  # what is not known is not there


async def test_what_is_copied(rig: Rig) -> None:
    """A time as seconds since 1970, as the guide wants it, with the unit as suffix."""
    assert "duskhand_copies" not in exposition(await rig.now(), [], rig.healthz()).decode()  # no place, no figures
    shed = PlaceNow(name="shed", waiting=12, failures=3, trouble="the disk is full", last_utc=1.79e9, free_bytes=0)
    now = (await rig.now()).model_copy(update={"places": [shed, PlaceNow(name="vault", waiting=0)]})
    found = read(exposition(now, [], rig.healthz()).decode())
    assert found["duskhand_copies_waiting", ("shed",)] == 12
    assert found["duskhand_copies_failures_total", ("shed",)] == 3
    assert found["duskhand_copies_last_success_timestamp_seconds", ("shed",)] == 1.79e9
    assert found["duskhand_place_free_bytes", ("shed",)] == 0
    assert [found["duskhand_copies_well", (name,)] for name in ("shed", "vault")] == [0, 1]
    assert ("duskhand_copies_last_success_timestamp_seconds", ("vault",)) not in found


async def test_every_figure_is_explained(rig: Rig) -> None:
    """docs/watching.md names those, with their labels, that a rig with everything on it tells."""
    from tests.results.dusk import shoot, slots

    frames = slots()
    camera = rig.cameras()[0].model_copy(update={"battery_percent": 64, "card_free_bytes": 1})
    known = {
        "shoot": shoot(frames),
        "last_frame": frames[98],
        "exposure": Exposure(shutter_s=1.0, aperture=4.0, iso=100.0, ev=4.0, label="1 s, f/4, ISO 100"),
        "places": [PlaceNow(name="shed", waiting=1, last_utc=1.79e9, free_bytes=1)],
        "findings": [Raised(check="films", what="none", remedy="", since_utc=1.79e9)],
        "messages": PostNow(waiting=0),
        **dict.fromkeys(("interval_s", "gap_s", "next_release_in_s", "left_s", "scene_ev", "sun_altitude_deg"), 1.0),
    }
    text = exposition((await rig.now()).model_copy(update=known), [camera], rig.healthz()).decode()
    told = {
        sample.name: set(sample.labels) for family in text_string_to_metric_families(text) for sample in family.samples
    }
    page = (Path(__file__).parents[2] / "docs" / "watching.md").read_text("utf-8")
    table = re.findall(r"^\| `(duskhand_\w+)` \| .+ \| (.*)\|$", page, re.M)
    assert {name: set(re.findall(r"`(\w+)`", labels)) for name, labels in table} == told
