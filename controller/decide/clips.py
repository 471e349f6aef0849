"""When the rig may make films, and when a small one of the window under way is to be made anew. Pure."""

from __future__ import annotations

from controller.words.phrases import size

SHORT_S = 2.0
"""Wall seconds: while frames come closer than that no film is made. Making one takes a processor's time and the disk's,
and a body that is asked every other second leaves little of either (common practice, no source)."""

FRAME_BYTES, SMALL_FRAME_BYTES = 250_000, 60_000
"""What a frame of a film takes at most, as a rule; of a small one."""

ROOM = 1.5
"""Times what fetching leaves free on the disk (engine/disk.py): as much as fetching wants to go on."""

NEW_FRAMES, NEW_SHARE = 12, 0.05
"""A small film is made anew once it would be longer by so many frames, and by this share."""

REST = 20.0
"""Times what the last one took: so long at least the rig rests from it."""

LEAST_REST_S = 30.0

AGAIN_S, LONGEST_AGAIN_S = 60.0, 6 * 3600.0
"""Wall seconds until one that failed is tried again: twice as long each time."""

TRIES = 8


def room_wanted(frames: int, small: bool, reserve: float) -> float:
    """Bytes that must be free before a film of so many frames is begun."""
    return ROOM * reserve + frames * (SMALL_FRAME_BYTES if small else FRAME_BYTES)


def too_little_room(free: int, wanted: float) -> str | None:
    """Why a film waits for room; None where there is enough."""
    if free >= wanted:
        return None
    short = f"the rig's disk has {size(free)} free, and {size(int(wanted))} are wanted before a film is made"
    return f"{short}. Free some space there; it is made by itself then"


def too_quick(interval_s: float | None) -> str | None:
    """Why a film waits for longer intervals, `interval_s` in wall seconds; None where it need not."""
    if interval_s is None or interval_s >= SHORT_S:
        return None
    return f"a frame is taken every {interval_s:.1f} s, and shooting comes first; it is made once there is more time"


def grown(frames: int, shown: int, since_s: float, took_s: float) -> bool:
    """Whether a small film of `shown` frames, made `since_s` ago in `took_s`, is to be made anew of `frames`."""
    more = frames - shown
    return more >= max(NEW_FRAMES, NEW_SHARE * shown) and since_s >= max(LEAST_REST_S, REST * took_s)


def again_in_s(tries: int) -> float | None:
    """Wall seconds until what failed so many times is tried again; None: not any more."""
    return None if tries >= TRIES else min(LONGEST_AGAIN_S, AGAIN_S * 2.0 ** (tries - 1))
