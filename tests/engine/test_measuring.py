"""How long bodies take, against the raw values by NumPy."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from controller.camera.messages import Fetched, Opened, Preview, Released, Report, Settled, Written
from controller.engine.bodies import Bodies
from controller.engine.measuring import Measuring
from controller.store import Store
from controller.words.bodies import MEASURES, BodySeen
from controller.words.distribution import STEP
from controller.words.errors import StoreError

PAIR = ["/store/DCIM/A_0001.JPG", "/store/DCIM/A_0001.NEF"]


def opened(model: str = "Camera One") -> Opened:
    return Opened(model, "17", [0.25], [5.6], [100.0], 0.25, 5.6, 100.0, 80, 10**10, None)


def frames(count: int, seed: int, interval_s: float = 30.0) -> tuple[list[Report], dict[str, np.ndarray[Any, Any]]]:
    """Reports of a shoot of pairs that are all fetched, and the raw value of each measure."""
    draw = np.random.default_rng(seed)
    raw = {
        name: draw.lognormal(np.log(middle), 0.4, count)
        for name, middle in zip(MEASURES, (0.004, 0.001, 0.05, 0.2, 0.8, 0.06, 0.03), strict=True)
    }
    raw["call"] = 0.25 + raw["readout"]  # a body that answers when it can take the next
    reports: list[Report] = []
    for n in range(count):
        seq, due = n + 1, 1000.0 + n * interval_s
        at = due + raw["late"][n]
        written = at + 0.25 + raw["write"][n]
        sizes = 8_000_000, 24_000_000
        done = written + raw["fetch"][n] * sum(sizes) / 1e6
        reports += [
            Settled(seq, 0.25, 5.6, 100.0, raw["set"][n]),
            Released(seq, at, raw["call"][n], raw["late"][n], ready=True),
            Written(seq, PAIR, written),
            Preview(seq, b"", written + raw["preview"][n]),
            Fetched(seq, PAIR[0], "a", sizes[0], "", (written + done) / 2),
            Fetched(seq, PAIR[1], "b", sizes[1], "", done),
        ]
    return reports, raw


def heard(bodies: Bodies, reports: list[Report], rate: float = 1.0) -> None:
    for report in reports:
        bodies.heard("camera-1", report, 1_796_140_800.0, rate)


async def only(bodies: Bodies, store: Store) -> BodySeen:
    (body,) = await bodies.known(store)
    return body


async def test_percentiles_are_those_of_what_was_measured_over_several_starts(tmp_path: Path):
    """Two shoots, the second after a new start of the rig; both are in the log in the end."""
    parts: dict[str, list[np.ndarray[Any, Any]]] = {name: [] for name in MEASURES}
    async with await Store.open(tmp_path / "frames.sqlite3") as store:
        for seed, count in ((1, 230), (2, 170)):
            bodies = Bodies()
            reports, raw = frames(count, seed)
            heard(bodies, [opened(), *reports[: 6 * 100]])
            await bodies.keep(store)
            heard(bodies, reports[6 * 100 :])
            body = await only(bodies, store)
            for name in MEASURES:
                parts[name].append(raw[name])
    (times,) = body.timings
    assert times.files == body.files == "JPG+NEF"
    for name in MEASURES:
        values, found = np.concatenate(parts[name]), getattr(times, name)
        assert found.count == 400
        assert found.most == pytest.approx(values.max())
        for percent, told in ((50, found.p50), (95, found.p95), (99, found.p99)):
            exact = np.percentile(values, percent, method="inverted_cdf")
            assert exact * (1 - 1e-6) <= told <= exact * STEP * (1 + 1e-6), name


async def test_a_shoot_that_counts_anew_is_counted_too(tmp_path: Path):
    bodies = Bodies()
    async with await Store.open(tmp_path / "frames.sqlite3") as store:
        heard(bodies, [opened(), *frames(5, 1)[0], *frames(5, 2)[0]])
        (times,) = (await only(bodies, store)).timings
    assert [getattr(times, name).count for name in MEASURES] == [10] * len(MEASURES)


@pytest.mark.parametrize("left_out", ["test frame", "other clock", "not written", "second file later"])
def test_what_is_not_counted(left_out: str):
    reports, _ = frames(1, 1)
    measuring, bodies = Measuring(), Bodies()
    if left_out == "test frame":
        reports = [type(r)(**{n: getattr(r, n) for n in r.__slots__} | {"seq": -1}) for r in reports]
    if left_out == "not written":
        reports = [report for report in reports if not isinstance(report, Written)]
    if left_out == "second file later":  # told anew with both of its files
        written = next(report for report in reports if isinstance(report, Written))
        reports = [*reports[:3], written, written]
    for report in reports:
        measuring.heard(report)
    if left_out == "other clock":
        heard(bodies, [opened(), *reports], rate=60.0)
        measuring = bodies._watches["camera-1"].measuring
    counts = {name: each.count for name, each in measuring.taken().get("JPG+NEF", {}).items()}
    expected = dict.fromkeys(("set", "call", "late", "readout", "write"), 1) if left_out == "second file later" else {}
    assert counts == expected


def test_files_that_wait_for_the_one_before_are_not_called_slow():
    """Fetching two frames one after the other takes the line as long for each, however long the second one waited."""
    measuring = Measuring()
    for seq, written, fetched in ((1, 10.0, 14.0), (2, 11.0, 18.0)):
        measuring.heard(Settled(seq, 0.25, 5.6, 100.0, 0.1))
        measuring.heard(Released(seq, 5.0 + seq, 0.01))
        measuring.heard(Written(seq, PAIR[:1], written))
        measuring.heard(Fetched(seq, PAIR[0], "a", 4_000_000, "", fetched))
    found = measuring.taken()["JPG"]["fetch"]
    assert (found.count, found.most) == (2, pytest.approx(1.0))


async def test_what_could_not_be_kept_is_kept_at_the_next_turn(tmp_path: Path):
    """And what a body was seen to do before another took its place."""
    bodies = Bodies()
    heard(bodies, [opened(), *frames(30, 1)[0]])
    store = await Store.open(tmp_path / "frames.sqlite3")
    await store.close()
    await bodies.keep(store)
    heard(bodies, frames(20, 2)[0])
    heard(bodies, [opened("Camera Two")])
    async with await Store.open(tmp_path / "frames.sqlite3") as again:
        two, one = await bodies.known(again)
        assert (one.model, two.model, two.timings) == ("Camera One", "Camera Two", [])
        assert [getattr(one.timings[0], name).count for name in MEASURES] == [50] * len(MEASURES)
        await bodies.keep(again)
        assert (await bodies.known(again))[1].timings == one.timings


async def test_a_row_that_cannot_be_read_is_told(tmp_path: Path):
    bodies = Bodies()
    heard(bodies, [opened(), *frames(12, 1)[0]])
    async with await Store.open(tmp_path / "frames.sqlite3") as store:
        await bodies.keep(store)
        await store._database.write(lambda c: c.execute("UPDATE body_times SET counts = '[[1]]'"))
        with pytest.raises(StoreError, match="cannot be read"):
            await store.bodies()
