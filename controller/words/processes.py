"""Processes that must not outlive the daemon, or whoever waited for them."""

from __future__ import annotations

import ctypes
import os
import platform
import signal
import sys
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from asyncio.subprocess import Process

PR_SET_PDEATHSIG = 1  # linux/prctl.h


def die_with(parent: int) -> ctypes.CDLL:
    """Have the kernel kill this process once its parent, whose id is `parent`, has ended; the C library, for more."""
    libc = ctypes.CDLL(None, use_errno=True)
    libc.prctl(PR_SET_PDEATHSIG, signal.SIGKILL, 0, 0, 0)
    if os.getppid() != parent:
        sys.exit("the daemon is gone")
    return libc


ENDS_S = 5.0
"""Wall seconds for which a killed process is waited for: what has left its session may hold its output."""


async def end_session(process: Process) -> None:
    """Kill a process that was started with a session of its own, and all that it has started there: of a script that
    hangs it is mostly the program in it that does, and asyncio waits for whoever holds the output."""
    import asyncio  # which the camera's process does without

    with suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    with suppress(TimeoutError):
        await asyncio.wait_for(process.wait(), ENDS_S)


_IOPRIO_SET = {"x86_64": 251, "aarch64": 30, "armv7l": 314}  # ioprio_set(2): the C library has no name for it
_THIS_PROCESS, _IDLE = 1, 3 << 13  # IOPRIO_WHO_PROCESS, IOPRIO_CLASS_IDLE (linux/ioprio.h)


def step_back(nice: int = 15) -> None:
    """Have this process come after all others: for a processor, for the disk, and first where memory runs out.

    It keeps to one processor, so that on a machine with several a camera's process finds another one free.
    """
    os.setpriority(os.PRIO_PROCESS, 0, nice)
    number = _IOPRIO_SET.get(platform.machine())
    if number is not None:  # where it is refused, niceness alone has to do
        ctypes.CDLL(None, use_errno=True).syscall(number, _THIS_PROCESS, 0, _IDLE)
    with suppress(OSError):
        os.sched_setaffinity(0, {max(os.sched_getaffinity(0))})
    with suppress(OSError):
        Path("/proc/self/oom_score_adj").write_text("1000")  # proc(5): the first that the kernel ends
