"""What bodies were seen to take, for tests."""

from __future__ import annotations

from controller.words.bodies import BeatFound, BodySeen, Timing, Timings

PAIR = "JPG+NEF"


def timing(p99: float, count: int = 40) -> Timing:
    return Timing(count=count, p50=p99 / 2, p95=p99 * 0.9, p99=p99, most=p99 * 1.5)


def timings(write_s: float, set_s: float = 0.0, count: int = 40, files: str = PAIR) -> Timings:
    return Timings(files=files, write=timing(write_s, count), set=timing(set_s, count))


def beat(held_s: float | None, exposure_s: float = 1 / 64, files: str = PAIR) -> BeatFound:
    return BeatFound(
        utc=1_796_140_800.0, files=files, exposure_s=exposure_s, held_s=held_s, failed_s=0.1, cause="x", frames=40
    )


def body(*found: Timings | BeatFound, files: str | None = PAIR) -> BodySeen:
    return BodySeen(
        model="Camera One",
        serial="1",
        seen_utc=1_796_140_800.0,
        files=files,
        timings=[each for each in found if isinstance(each, Timings)],
        beats=[each for each in found if isinstance(each, BeatFound)],
    )
