"""Messages on their way, with a far side that is slow, away, or answers."""

from __future__ import annotations

import asyncio
import errno
import os
from pathlib import Path
from typing import Any

import pytest

from controller.decide.messages.document import Messages
from controller.decide.messages.outbox import Message
from controller.engine.post import FILE, Post
from controller.words.errors import BadInput, Conflict, DuskhandError, StoreError
from tests.support.rigs import until


class Far:
    """Answers as it is told to; `sent` is what came."""

    def __init__(self) -> None:
        self.sent: list[dict[str, Any]] = []
        self.answer: dict[str, Any] | DuskhandError = {"went": [{"number": 1, "way": "json", "ok": True}]}
        self.open = asyncio.Event()
        self.open.set()

    async def send(self, **task: Any) -> dict[str, Any]:
        await self.open.wait()
        if isinstance(self.answer, DuskhandError):
            raise self.answer
        self.sent.append(task)
        return self.answer


class Time:
    mono = 1000.0

    def __call__(self) -> float:
        return self.mono


def post(directory: Path, far: Far, time: Time, **rules: Any) -> Post:
    made = Post(directory, Messages(name="Mast", **rules), far.send, time)
    made.open()
    return made


def raised(key: str = "camera", urgent: bool = True) -> Message:
    return Message("raised", key, f"{key}: look at it", 0.0, urgent)


async def test_addresses_that_others_may_read_are_trouble_until_a_test_went_out(tmp_path: Path) -> None:
    far, time = Far(), Time()
    (file := tmp_path / "messages.addresses").write_text("json://example.org/x\n")
    file.chmod(0o644)
    made = post(tmp_path, far, time)
    assert "others than its owner may read it" in str(made.trouble)
    file.chmod(0o600)
    made.see_addresses()
    assert made.trouble is None
    far.answer = DuskhandError("messages-slow", "nobody answers")
    made.put(raised())
    await away(made)
    assert made.trouble is not None
    far.answer = {"went": [{"number": 1, "way": "json", "ok": True}]}
    await made.test()
    assert made.trouble is None


async def away(made: Post) -> None:
    """One look, and what it set going has ended."""
    await made.look()
    await until(lambda: made._sending is None)


async def test_it_goes_out_and_is_told_once(tmp_path: Path) -> None:
    far, time = Far(), Time()
    made = post(tmp_path, far, time)
    made.put(raised())
    for _ in range(3):
        await away(made)
    (task,) = far.sent
    assert (task["title"], task["picture"]) == ("Mast: now: camera", None)
    assert task["file"] == str(tmp_path / "messages.addresses")
    now = made.now()
    assert now is not None
    assert (now.waiting, now.trouble) == (0, None)
    assert now.last_utc is not None


async def test_a_dead_network_holds_up_nothing(tmp_path: Path) -> None:
    far, time = Far(), Time()
    far.open.clear()
    made = post(tmp_path, far, time)
    made.put(raised())
    async with asyncio.timeout(20):
        for _ in range(50):  # each comes back at once
            await made.look()
    assert made.now().waiting == 1  # type: ignore[union-attr]
    far.open.set()
    await until(lambda: far.sent)
    await made.close()


@pytest.mark.parametrize(
    "trouble",
    [
        {"went": [{"number": 1, "way": "json", "ok": False, "why": "no route"}]},
        StoreError("aside-failed", "the process died"),
        BadInput("bad-addresses", "others than its owner may read it"),
        BadInput("too-long", "the message takes longer than 120 s"),
    ],
)
async def test_what_could_not_be_sent_waits_and_is_told_of(tmp_path: Path, trouble: Any) -> None:
    far, time = Far(), Time()
    far.answer, well = trouble, far.answer
    made = post(tmp_path, far, time)
    made.put(raised())
    await away(made)
    now = made.now()
    assert now is not None
    assert now.waiting == 1
    assert now.trouble
    far.answer = well
    far.sent.clear()
    await away(made)
    assert far.sent == [], "not before its time"
    time.mono += 31
    await away(made)
    assert len(far.sent) == 1
    assert made.now().trouble is None  # type: ignore[union-attr]


