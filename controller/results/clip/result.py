"""What is told of a film that was made: what it shows, what it does not, and why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from zoneinfo import ZoneInfo

from pydantic import Field

from controller.results.clip.geometry import Shape
from controller.results.clip.looks import Look
from controller.results.clip.pictures import Chosen, Key, Kind, Picture, key
from controller.results.flicker import Flicker
from controller.results.report.text import counted
from controller.words.clips import FETCH_THEM, SEE_REPORT
from controller.words.documents import Document, Frame, FrameState, Shoot
from controller.words.errors import BadInput
from controller.words.phrases import runs
from controller.words.site_time import clock, day, moment

_PLURAL = {
    Kind.FETCHED: "fetched pictures",
    Kind.EMBEDDED: "pictures from RAW files",
    Kind.DEVELOPED: "developed RAW files",
    Kind.PREVIEW: "previews",
}


class Gap(Document):
    """Slots in a row that the clip does not show."""

    slots: int
    first_seq: int
    last_seq: int
    text: str = Field(description="for people: how many, between which frames that are shown, and why")


class ClipResult(Document):
    """A film that was made."""

    out: str
    width: int
    height: int
    frames: int
    fps: float
    codec: str
    bits: int
    duration_s: float
    bytes: int
    source: str = Field(description="for people: what the pictures are")
    from_fetched: int
    from_embedded: int
    from_developed: int
    from_previews: int
    gaps: list[Gap]
    remarks: list[str] = Field(
        description="for people: pictures that were left out or had to be fitted, and what else is to be known"
    )
    steadied: bool
    largest_gain_ev: float = 0.0
    before: Flicker | None = Field(description="of the pictures as they were, in what the frames show of them")
    after: Flicker | None = Field(description="of the frames as they went to the encoder, before lines were written on")
    unfinished: str | None = Field(None, description="why the film ends early: the disk took no more")


def gaps(slots: Sequence[Frame], without: Mapping[Key, str], zone: ZoneInfo) -> list[Gap]:
    """Slots of one camera, in order, that have no picture, as runs; `without` says why. Times are those of `zone`."""
    found: list[list[int]] = []
    for place, frame in enumerate(slots):
        if key(frame) in without:
            if found and found[-1][-1] == place - 1:
                found[-1].append(place)
            else:
                found.append([place])
    return [_gap(slots, without, run, zone) for run in found]


def _gap(slots: Sequence[Frame], without: Mapping[Key, str], run: list[int], zone: ZoneInfo) -> Gap:
    first, last = run[0], run[-1]
    count = f"{counted(len(run), 'frame')} missing"
    of_days = day(slots[0].due_utc, zone) != day(slots[-1].due_utc, zone)

    def at(place: int) -> str:
        return (moment if of_days else clock)(slots[place].due_utc, zone)

    if first > 0 and last + 1 < len(slots):
        when = f"between {at(first - 1)} and {at(last + 1)}"
    elif last + 1 < len(slots):
        when = f"before {at(last + 1)}"
    else:
        when = f"from {at(first)} on"
    causes = dict.fromkeys(without[key(slots[place])] for place in run)
    text = f"{count} {when} ({'; '.join(causes)})"
    return Gap(slots=len(run), first_seq=slots[first].seq, last_seq=slots[last].seq, text=text)


def fitted(looks: Sequence[Look], reference: Shape) -> list[str]:
    """Pictures that had to be brought to the shape of the others, a line for all of one shape."""
    found: dict[str, list[Picture]] = {}
    any_full = any(look.picture.fetched for look in looks)  # a preview beside full files is smaller as a rule
    for look in looks:
        own = look.shape
        if (own.width, own.height) == (reference.width, reference.height):
            if own.orientation != reference.orientation:
                turned = "its Exif says that the camera was turned; shown as the others"
                found.setdefault(turned, []).append(look.picture)
        elif own.upright != reference.upright and (look.picture.fetched or not any_full):
            found.setdefault(f"{own} pixels instead of {reference}; fitted", []).append(look.picture)
    several = len({look.picture.frame.shoot for look in looks}) > 1
    return [line for what, pictures in found.items() for line in of_each(pictures, what, several)]


def of_each(pictures: Sequence[Picture], what: str, several: bool) -> Iterator[str]:
    """'frames 4–6, 9: ', and what is to be said of each; of `several` shoots a line for every one, with its id."""
    for shoot, own in groupby(pictures, lambda picture: picture.frame.shoot):
        of, these = f" of {shoot}" if several else "", list(own)
        name = f"frame {these[0].frame.seq}{of}, {these[0].path.name}"
        if len(these) > 1:
            name = f"frames {runs(picture.frame.seq for picture in these)}{of}"
        yield f"{name}: {what}"


def sources(pictures: Iterable[Picture]) -> tuple[str, Counter[Kind]]:
    """What is shown, for people, and how many of each kind."""
    counts = Counter(picture.kind for picture in pictures)
    full = [_counted(counts[kind], kind) for kind in Kind if kind is not Kind.PREVIEW and counts[kind]]
    previews = _counted(counts[Kind.PREVIEW], Kind.PREVIEW) if counts[Kind.PREVIEW] else ""
    if not previews:
        return " and ".join(full), counts
    if not full:
        return f"{previews}, since no full picture was fetched", counts
    return f"{' and '.join([*full, previews])}, where there is no full picture", counts


def _counted(number: int, kind: Kind) -> str:
    return f"{number} {kind.value if number == 1 else _PLURAL[kind]}"


def nothing(shoot: Shoot, chosen: Chosen) -> BadInput:
    """Why there is no film at all."""
    if not chosen.slots:
        remedy = "Wait for the first one; the list of shoots tells how each stands"
        return BadInput("no-pictures", "no frame has been released yet", shoot.id, remedy)
    if chosen.pictures:
        what = f"of {counted(len(chosen.pictures), 'picture')} none can be read"
        return BadInput("no-pictures", what, shoot.id, "Look at the rig's disk")
    why = ", ".join(cause for cause, _ in Counter(chosen.without.values()).most_common(2))
    of, or_camera = (f" of {chosen.camera}", " or camera") if chosen.remarks else ("", "")  # several have frames
    what = f"of {counted(len(chosen.slots), 'frame')}{of} none has a picture on the rig that the clip can show ({why})"
    if chosen.other_source:
        return BadInput("no-pictures", what, shoot.id, f"Choose another source{or_camera}, or leave it out")
    got = any(frame.state not in (FrameState.MISSED, FrameState.LOST) for frame in chosen.slots)
    return BadInput("no-pictures", what, shoot.id, FETCH_THEM if got else SEE_REPORT)
