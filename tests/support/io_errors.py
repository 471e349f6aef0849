"""A running process whose writes fail for a while: strace answers its calls with an error, in place of the kernel."""

from __future__ import annotations

import contextlib
import subprocess
from collections.abc import Iterator

CALLS = "fsync,fdatasync,pwrite64"


@contextlib.contextmanager
def failing(*pids: int, error: str = "EIO") -> Iterator[None]:
    """While inside, what these processes write by CALLS fails. Raises OSError where they cannot be traced."""
    watched = [word for pid in pids for word in ("-p", str(pid))]
    command = ["strace", "-f", "-o", "/dev/null", "-e", f"trace={CALLS}", "-e", f"inject={CALLS}:error={error}"]
    try:
        strace = subprocess.Popen([*command, *watched], stderr=subprocess.PIPE, text=True)
    except FileNotFoundError as missing:
        raise OSError("strace is not installed") from missing
    assert strace.stderr is not None
    try:
        said = strace.stderr.readline()
        if "attached" not in said:
            raise OSError(f"not traced: {said.strip()}")
        yield
    finally:
        strace.terminate()
        strace.wait()
        strace.stderr.close()
