"""What makes this process fit to hold a camera: it dies with the daemon, wakes on time and is not disturbed."""

from __future__ import annotations

import gc
import os
import signal
import sys
from pathlib import Path

from controller.words.processes import die_with

_PR_SET_TIMERSLACK = 29  # linux/prctl.h
_RT_PRIORITY = 10  # above everything ordinary, below the kernel's own threads
_NICE = -10


def prepare(parent: int) -> str:
    """Set the process up; `parent` is the daemon's process id. Returns how the kernel schedules us, in words."""
    pin_stdin()
    # A signal that is handled would break a transaction with the camera; the daemon ends us by Close, by closing the
    # socket, or by SIGKILL, and Ctrl-C in its terminal is not meant for us.
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, signal.SIG_IGN)
    libc = die_with(parent)
    libc.prctl(_PR_SET_TIMERSLACK, 1, 0, 0, 0)  # ns; the default lets sleeps run over by 50 µs
    sys.setswitchinterval(0.0005)  # the disk thread hands the interpreter over within this time
    gc.disable()  # collections run in gaps, see `tidy`
    return _raise_priority()


def own_directory() -> Path | None:
    """What the daemon gives the process of each camera, for libgphoto2's settings and for ours; None without it."""
    named = os.environ.get("XDG_CONFIG_HOME")
    return Path(named) if named else None


def tidy() -> None:
    """Collect garbage, where there is time for it."""
    gc.collect()


def pin_stdin() -> None:
    """Put /dev/null at descriptor 0. `Camera.exit()` closes 0, and whatever opens next would land there."""
    null = os.open(os.devnull, os.O_RDWR)
    if null != 0:
        os.dup2(null, 0)
        os.close(null)


def _raise_priority() -> str:
    try:
        os.sched_setscheduler(0, os.SCHED_RR, os.sched_param(_RT_PRIORITY))
        return f"real-time {_RT_PRIORITY}"
    except OSError:
        pass
    try:
        return f"nice {os.nice(_NICE)}"
    except OSError:
        return "normal"


def ordinary_priority() -> None:
    """For a thread beside the main one: threads inherit the priority that is meant for releases."""
    os.sched_setscheduler(0, os.SCHED_OTHER, os.sched_param(0))
    if os.getpriority(os.PRIO_PROCESS, 0) < 0:  # Linux: 0 is the calling thread
        os.setpriority(os.PRIO_PROCESS, 0, 0)
