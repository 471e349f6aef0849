"""A report for a terminal of 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from datetime import datetime

from controller.results.flicker import Flicker
from controller.results.report.documents import Gone, Report, Run, SunRow
from controller.words.site_time import clock, day, moment, span, zone_of
from controller.words.stops import exposure_label

WIDTH = 80
_RUNS = 6  # runs of missing slots that are listed for one cause
_NOTES = 40  # the newest notes that are listed


def render(report: Report) -> str:
    """Lines of at most 80 columns, the last without a line feed."""
    sections = (_head, _cameras, _frames, _missed, _lost, _measures, _sun, _notes)
    return "\n\n".join(text for section in sections if (text := "\n".join(section(report))))


def size(count: int) -> str:
    """Bytes in decimal units: '4.1 GB'."""
    value = float(count)
    for unit in ("bytes", "kB", "MB", "GB"):
        if value < 1000:
            return f"{value:.0f} {unit}" if unit == "bytes" else f"{value:.1f} {unit}"
        value /= 1000
    return f"{value:.1f} TB"


def counted(number: int, name: str) -> str:
    """'1 frame', '2 frames'."""
    return f"{number} {name}{'s' * (number != 1)}"


def duration(seconds: float) -> str:
    """'2 h 05 min', '12 min 30 s', '35.9 s'."""
    if seconds < 60:
        return f"{seconds:.1f} s"
    minutes, rest = divmod(round(seconds), 60)
    if minutes < 60:
        return f"{minutes} min {rest:02d} s"
    return f"{minutes // 60} h {minutes % 60:02d} min"


def _head(report: Report) -> Iterator[str]:
    room = WIDTH - len(report.shoot) - 2
    name = report.plan_name if len(report.plan_name) <= room else report.plan_name[: max(room - 1, 0)] + "…"
    yield f"{name}{report.shoot:>{WIDTH - len(name)}}"
    yield from _wrap(f"{report.state.value}: {report.cause}" if report.cause else report.state.value)
    if report.first_utc is not None and report.last_utc is not None:
        yield local_span(report.first_utc, report.last_utc, report.timezone)
        yield in_utc(report.first_utc, report.last_utc)


def local_span(first_utc: float, last_utc: float, timezone: str | None, zone: bool = True) -> str:
    """'Tue 2026-12-01 16:00:00 – 16:24:00 Europe/Stockholm', with the zone's name or without.

    Rounded as the start that a plan prints, so that both say the same second.
    """
    there = zone_of(timezone)
    first, last = (datetime.fromtimestamp(round(utc), there) for utc in (first_utc, last_utc))
    until = f"{last:%H:%M:%S}" if first.date() == last.date() else f"{last:%a %Y-%m-%d %H:%M:%S}"
    return f"{first:%a %Y-%m-%d %H:%M:%S} – {until}{f' {there.key}' if zone else ''}"


def in_utc(first_utc: float, last_utc: float) -> str:
    """'2026-12-01 15:00:00Z – 15:24:00Z': the same for other machines, rounded too."""
    there, first, last = zone_of(None), round(first_utc), round(last_utc)
    return f"{day(first, there)} {span(first, last, there)}"


def _cameras(report: Report) -> Iterator[str]:
    if not report.cameras:
        return
    yield "Cameras"
    for share in report.cameras:
        gone = [f"{count} {word}" for count, word in ((share.missed, "missed"), (share.lost, "lost")) if count]
        yield _line(f"  {share.camera}", f"{share.frames:6d} of {counted(share.slots, 'slot')}{_but(gone)}")
        if share.skew_p50_ms is not None:
            skew = f"p50 {share.skew_p50_ms:.1f} ms, p99 {share.skew_p99_ms:.1f} ms, most {share.skew_max_ms:.1f} ms"
            yield from _wrap(f"{' ' * 14}apart from the first in {counted(share.together, 'slot')}: {skew}", indent=16)


def _but(gone: list[str]) -> str:
    return f": {', '.join(gone)}" if gone else ""


def _frames(report: Report) -> Iterator[str]:
    yield f"Frames of {report.camera}" if report.cameras else "Frames"
    if report.frames_planned is not None:
        yield _line("  planned", f"{report.frames_planned:6d} frame{'s' * (report.frames_planned != 1)}")
    if not report.slots:
        yield "  no slot has come due"
        return
    yield _line("  due", f"{report.slots:6d} slot{'s' * (report.slots != 1)}")
    share = 100 * report.frames / report.slots
    got = f"{report.frames:6d} frame{'s' * (report.frames != 1)}"
    yield _line("  got", got + (f"  {min(share, 99.9):.1f} %" if share < 100 else "  all"))
    if missed := sum(group.slots for group in report.missed):
        yield _line("  missed", f"{missed:6d} slot{'s' * (missed != 1)}")
    if lost := sum(group.slots for group in report.lost):
        yield _line("  lost", f"{lost:6d} frame{'s' * (lost != 1)}")
    if report.unshot_s is not None:
        yield _line("  not shot", f"  the last {duration(report.unshot_s)} of the window")
    frames = f", {report.clip_frames}" if report.clip_frames else ""
    yield _line("  clip", f"  {duration(report.clip_s)} at {report.fps:g} fps{frames}")


def _missed(report: Report) -> Iterator[str]:
    return _gone("Missed slots", report.missed, report)


def _lost(report: Report) -> Iterator[str]:
    return _gone("Lost frames", report.lost, report)


def _gone(title: str, groups: list[Gone], report: Report) -> Iterator[str]:
    if groups:
        yield title
    for group in groups:
        yield from _group(group, _Clock(report))


def _group(group: Gone, by: _Clock) -> Iterator[str]:
    yield from _wrap(f"{group.slots:6d}  {group.cause}", indent=8)
    for run in group.runs[:_RUNS]:
        yield f"          {_numbers(run):<16}{by.when(run)}"
    if group.times > _RUNS:
        yield f"          {_more(group, by)}"


class _Clock:
    """By which times of a report are told: its place's, with the date where it is not that of the first slot."""

    def __init__(self, report: Report) -> None:
        self._zone = zone_of(report.timezone)
        self._day = day(report.first_utc or 0.0, self._zone)

    def when(self, run: Run) -> str:
        on = day(run.first_utc, self._zone)
        return f"{'' if on == self._day else f'{on.isoformat()} '}{span(run.first_utc, run.last_utc, self._zone)}"


