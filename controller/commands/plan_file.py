"""Plans as files: read for the commands that take one."""

from __future__ import annotations

from pathlib import Path

from controller.decide.plan import Plan, read_plan
from controller.words.errors import BadInput


def read(name: str) -> Plan:
    """The plan in a file, or on standard input for -. Raises BadInput that names the file."""
    import sys

    try:
        raw = sys.stdin.buffer.read() if name == "-" else Path(name).read_bytes()
        text = raw.decode("utf-8-sig")
    except OSError as error:
        raise BadInput("no-such-file", f"cannot be read: {error.strerror}", name, "Give a plan document") from error
    except UnicodeDecodeError as error:
        raise BadInput("bad-plan", "not UTF-8 text", name, "Save it as UTF-8") from error
    except ValueError as error:  # a name with a null byte
        raise BadInput("no-such-file", f"cannot be read: {error}", "FILE", "Give a plan document") from error
    try:
        return read_plan(text)
    except BadInput as error:
        raise in_file(error, name) from None


def in_file(error: BadInput, name: str) -> BadInput:
    """The error with its file in front of its place."""
    error.where = f"{name}: {error.where}" if error.where else name
    return error
