"""What systemd is told of the service, by the protocol of sd_notify(3): ready, alive, ending.

A datagram of `KEY=value` lines to the socket that the environment names. Without systemd nothing is sent.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import os
import socket
from collections.abc import Awaitable, Callable, MutableMapping

log = logging.getLogger(__name__)


class Notifier:
    """`environment` is the process's. Sending never fails: who does not listen is not told.

    The socket is taken out of it: programs of systemd that the rig asks, such as timedatectl, send word there too.
    """

    def __init__(self, environment: MutableMapping[str, str] = os.environ) -> None:
        self._address = environment.pop("NOTIFY_SOCKET", "")
        usec, pid = environment.get("WATCHDOG_USEC", ""), environment.get("WATCHDOG_PID", str(os.getpid()))
        self.watchdog_s = int(usec) / 1e6 if usec.isdecimal() and pid == str(os.getpid()) else None

    def send(self, **fields: str | int) -> None:
        """Send one message, such as READY=1."""
        if not self._address:
            return
        where = "\0" + self._address[1:] if self._address.startswith("@") else self._address
        text = "\n".join(f"{key}={value}" for key, value in fields.items())
        with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as out:
            out.sendto(text.encode(), where)

    async def keep_alive(self, trouble: Callable[[], Awaitable[str | None]]) -> None:
        """Tell the watchdog in time, as long as `trouble` finds none; forever, or not at all where it is not asked for.

        Where there is trouble nothing is sent, so that systemd ends the service and starts it again.
        """
        if self.watchdog_s is None:
            return
        while True:
            try:
                wrong = await trouble()
            except Exception as error:
                log.exception("whether the rig goes on could not be told")
                wrong = f"not known to go on: {error or type(error).__name__}"
            if wrong is None:
                self.send(WATCHDOG=1)
            else:
                log.error("%s. Unless it goes on, the service is started again", wrong)
                self.send(STATUS=wrong)
            await asyncio.sleep(self.watchdog_s / 4)
