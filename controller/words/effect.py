"""What a change made while shooting would come to: the documents of the answer."""

from __future__ import annotations

from enum import StrEnum

from pydantic import Field

from controller.words.documents import Document
from controller.words.times import Utc


class Limit(StrEnum):
    """What the exposure can come up against: first as it gets dark, then as it gets bright."""

    LONGEST_SHUTTER = "longest shutter"
    WIDEST_APERTURE = "widest aperture"
    HIGHEST_ISO = "highest iso"
    GAP = "gap"  # a longer exposure would be allowed, but the interval holds no longer one beside min_gap_s
    SHORTEST_SHUTTER = "shortest shutter"
    NARROWEST_APERTURE = "narrowest aperture"
    LOWEST_ISO = "lowest iso"


class LimitMet(Document):
    """A stretch in which the exposure stands at a limit.

    On the dark side each quantity is told as it comes to its limit. On the bright side it is told only where nothing is
    left to give way, by the one that was the last to do so.
    """

    limit: Limit
    from_utc: Utc
    from_sun_altitude_deg: float
    until_utc: Utc | None = Field(description="null where it lasts beyond what is looked at")
    until_sun_altitude_deg: float | None
    darker_ev: float = Field(
        description="how much darker than wanted frames come out meanwhile, at worst; below 0: brighter; 0 where "
        "something else makes up for it"
    )


class Course(Document):
    """What is to come of a shoot. Sums are of all its windows, null where it goes on until it is stopped."""

    frames: int | None = Field(description="in the end, those that are done included")
    frames_to_come: int | None
    clip_s: float | None = Field(description="in the end")
    end_utc: Utc | None
    windows: int | None = Field(description="still to be shot, the one under way included")
    window_frames_to_come: int | None = Field(description="of the window under way, or the next")
    window_end_utc: Utc | None
    interval_s: float | None = Field(description="at the end of that window; null where that has no end")
    limits: list[LimitMet] = Field(description="that the exposure meets in that window, within four days")


class Effect(Document):
    """A change before it is made: how the shoot stands, and what it would be then."""

    stands: Course
    then: Course
    words: list[str] = Field(description="what of the change the camera offers only in part, or may not keep up with")
