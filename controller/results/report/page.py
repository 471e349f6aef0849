"""The report as one page of HTML that stands alone: no script, no file beside it, nothing from elsewhere.

It is read on a phone in the dark, on a screen by day, and on paper.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache
from html import escape
from importlib import resources
from urllib.parse import quote
from zoneinfo import ZoneInfo

from controller.results.flicker import Flicker
from controller.results.report import drawings, markup
from controller.results.report.brightness import Track
from controller.results.report.curves import Curves
from controller.results.report.documents import ClipMade, Gone, Report
from controller.results.report.text import (
    duration,
    exposure_of,
    in_utc,
    local_span,
    runs_of,
    size,
    sun_span,
)
from controller.words.site_time import moment, zone_of

_NOTES = 200
_MARKS = 300  # missed slots that are marked in a drawing


@cache
def sheet() -> str:
    """The page's style sheet: the only one, and the same for every report."""
    return resources.files("controller.results.report").joinpath("report.css").read_text("utf-8")


def page(report: Report, curves: Curves, track: Track, theme: str | None = None, home: str | None = None) -> str:
    """HTML of a report and its drawings.

    `theme`: `night` or `day`, as the page that it is opened from; left out, as whoever looks prefers. `home`: where the
    rig serves it, a link back to that page; clips are linked then too.
    """
    themed = "" if theme is None else f' data-theme="{theme}"'
    scheme = {"night": "dark", "day": "light"}.get(theme or "", "dark light")
    back = f'<nav aria-label="Rig"><a href="{escape(home)}">‹ Back to the rig</a></nav>' if home else ""
    title = f"{report.plan_name}: report"
    parts = (_planned, _windows, _missing, _lateness, _sun, _brightness, _clips, _stored, _files, _cameras, _notes)
    report = report if home else report.model_copy(update={"clips": [_unlinked(clip) for clip in report.clips]})
    inner = "".join(part(report, curves, track) for part in parts)
    return (
        f'<!DOCTYPE html>\n<html lang="en"{themed}><head><meta charset="utf-8">'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta name="color-scheme" content="{scheme}">{markup.tag("title", title)}<style>{sheet()}</style></head>'
        f"<body>{back}<main>{_head(report)}{inner}</main></body></html>\n"
    )


def _head(report: Report) -> str:
    state = f"{report.state.value}: {report.cause}" if report.cause else report.state.value
    lines = [markup.tag("h1", report.plan_name), markup.paragraph(f"Shoot {report.shoot}"), markup.paragraph(state)]
    if report.first_utc is not None and report.last_utc is not None:
        lines.append(markup.paragraph(local_span(report.first_utc, report.last_utc, report.timezone)))
        lines.append(markup.paragraph(in_utc(report.first_utc, report.last_utc), class_="small"))
    return "<header>" + "".join(lines) + "</header>"


def _planned(report: Report, *_: object) -> str:
    plan = report.planned
    stop = f" to {plan['stop']}" if "stop" in plan else f", for {plan['duration']}" if "duration" in plan else ""
    when = plan.get("start", "") + (stop or ("" if "frames" in plan else ", until stopped"))
    pace = plan.get("pace", "") + (f", every {plan['interval_s']} s" if "interval_s" in plan else "")
    light = plan.get("light", "") + (f", brackets of {plan['bracket_ev']} EV" if "bracket_ev" in plan else "")
    share = 100 * report.frames / report.slots if report.slots else 0.0
    told = f"{min(share, 99.9):.1f} % of {_many(report.slots, 'slot')}" if share < 100 else "every slot"
    missed, lost = (sum(group.slots for group in groups) for groups in (report.missed, report.lost))
    got = f"{_many(report.frames, 'frame')}: {told}" if report.slots else "No slot has come due"
    clip = f"{duration(report.clip_s)} at {report.fps:g} frames a second"
    return markup.section(
        "Planned and got",
        markup.paragraph(got, class_="large"),
        markup.terms(
            (
                ("Window", when if "start" in plan else None),
                ("Frames wanted", str(report.frames_planned) if report.frames_planned is not None else None),
                ("Pace", pace or None),
                ("Light", light or None),
                ("Fetch", plan.get("fetch")),
                ("Slots due", f"{report.slots:,}"),
                ("Frames", f"{report.frames:,}"),
                ("Missed", f"{missed:,}"),
                ("Lost", f"{lost:,}"),
                ("Not shot", f"the last {duration(report.unshot_s)} of the window" if report.unshot_s else None),
                ("Clip", ", ".join(filter(None, (clip, report.clip_frames))) if report.frames else None),
            )
        ),
    )


