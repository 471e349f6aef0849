from __future__ import annotations

import hashlib
import json

import pytest

from controller.store import Store
from controller.words.documents import Note, ShootState
from controller.words.errors import Conflict, NotFound
from tests.store.samples import SHOOT, START, due, shoot


async def test_plans_are_kept_replaced_and_removed(store: Store) -> None:
    plan = {"name": "kaj", "site": {"latitude": 57.7, "ort": "Göteborg"}}
    sha = await store.put_plan("kaj", plan, 1.0)
    canonical = json.dumps(plan, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert sha == hashlib.sha256(canonical.encode()).hexdigest()
    assert sha == await store.put_plan("kaj", dict(reversed(plan.items())), 1.0)
    assert await store.get_plan("kaj") == plan
    assert await store.put_plan("kaj", {**plan, "name": "b"}, 1.0) != sha
    await store.put_plan("alv", {}, 1.0)
    assert list(await store.plans()) == ["alv", "kaj"]
    await store.delete_plan("kaj")
    with pytest.raises(NotFound):
        await store.get_plan("kaj")
    with pytest.raises(NotFound):
        await store.delete_plan("kaj")


async def test_a_shoot_comes_back_and_changes(store: Store) -> None:
    added = await store.add_shoot(shoot("second", created_utc=START + 9, plan={"a": [1, None]}, stop_utc=START + 99))
    assert await store.shoot("second") == added
    changed = await store.change_shoot("second", state=ShootState.DONE, ended_utc=START + 50, adjust={"bias_ev": 0.5})
    assert changed == added.model_copy(
        update={"state": ShootState.DONE, "ended_utc": START + 50, "adjust": {"bias_ev": 0.5}}
    )
    assert [each.id for each in await store.shoots()] == [SHOOT, "second"]
    assert [each.id for each in await store.open_shoots()] == [SHOOT]
    with pytest.raises(Conflict):
        await store.add_shoot(shoot("second"))
    with pytest.raises(NotFound):
        await store.change_shoot("third", state=ShootState.DONE)
    for wrong in ({"counts": {}}, {"id": "x"}, {}):
        with pytest.raises(TypeError):
            await store.change_shoot("second", **wrong)


@pytest.mark.parametrize("state", list(ShootState))
async def test_open_shoots_are_those_that_have_not_ended(store: Store, state: ShootState) -> None:
    await store.change_shoot(SHOOT, state=state)
    is_open = state in {"waiting", "checking", "shooting", "held", "recovering"}
    assert bool(await store.open_shoots()) == is_open


async def test_notes(store: Store) -> None:
    for number in range(5):
        made = Note(utc=START + number, shoot=SHOOT if number % 2 else None, kind="k", text=str(number), facts={"n": 1})
        logged = await store.note(made)
        assert logged == made.model_copy(update={"id": number + 1})
    assert [note.text for note in await store.notes(limit=3)] == ["2", "3", "4"]
    await store.note(Note(utc=START, shoot=SHOOT, kind="other", text="5"))
    assert [note.text for note in await store.notes(kind="k", limit=2)] == ["3", "4"]
    of_shoot = await store.notes(SHOOT, kind="k")
    assert [note.text for note in of_shoot] == ["1", "3"]
    assert of_shoot[0].shoot == SHOOT
    assert of_shoot[0].facts == {"n": 1}
    with pytest.raises(NotFound):
        await store.note(Note(utc=START, shoot="other", kind="k", text="t"))


async def test_a_shoot_carries_its_counts(store: Store) -> None:
    await store.add_missed([due(1, state="missed"), due(2, state="missed")])
    assert (await store.shoots())[0].counts.missed == 2
    assert (await store.change_shoot(SHOOT, state="done")).counts.missed == 2
