"""Processes that must not outlive the daemon."""

from __future__ import annotations

import ctypes
import os
import signal
import sys

PR_SET_PDEATHSIG = 1  # linux/prctl.h


def die_with(parent: int) -> ctypes.CDLL:
    """Have the kernel kill this process once its parent, whose id is `parent`, has ended; the C library, for more."""
    libc = ctypes.CDLL(None, use_errno=True)
    libc.prctl(PR_SET_PDEATHSIG, signal.SIGKILL, 0, 0, 0)
    if os.getppid() != parent:
        sys.exit("the daemon is gone")
    return libc