def _windows(report: Report, *_: object) -> str:
    rows = (
        (
            local_span(part.first_utc, part.last_utc, report.timezone, zone=False),
            *(f"{n:,}" for n in (part.slots, part.frames, part.missed, part.lost)),
        )
        for part in report.stretches
    )
    caption = f"Slots and what came of them, parted where nothing was due for long ({zone_of(report.timezone).key})"
    return markup.section(
        "Window by window", markup.table(caption, ("From and to", "Slots", "Frames", "Missed", "Lost"), rows)
    )


def _missing(report: Report, *_: object) -> str:
    tables = (
        _gone("Slots that passed without a release", report.missed, report),
        _gone("Frames that were released and are not on the card", report.lost, report),
    )
    nothing = "" if any(tables) else markup.paragraph("Nothing is missing.") if report.slots else ""
    return markup.section("Missed and lost", nothing, *tables)


def _gone(caption: str, groups: Iterable[Gone], report: Report) -> str:
    rows = ((group.cause, f"{group.slots:,}", "; ".join(runs_of(group, report))) for group in groups)
    return markup.table(caption, ("Cause", "Slots", "Numbers and times"), rows, words=(2,))


def _lateness(report: Report, *_: object) -> str:
    late = report.lateness
    if late is None:
        return ""
    shares = (("50 %", late.p50_ms), ("90 %", late.p90_ms), ("99 %", late.p99_ms), ("99.9 %", late.p999_ms))
    rows = [(f"{share} of frames, at most", f"{ms:.1f} ms") for share, ms in shares]
    rows.append((f"the latest, frame {late.max_seq}", f"{late.max_ms:.1f} ms"))
    how = f" Percentiles are off by {100 * late.within:.2g} % at most." if late.within else ""
    return markup.section(
        "Lateness",
        markup.table(f"Release against due time, {_many(late.frames, 'frame')}", ("Share", "Late by"), rows),
        markup.figure(drawings.lateness(late.bars), f"Both scales are logarithmic.{how}"),
    )


def _sun(report: Report, curves: Curves, _: object) -> str:
    both = len({row.rising for row in report.over_sun}) == 2
    rows = (
        (
            ("↑ " if row.rising else "↓ ") * both + sun_span(row).replace("°…", "…"),
            f"{row.frames:,}",
            f"{row.interval_s:.1f} s",
            _whole(exposure_of(row)),
            _ev(row.exposure_ev),
            _ev(row.scene_ev),
        )
        for row in report.over_sun
    )
    steps = report.exposure_steps
    changed = (
        f"The exposure was changed {_many(steps.changes, 'time')}, by {steps.largest_ev:.2f} EV at most (frame"
        f" {steps.largest_seq})."
        if steps.changes
        else "The exposure never changed."
    )
    thinned = f" One slot of {curves.every} is drawn." if curves.every > 1 else ""
    caption = f"Dotted where it is passed: sun 6°, 12° and 18° below the horizon.{thinned}"
    head = ("Sun", "Frames", "Interval", "Exposure", "EV", "Scene")
    return markup.section(
        "Exposure and interval over the sun",
        markup.paragraph(changed if report.frames > 1 else ""),
        markup.figure(drawings.over_sun(curves), caption),
        markup.table(f"Medians by the sun’s altitude{'; ↓ sinking, ↑ climbing' * both}", head, rows, words=(3,)),
    )