def runs_of(group: Gone, report: Report) -> list[str]:
    """'61–62, 16:05:30 – 16:05:36', of the first runs, and how many more there were."""
    by = _Clock(report)
    told = [f"{_numbers(run)}, {by.when(run)}" for run in group.runs[:_RUNS]]
    return [*told, _more(group, by)] if group.times > _RUNS else told


def _more(group: Gone, by: _Clock) -> str:
    return f"and {group.times - _RUNS} more times, the last {by.when(group.last)}"


def _numbers(run: Run) -> str:
    return f"{run.first_seq}" if run.first_seq == run.last_seq else f"{run.first_seq}–{run.last_seq}"


def _measures(report: Report) -> Iterator[str]:
    late, steps, bright, stored = report.lateness, report.exposure_steps, report.brightness, report.stored
    if late is not None:
        shares = f"p50 {late.p50_ms:.1f} ms, p90 {late.p90_ms:.1f} ms, p99 {late.p99_ms:.1f} ms"
        yield _line("Lateness", f"{shares}, p99.9 {late.p999_ms:.1f} ms,")
        yield _line("", f"most {late.max_ms:.1f} ms (frame {late.max_seq})")
    if steps.changes:
        yield _line(
            "Exposure",
            f"{counted(steps.changes, 'change')}, the largest {steps.largest_ev:.2f} EV (frame {steps.largest_seq})",
        )
    elif report.frames > 1:
        yield _line("Exposure", "never changed")
    if bright is not None:
        yield _line("Flicker", f"{_flicker(bright)}, as metered")
    if report.steadied is not None:
        yield _line("", f"{_flicker(report.steadied.after)}, the same steadied")
    for clip in report.clips:
        if clip.before is not None and clip.after is not None:
            yield from _wrap(f"{'':14}{_flicker(clip.before)}, pictures of {clip.name}", indent=16)
            yield from _wrap(f"{'':14}{_flicker(clip.after)}, as made", indent=16)
    if report.frames:
        parts = (
            [f"{size(stored.rig_bytes)} in {counted(stored.rig_files, 'file')} on the rig"] if stored.rig_files else []
        )
        parts += [f"{counted(stored.card_only, 'frame')} only on the card"] if stored.card_only else []
        parts += [counted(stored.previews, "preview")] if stored.previews else []
        yield _line("Storage", "; ".join(parts) or "nothing on the rig")
        if stored.card_frames:
            known = f", {size(stored.card_bytes)}" if stored.card_bytes else ""
            unsized = f"; the size of {stored.card_unsized} is not known" if stored.card_unsized else ""
            yield _line("", f"{counted(stored.card_frames, 'frame')} on the card{known}{unsized}")
        for share in stored.copies:
            yield from _wrap(
                f"{'':14}{counted(share.frames, 'frame')}, {size(share.bytes)} copied to {share.place}", indent=16
            )
    if report.integrity is not None:
        whole, checked = report.integrity.whole, report.integrity.checked
        freed = report.integrity.freed
        gone = f"; of {counted(freed, 'frame')} deleted from the rig once copied" if freed else ""
        read_utc = report.integrity.verified_utc
        when = "" if read_utc is None else f", {moment(read_utc, zone_of(report.timezone))}"
        yield from _wrap(_line("Files", f"{whole} of {checked} read and found whole{when}{gone}"), indent=14)
        for damage in report.integrity.damaged:
            yield from _wrap(f"              frame {damage.seq}: {damage.fault} ({damage.local_file})", indent=16)
        if (more := checked - whole - len(report.integrity.damaged)) > 0:
            yield _line("", f"and {more} more")
    for clip in report.clips:
        told = f", {duration(clip.duration_s)}" if clip.duration_s is not None else ""
        yield from _wrap(_line("Clip", f"{clip.path}, {size(clip.bytes)}{told}"), indent=16)


