"""What the service tells systemd, by the protocol of sd_notify(3) as its manual page has it (systemd 252)."""

from __future__ import annotations

import asyncio
import os
import signal
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from controller.commands.notify import Notifier
from tests.support.rigs import Evening, plan, until


class Listener:
    """systemd's end of the socket."""

    def __init__(self, path: str) -> None:
        self.path = path
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind("\0" + path[1:] if path.startswith("@") else path)

    def told(self, seconds: float = 60.0) -> dict[str, str]:
        """The next message."""
        self._socket.settimeout(seconds)
        return dict(line.split("=", 1) for line in self._socket.recv(4096).decode().splitlines())

    def close(self) -> None:
        self._socket.close()


@pytest.fixture(params=["path", "abstract"])
def listener(request: pytest.FixtureRequest, tmp_path: Path):
    path = str(tmp_path / "notify") if request.param == "path" else f"@duskhand-test-{os.getpid()}"
    made = Listener(path)
    yield made
    made.close()


def test_the_service_says_that_it_is_ready_alive_and_ending(listener: Listener, tmp_path: Path):
    command = [sys.executable, "-m", "controller", "serve", "--port", "0", "--camera", "ptpip:127.0.0.1:1:1"]
    environment = {**os.environ, "NOTIFY_SOCKET": listener.path, "WATCHDOG_USEC": "2000000"}
    environment.pop("WATCHDOG_PID", None)
    with subprocess.Popen(
        [*command, "--dir", str(tmp_path / "rig")], env=environment, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    ) as service:
        ready = listener.told()
        assert (ready["READY"], ready["STATUS"].split()[0]) == ("1", "serves")
        assert [listener.told(), listener.told()] == [{"WATCHDOG": "1"}] * 2
        service.send_signal(signal.SIGTERM)
        while (told := listener.told()) == {"WATCHDOG": "1"}:
            pass
        assert told == {"STOPPING": "1"}
        assert service.wait(60) == 0
        assert service.stdout is not None
        service.stdout.close()


async def test_what_does_not_go_on_is_not_said_to_be_alive(listener: Listener):
    found: list[str | None] = [None, "the engine is stuck in evening", None]

    async def trouble() -> str | None:
        if not found:
            raise ZeroDivisionError("planted")
        return found.pop(0)

    notifier = Notifier({"NOTIFY_SOCKET": listener.path, "WATCHDOG_USEC": "40000"})
    alive = asyncio.create_task(notifier.keep_alive(trouble))
    told = [await asyncio.to_thread(listener.told) for _ in range(4)]
    alive.cancel()
    assert told[:3] == [{"WATCHDOG": "1"}, {"STATUS": "the engine is stuck in evening"}, {"WATCHDOG": "1"}]
    assert "planted" in told[3]["STATUS"]


@pytest.mark.parametrize(
    ("environment", "seconds"),
    [
        ({}, None),
        ({"WATCHDOG_USEC": "120000000"}, 120.0),
        ({"WATCHDOG_USEC": "120000000", "WATCHDOG_PID": "1"}, None),
        ({"WATCHDOG_USEC": "soon"}, None),
    ],
)
def test_when_the_watchdog_is_asked_for(environment: dict[str, str], seconds: float | None):
    """sd_watchdog_enabled(3): only where WATCHDOG_PID is this process, or is not set."""
    assert Notifier(environment).watchdog_s == seconds


def test_without_systemd_nothing_is_said():
    Notifier({}).send(READY=1)
    Notifier({"NOTIFY_SOCKET": "/nowhere/notify"}).send(READY=1)


async def test_a_slot_long_over_and_a_log_that_hangs_are_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    evening = Evening(rate=30)
    async with evening.rig(tmp_path, "ptpip:127.0.0.1:1:1") as rig:
        assert await rig.trouble() is None
        shoot = await rig.start_shoot(plan(60.0, 1.0))
        run = rig.shoots.runs[shoot.id]
        await until(lambda: run.slots.slot is not None)
        monkeypatch.setattr(run.slots, "overdue_s", lambda: 61.0)
        assert await rig.trouble() == f"the engine is stuck in {shoot.id}"
        monkeypatch.undo()
        assert await rig.trouble() is None

        async def hangs() -> None:
            await asyncio.sleep(60)

        monkeypatch.setattr(rig.store, "touch", hangs)
        monkeypatch.setattr("controller.engine.vitals.WRITE_S", 0.05)
        assert await rig.trouble() == "the frame log's writer does not answer"