def _brightness(report: Report, curves: Curves, track: Track) -> str:
    rows = list(_flickers(report))
    every = report.steadied.every if report.steadied else 1
    part = f" Of every {every} runs of 1000 frames one is drawn and steadied." if every > 1 else ""
    marks = " Marks at the foot: missed slots." if curves.missed_utc else ""
    missed = curves.missed_utc[:: max(1, -(-len(curves.missed_utc) // _MARKS))]
    return markup.section(
        "Brightness and flicker",
        markup.figure(
            drawings.brightness(track, missed, zone_of(report.timezone)),
            f"How bright the frames came out by their metering, and steadied; 0 is mid grey.{marks}{part}",
        ),
        markup.table(
            "Flicker in EV: steps from frame to frame, and differences of those",
            ("Of", "Steps, rms", "Largest", "Second, rms"),
            rows,
        ),
        markup.paragraph("1 % of brightness, the least that is seen, is 0.014 EV." if rows else "", class_="small"),
    )


def _flickers(report: Report) -> Iterator[tuple[str, ...]]:
    if report.brightness is not None:
        yield "the frames as metered", *_figures(report.brightness)
    if report.steadied is not None:
        yield "the same, steadied", *_figures(report.steadied.after)
    for clip in report.clips:
        if clip.before is not None:
            yield f"{clip.name}: its pictures", *_figures(clip.before)
        if clip.after is not None:
            yield f"{clip.name}: as made", *_figures(clip.after)


def _figures(found: Flicker) -> tuple[str, str, str]:
    return f"{found.first_rms_ev:.3f}", f"{found.largest_step_ev:.3f}", f"{found.second_rms_ev:.3f}"


def _clips(report: Report, *_: object) -> str:
    there = zone_of(report.timezone)
    return markup.section(
        "Clips", *(["<ul>", *(f"<li>{_clip(c, there)}</li>" for c in report.clips), "</ul>"] if report.clips else [])
    )


def _unlinked(clip: ClipMade) -> ClipMade:
    return clip.model_copy(update={"url": None})


def _clip(clip: ClipMade, there: ZoneInfo) -> str:
    name = markup.tag("strong", clip.name)
    if clip.url:  # from where the report is served, so that it is right behind a proxy, too
        name = f'<a href="clips/{quote(clip.name)}" download>{escape(clip.name)}</a>'
    told = (
        duration(clip.duration_s) if clip.duration_s is not None else "",
        f"{clip.width}×{clip.height}" if clip.width and clip.height else "",
        {None: "", True: "steadied", False: "not steadied"}[clip.steadied],
        size(clip.bytes),
        f"made {moment(clip.made_utc, there)}",
    )
    return f"{name} {escape(', '.join(filter(None, told)))}"


def _stored(report: Report, *_: object) -> str:
    stored = report.stored
    if not report.frames:
        return ""
    known = f", {size(stored.card_bytes)}" if stored.card_bytes else ""
    unsized = f"{'; of' if known else ','} {stored.card_unsized:,} the size is not known" if stored.card_unsized else ""
    if stored.card_unsized == stored.card_frames > 0:
        unsized = ", their sizes are not known"
    gone = f"; of {_many(stored.rig_freed, 'frame')} deleted once copied" if stored.rig_freed else ""
    pairs = f" in {_many(stored.rig_files, 'file')}" if stored.rig_files != stored.rig_frames else ""
    return markup.section(
        "Storage",
        markup.terms(
            (
                ("Card", f"{_many(stored.card_frames, 'frame')}{known}{unsized}"),
                (
                    "Rig",
                    (
                        f"{_many(stored.rig_frames, 'frame')}{pairs}, {size(stored.rig_bytes)}"
                        if stored.rig_frames
                        else "nothing was fetched"
                    )
                    + gone,
                ),
                ("Small pictures", f"{stored.previews:,} on the rig"),
                ("A frame takes", size(stored.bytes_per_frame) if stored.bytes_per_frame else None),
                ("Only on the card", _many(stored.card_only, "frame") if stored.card_only else None),
                *((f"Copy: {c.place}", f"{_many(c.frames, 'frame')}, {size(c.bytes)}") for c in stored.copies),
            )
        ),
    )


def _files(report: Report, *_: object) -> str:
    found, fetched = report.integrity, report.stored.rig_frames
    if found is None:
        if not fetched:
            return ""
        told = "Each fetched file was compared with its checksum when it came. None was read again since."
        return markup.section(
            "Files", markup.paragraph(told), markup.paragraph("“duskhand report --verify” reads them all.")
        )
    when = f" on {moment(found.verified_utc, zone_of(report.timezone))}" if found.verified_utc is not None else ""
    head = f"{found.whole:,} of {found.checked:,} read{when} and found whole."
    rows = ((f"{bad.seq}", bad.fault, bad.local_file) for bad in found.damaged)
    more = found.checked - found.whole - len(found.damaged)
    return markup.section(
        "Files",
        markup.paragraph(head),
        markup.table("Files that are not whole", ("Frame", "Fault", "File"), rows, words=(1, 2)),
        markup.paragraph(f"And {more:,} more." if more > 0 else ""),
    )


def _cameras(report: Report, *_: object) -> str:
    rows = (
        (
            share.camera,
            *(f"{n:,}" for n in (share.slots, share.frames, share.missed, share.lost)),
            "" if share.skew_p99_ms is None else f"{share.skew_p99_ms:.1f} ms",
        )
        for share in report.cameras
    )
    head = ("Camera", "Slots", "Frames", "Missed", "Lost", "Apart")
    caption = f"All cameras; the rest is of {report.camera}. Apart: from the first camera’s release, 99 % of slots"
    return markup.section("Cameras", markup.table(caption, head, rows))


def _notes(report: Report, *_: object) -> str:
    there = zone_of(report.timezone)
    lines = (f"{moment(note.utc, there)} {note.text}" for note in report.notes[-_NOTES:])
    return markup.section("What happened", markup.listed(lines))


def _many(number: int, name: str) -> str:
    """'1 frame', '12,000 frames'."""
    return f"{number:,} {name}{'s' * (number != 1)}"


def _whole(exposure: str) -> str:
    """Each setting stays on one line."""
    return " ".join(part.replace(" ", "\N{NO-BREAK SPACE}") for part in exposure.split("  "))


def _ev(value: float | None) -> str:
    return "" if value is None else f"{value:.1f}".replace("-", "−")