async def test_a_night_without_network_and_a_restart_end_in_one_message(tmp_path: Path) -> None:
    far, time = Far(), Time()
    far.answer, well = {"went": [{"number": 1, "way": "json", "ok": False, "why": "no route"}]}, far.answer
    made = post(tmp_path, far, time)
    for number in range(20):
        made.put(raised(f"finding {number}", urgent=False))
        await away(made)
        time.mono += 600
    await made.close()
    far.answer = well
    far.sent.clear()
    again, time.mono = post(tmp_path, far, time), 5.0  # the machine was started anew
    assert again.now().waiting == 20  # type: ignore[union-attr]
    for _ in range(30):
        await away(again)
        time.mono += 60
    assert [task["title"] for task in far.sent] == ["Mast: 20 messages"]
    again.put(raised("finding 3", urgent=False))
    await away(again)
    assert len(far.sent) == 1, "it is known already"


async def test_a_rig_that_starts_again_and_again_floods_nobody(tmp_path: Path) -> None:
    far, time = Far(), Time()
    for start in range(30):
        made = post(tmp_path, far, time, per_hour=4)
        made.put(raised(f"finding {start}"))
        await away(made)
        await made.close()
    assert len(far.sent) <= 4


@pytest.mark.parametrize("text", ["", "{", "[]", '{"waiting": 3}', '{"waiting": [{"x": 1}], "told": []}', "[" * 10_000])
async def test_a_file_that_is_torn_is_as_none_and_is_told(tmp_path: Path, text: str) -> None:
    (tmp_path / FILE).write_text(text)
    made = post(tmp_path, Far(), Time())
    assert f"{FILE} cannot be read" in str(made.unread)
    made.put(raised())
    await away(made)
    assert made.now().waiting == 0  # type: ignore[union-attr]


async def test_a_picture_that_is_gone_is_left_out(tmp_path: Path) -> None:
    far = Far()
    made = post(tmp_path, far, Time())
    (tmp_path / "there.jpg").write_bytes(b"x")
    for name, wanted in (("there.jpg", str(tmp_path / "there.jpg")), ("gone.jpg", None)):
        made.put(Message("digest", "digest", "the day", 0.0, picture=name))
        await away(made)
        assert far.sent[-1]["picture"] == wanted


async def test_a_message_that_cannot_be_tried_keeps_none_behind_it_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk fails under its picture: when the rig has most to tell."""
    far, time = Far(), Time()
    made = post(tmp_path, far, time)
    made.put(Message("digest", "digest", "the day", 0.0, picture="there.jpg"))

    def fails(_: Path) -> bool:
        raise OSError(errno.EIO, "I/O error")

    with monkeypatch.context() as patch:
        patch.setattr(Path, "is_file", fails)
        await away(made)
    assert made.trouble is not None
    assert "I/O error" in made.trouble
    made.put(raised())
    time.mono += 3600.0
    await away(made)
    await away(made)
    assert [task["title"] for task in far.sent] == ["Mast: now: camera", "Mast: the day"]
    assert made.trouble is None


async def test_where_nobody_is_to_be_told(tmp_path: Path) -> None:
    far = Far()
    made = Post(tmp_path, None, far.send)
    made.open()
    made.put(raised())
    await made.look()
    assert made.now() is None
    with pytest.raises(Conflict) as caught:
        await made.test()
    assert caught.value.code == "no-messages"
    assert (far.sent, os.listdir(tmp_path)) == ([], [])  # noqa: PTH208


async def test_a_test_goes_past_the_queue(tmp_path: Path) -> None:
    far = Far()
    came = await post(tmp_path, far, Time()).test()
    assert came.ok
    assert far.sent[0]["title"] == "Mast: test"
    far.answer = BadInput("too-long", "the message takes longer than 120 s")
    with pytest.raises(DuskhandError) as caught:
        await post(tmp_path, far, Time()).test()
    assert caught.value.code == "messages-slow"
