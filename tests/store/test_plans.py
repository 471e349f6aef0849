"""Plans and their versions, in the real file."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest

from controller.store import Store, content_hash
from controller.store.plans import VERSIONS_KEPT
from controller.words.errors import Changed, Conflict, NotFound


@pytest.fixture
async def store(tmp_path: Path):
    async with await Store.open(tmp_path / "frames.sqlite3") as store:
        yield store


def plan(name: str = "kaj", **more: object) -> dict:
    return {"name": name, "site": {"latitude": 57.7}} | more


def test_the_hash_is_that_of_the_json_with_sorted_keys():
    """SHA-256 as in FIPS 180-4, by hashlib; whatever the order of the keys."""
    text = '{"name":"kaj","site":{"latitude":57.7},"é":1}'
    assert (
        content_hash({"é": 1, "site": {"latitude": 57.7}, "name": "kaj"}) == hashlib.sha256(text.encode()).hexdigest()
    )


async def test_every_change_is_a_version_and_no_change_is_none(store: Store):
    one = await store.put_plan("kaj", plan(), 10.0)
    assert await store.put_plan("kaj", dict(reversed(plan().items())), 11.0) == one
    two = await store.put_plan("kaj", plan(clip={"fps": 30}), 12.0)
    back = await store.put_plan("kaj", plan(), 13.0)
    assert back == one != two
    versions = await store.plan_versions("kaj")
    assert [(v.sha256, v.kept_utc) for v in versions] == [(one, 13.0), (two, 12.0), (one, 10.0)]
    assert await store.plan_version("kaj", two) == plan(clip={"fps": 30})
    with pytest.raises(NotFound):
        await store.plan_version("kaj", "0" * 64)
    with pytest.raises(NotFound):
        await store.plan_versions("pier")


async def test_old_versions_go_first(store: Store):
    for n in range(VERSIONS_KEPT + 7):
        await store.put_plan("kaj", plan(clip={"fps": n + 1}), float(n))
    versions = await store.plan_versions("kaj")
    assert [v.kept_utc for v in versions] == [float(n) for n in range(VERSIONS_KEPT + 6, 6, -1)]


async def test_what_changed_meanwhile_is_not_overwritten(store: Store):
    one = await store.put_plan("kaj", plan(), 1.0)
    two = await store.put_plan("kaj", plan(clip={"fps": 30}), 2.0, one)
    for change in (store.put_plan("kaj", plan(), 3.0, one), store.delete_plan("kaj", one)):
        with pytest.raises(Changed) as refusal:
            await change
        assert refusal.value.code == "plan-changed"
    with pytest.raises(Changed):
        await store.put_plan("new", plan("new"), 3.0, one)
    assert content_hash(await store.get_plan("kaj")) == two
    await store.delete_plan("kaj", two)
    with pytest.raises(NotFound):
        await store.get_plan("kaj")


async def test_a_copy_begins_anew_and_a_renamed_plan_brings_its_versions(store: Store):
    one = await store.put_plan("kaj", plan(), 1.0)
    await store.put_plan("kaj", plan(clip={"fps": 30}), 2.0)
    assert await store.copy_plan("kaj", "pier", 3.0) == plan("pier", clip={"fps": 30})
    assert [v.kept_utc for v in await store.plan_versions("pier")] == [3.0]
    with pytest.raises(Conflict):
        await store.copy_plan("kaj", "pier", 4.0)
    with pytest.raises(Conflict):
        await store.rename_plan("kaj", "pier", 4.0)
    assert await store.rename_plan("kaj", "quay", 5.0) == plan("quay", clip={"fps": 30})
    assert sorted(await store.plans()) == ["pier", "quay"]
    versions = await store.plan_versions("quay")
    assert [v.kept_utc for v in versions] == [5.0, 2.0, 1.0]
    assert json.loads(json.dumps(await store.plan_version("quay", one))) == plan("quay")
    with pytest.raises(NotFound):
        await store.rename_plan("kaj", "x", 6.0)


async def test_defaults_are_kept(store: Store, tmp_path: Path):
    assert await store.defaults() == {}
    await store.put_defaults({"clip": {"fps": 30}})
    await store.put_defaults({"clip": {"fps": 24}})
    await store.close()
    async with await Store.open(tmp_path / "frames.sqlite3") as again:
        assert await again.defaults() == {"clip": {"fps": 24}}
