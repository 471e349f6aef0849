"""Numbers on the command line: with their unit or without, and one line where they are written as something else."""

from __future__ import annotations

import argparse

from controller.words.errors import BadInput


def figure(text: str, option: str, key: str, like: str, code: str) -> float:
    """A number with the unit that `key` ends in, or another of its kind: '30', '30MB' and '0.03 GB' for frame_mb.

    Raises BadInput: a decimal comma is told its point, all else how such a number is written: `like`.
    """
    from controller.decide import plan_figures
    from controller.decide.plan_errors import shown

    try:
        return float(text)
    except ValueError:
        meant = plan_figures.figure(text, key)
    if meant is not None and "," in text:
        raise BadInput(code, f"{shown(text)} has a comma", option, f"Write {meant.text}: decimals have a point")
    if meant is None or not meant.unit:
        raise BadInput(code, f"{shown(text)} is no number of this kind", option, f"Write it like {like}")
    return float(meant.text)


def seconds(text: str, option: str, most: float, least: float = 0.0) -> float:
    """Seconds from `least` to `most`, of '8', '8s', '1min30s' or '2 minutes'. Raises BadInput."""
    from controller.decide.anchors import parse_length

    try:
        found = figure(text, option, "length_s", "", "bad-length")
    except BadInput as error:
        if "," in text:
            raise
        try:
            found = parse_length(text)
        except ValueError as also:
            what, _, remedy = str(also).partition("; ")
            remedy = remedy if remedy.startswith("did") else "write it like 8, 8s or 1min30s; a number alone is seconds"
            raise BadInput("bad-length", what, option, remedy[0].upper() + remedy[1:]) from error
    if not least <= found <= most:
        raise BadInput("bad-length", f"{found:g} s is out of range", option, f"Give {least:g} … {most:g} s")
    return found


def megabytes(text: str, option: str, most: float = 10_000.0) -> float:
    """The size of a frame. Raises BadInput (bad-frame-mb)."""
    found = figure(text, option, "frame_mb", "30 or 30MB", "bad-frame-mb")
    if not 0.001 <= found <= most:
        raise BadInput("bad-frame-mb", f"{found:g} MB is no size of a frame", option, f"Give 0.001 … {most:g} MB")
    return found


def size(text: str, option: str) -> float:
    """Bytes of a card. Raises BadInput (bad-size)."""
    from controller.decide.advice.storage import parse_size

    try:
        return parse_size(text, option)
    except BadInput as error:
        with_point = text.replace(",", ".")
        for tried in (with_point, f"{with_point}GB", f"{with_point}B"):
            try:
                parse_size(tried, option)
            except BadInput:
                continue
            wrong = {with_point: "has a comma", f"{with_point}GB": "has no unit"}.get(tried, "is no size")
            raise BadInput(error.code, f"{text!r} {wrong}", option, f"Did you mean {tried}?") from None
        raise


def number(text: str) -> float:
    """For argparse: a number without a unit. Raises ArgumentTypeError."""
    try:
        return float(text)
    except ValueError:
        raise _no_number(text, "57.7") from None


def whole(text: str) -> int:
    """For argparse: how many of something. Raises ArgumentTypeError."""
    try:
        return int(text)
    except ValueError:
        raise _no_number(text, "12", "whole ") from None


def _no_number(text: str, like: str, kind: str = "") -> argparse.ArgumentTypeError:
    from controller.decide.plan_errors import shown

    point = text.replace(",", ".")
    try:
        float(point)
    except ValueError:
        point = ""
    if "," in text and point and not kind:
        return argparse.ArgumentTypeError(f"{shown(text)} is no number: write {point}")
    return argparse.ArgumentTypeError(f"{shown(text)} is no {kind}number: write it like {like}")