def _sun(report: Report) -> Iterator[str]:
    if not report.over_sun:
        return
    both = len({row.rising for row in report.over_sun}) == 2
    yield "Over the sun's altitude (medians)"
    yield f"  {'sun':>13}  {'frames':>6}  {'interval':>8}  {'exposure':<29}{'EV':>5}  {'scene':>5}"
    for row in report.over_sun:
        yield _sun_line(row, both)


def exposure_of(row: SunRow) -> str:
    """'1/100 s  f/2.8  ISO 100', as far as it is known."""
    if not row.shutter_s or not row.iso:
        return ""
    parts = exposure_label(row.shutter_s, row.aperture or 1.0, row.iso).split("  ")
    return "  ".join(part for part in parts if row.aperture or not part.startswith("f/"))


def sun_span(row: SunRow) -> str:
    """'+2°…+3°'."""
    return f"{row.from_deg:+.0f}°…{row.to_deg:+.0f}°".replace("+0", "0").replace("-", "−")


def _flicker(found: Flicker) -> str:
    return f"{found.first_rms_ev:.3f} EV rms, at most {found.largest_step_ev:.3f}, second {found.second_rms_ev:.3f}"


def _sun_line(row: SunRow, both: bool) -> str:
    label = exposure_of(row)
    way = ("↑" if row.rising else "↓") if both else " "
    between = sun_span(row)
    exposure = f"{row.exposure_ev:5.1f}" if row.exposure_ev is not None else "     "
    scene = f"{row.scene_ev:5.1f}" if row.scene_ev is not None else "     "
    line = f"  {way}{between:>12}  {row.frames:6d}  {row.interval_s:6.1f} s  {label:<29}{exposure}  {scene}"
    return line.rstrip().replace("-", "−")


def _notes(report: Report) -> Iterator[str]:
    if not report.notes:
        return
    yield "What happened"
    if len(report.notes) > _NOTES:
        yield f"  {len(report.notes) - _NOTES} earlier notes are in the report's JSON"
    there = zone_of(report.timezone)
    on = day(report.first_utc or report.notes[0].utc, there)
    for note in report.notes[-_NOTES:]:
        if (date := day(note.utc, there)) != on:
            on = date
            yield f"  {on.isoformat()}"
        yield from _wrap(f"  {clock(note.utc, there)}  {note.text}", indent=13)


def _line(name: str, text: str) -> str:
    return f"{name:<14}{text}"


def _wrap(text: str, indent: int = 0) -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent=" " * indent, drop_whitespace=True) or [""]
