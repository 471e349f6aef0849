"""The report's drawings, for a page of any theme: SVG elements without a colour, a font or a link of their own.

matplotlib draws them, and is loaded only here: it is large.
"""

from __future__ import annotations

import io
import math
import re
from bisect import bisect
from collections.abc import Iterator, Sequence
from datetime import datetime, tzinfo
from html import escape
from itertools import pairwise
from typing import Any
from xml.etree import ElementTree

from controller.results.report.brightness import Track
from controller.results.report.curves import Curves
from controller.results.report.documents import Bar

_WIDE, _INCH = 360.0, 72.0  # as wide as a phone, in the SVG's own units
_SVG = "{http://www.w3.org/2000/svg}"
_LINK = "{http://www.w3.org/1999/xlink}href"
_ROLES = {"#000010": "soft", "#000020": "strong", "#000030": "gone"}  # colours are the page's: these stand for them
_SOFT, _STRONG, _GONE = _ROLES
_DAY_S = 86_400.0  # matplotlib counts time in days of POSIX time
_TWILIGHTS_DEG = (-6.0, -12.0, -18.0)
_LEAST_EV = 0.2  # from the foot of a drawing to its top
_POINTS = 750  # of which each is the least and the largest of what it stands for
_DROPPED = ("metadata", "style")
_KEPT = frozenset(
    "fill stroke stroke-width stroke-dasharray stroke-linecap stroke-linejoin fill-opacity opacity font-size"
    " text-anchor".split()
)


def over_sun(curves: Curves) -> str:
    """Exposure and scene, and the interval below, over the sun's altitude; empty where there is nothing to draw."""
    sun = [math.nan if altitude is None else altitude for altitude in curves.sun_altitude_deg]
    known = [altitude for altitude in sun if not math.isnan(altitude)]
    if len(known) < 2:
        return ""
    breaks = {*curves.breaks(), *_turns(sun)}
    x = list(_parted(sun, breaks))
    dots = len(curves.breaks()) > 3  # many lines over each other would show nothing
    with _Drawing(330.0) as drawing:
        upper, lower = drawing.figure.subplots(2, 1, sharex=True, height_ratios=(3, 2))
        how = {"linestyle": "", "marker": ".", "markersize": 2} if dots else {}
        for values, colour, wide, name in (
            (curves.scene_ev, _SOFT, 3.0, "scene as metered"),
            (curves.exposure_ev, _STRONG, 1.0, "exposure set"),
        ):
            upper.plot(x, list(_parted(values, breaks)), color=colour, linewidth=wide, label=name, **how)
        _legend(upper)
        _not_too_near(upper)
        upper.set_ylabel("EV at ISO 100")
        lower.plot(x, list(_parted(curves.interval_s, breaks)), color=_STRONG, **how)
        lower.set_ylabel("interval, s")
        lower.set_ylim(bottom=0.0)
        lower.set_xlabel("sun’s altitude, °")
        for axes in (upper, lower):
            for altitude in _TWILIGHTS_DEG:
                if min(known) < altitude < max(known):
                    axes.axvline(altitude, color=_SOFT, linewidth=0.7, linestyle=":")
        if known[0] > known[-1]:
            lower.invert_xaxis()
    told = (
        f"Sun from {_degrees(known[0])} to {_degrees(known[-1])}",
        _range("exposure set", curves.exposure_ev, " EV"),
        _range("interval", curves.interval_s, " s"),
    )
    return drawing.svg("sun", "Exposure and interval over the sun’s altitude", "; ".join(told))


def brightness(track: Track, missed_utc: Sequence[float], zone: tzinfo) -> str:
    """The pictures' brightness by the log, as it was and as steadying would have it: over time, or where there are
    pauses frame by frame, so that one evening stands beside the next."""
    if len(track.utc) < 3:
        return ""
    pauses = _pauses(track.utc)
    x = [float(place) for place in range(len(track.utc))] if pauses else [utc / _DAY_S for utc in track.utc]
    marks = [float(bisect(track.utc, utc)) for utc in missed_utc] if pauses else [utc / _DAY_S for utc in missed_utc]
    with _Drawing(230.0) as drawing:
        axes = drawing.figure.subplots()
        for values, colour, wide, name in (
            (track.measured, _SOFT, 0.7, "as exposed"),
            (track.wanted, _STRONG, 2.0, "as steadied"),
        ):
            axes.plot(*zip(*_outline(x, values, pauses), strict=True), color=colour, linewidth=wide, label=name)
        _legend(axes)
        _not_too_near(axes)
        for place in marks:
            axes.axvline(place, ymax=0.06, color=_GONE, linewidth=1.0)
        axes.set_ylabel("EV over mid grey")
        if pauses:
            axes.set_xlabel("frames, pauses left out")
        else:
            _clock(axes, zone)
    desc = f"{_range('As exposed', track.measured, ' EV')}; {_range('as steadied', track.wanted, ' EV')}"
    desc += f"; {len(missed_utc)} missed slots marked at the foot" if missed_utc else ""
    return drawing.svg("bright", "Brightness of the frames over time", desc)


def _clock(axes: Any, zone: tzinfo) -> None:
    """Times of day below the drawing."""
    from matplotlib import dates

    over: Any = dates  # untyped
    locator = over.AutoDateLocator(tz=zone, minticks=2, maxticks=6)
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(over.ConciseDateFormatter(locator, tz=zone, show_offset=False))
    first, last = (datetime.fromtimestamp(day * _DAY_S, zone).date() for day in axes.dataLim.intervalx)
    axes.set_xlabel(f"{first}{'' if first == last else f' – {last}'}, {zone}")


def _not_too_near(axes: Any) -> None:
    """What hardly moves is a level line, not its last digits spread over the whole drawing."""
    low, high = axes.get_ylim()
    if high - low < _LEAST_EV:
        middle = (low + high) / 2
        axes.set_ylim(middle - _LEAST_EV / 2, middle + _LEAST_EV / 2)


def lateness(bars: Sequence[Bar]) -> str:
    """How many frames were how late, on scales of powers."""
    if not bars:
        return ""
    with _Drawing(200.0) as drawing:
        axes = drawing.figure.subplots()
        axes.bar(range(len(bars)), [bar.frames for bar in bars], width=0.9, color=_SOFT)
        axes.set_yscale("log")
        axes.set_ylim(bottom=0.5)
        axes.yaxis.set_major_formatter(lambda value, _: f"{value:,.0f}" if value >= 1 else "")
        axes.yaxis.set_minor_formatter(lambda value, _: "")
        every = -(-len(bars) // 7)
        axes.set_xticks([place + 0.5 for place in range(0, len(bars), every)])
        axes.set_xticklabels([_ms(bar.to_ms) for bar in bars[::every]])
        axes.set_xlabel("late by less than, ms")
        axes.set_ylabel("frames")
    told = (f"below {_ms(bar.to_ms)} ms: {bar.frames:,}" for bar in bars if bar.frames)
    return drawing.svg("late", "How many frames were how late", "; ".join(told))


class _Drawing:
    """A figure while it is drawn, its SVG afterwards."""

    def __init__(self, height: float) -> None:
        import matplotlib as mpl

        style: dict[Any, Any] = {
            "font.size": 11.0,
            "axes.edgecolor": _SOFT,
            "axes.facecolor": "none",
            "figure.facecolor": "none",
            "axes.spines.top": False,
            "axes.spines.right": False,
            "xtick.color": _SOFT,
            "ytick.color": _SOFT,
            "legend.fontsize": 11.0,
            "axes.formatter.useoffset": False,  # a number beside each tick is the tick's
            "svg.fonttype": "none",  # text stays text
            "svg.hashsalt": "duskhand",  # the same curves give the same page
        }
        self._style = mpl.rc_context(style)
        self._height = height

    def __enter__(self) -> _Drawing:
        from matplotlib.backends.backend_svg import FigureCanvasSVG
        from matplotlib.figure import Figure

        self._style.__enter__()
        self.figure = Figure(figsize=(_WIDE / _INCH, self._height / _INCH), layout="constrained")
        self._canvas: Any = FigureCanvasSVG(self.figure)
        return self

    def __exit__(self, *error: object) -> None:
        try:
            if error[0] is None:
                out = io.BytesIO()
                self._canvas.print_svg(out, metadata=dict.fromkeys(("Date", "Creator", "Format", "Type")))
                self._drawn = out.getvalue()
        finally:
            self._style.__exit__(None, None, None)

    def svg(self, prefix: str, title: str, desc: str) -> str:
        """As an element of an HTML page, its ids begun by `prefix`, with a text for who does not see it."""
        root = ElementTree.fromstring(self._drawn)
        _dress(root, prefix)
        inner = "".join(ElementTree.tostring(part, "unicode") for part in root)
        inner = re.sub(r' xmlns(:\w+)?="[^"]*"', "", inner).replace("ns0:", "")
        named = f'<title id="{prefix}-t">{escape(title)}</title><desc id="{prefix}-d">{escape(desc)}</desc>'
        return (
            f'<svg class="plot" role="img" aria-labelledby="{prefix}-t" aria-describedby="{prefix}-d"'
            f' viewBox="{root.get("viewBox")}">{named}{inner}</svg>'
        )


def _dress(root: ElementTree.Element, prefix: str) -> None:
    """Take out what belongs to a file of its own, and give colours as classes, which the page's sheet knows."""
    used = set(re.findall(r"#([\w-]+)", " ".join(v for e in root.iter() for v in e.attrib.values())))
    for element in list(root.iter()):
        for child in list(element):
            if child.tag.removeprefix(_SVG) in _DROPPED:
                element.remove(child)
        element.text = element.text.strip() if element.text else element.text
        element.tail = None
        attributes = dict(element.attrib)
        element.attrib.clear()
        for name, value in attributes.items():
            if name == "style":
                _styled(element, value)
            elif name == "id":
                if value in used:
                    element.set("id", f"{prefix}-{value}")
            elif name == _LINK:
                element.set("href", f"#{prefix}-{value[1:]}")
            elif not (name == "transform" and value.startswith("rotate(-0 ")):
                value = re.sub(r"url\(#([\w-]+)\)", rf"url(#{prefix}-\1)", value)
                element.set(name, re.sub(r"(\d\.\d)\d+", r"\1", " ".join(value.split())))


def _styled(element: ElementTree.Element, style: str) -> None:
    classes = []
    for part in style.split(";"):
        name, _, value = (text.strip() for text in part.partition(":"))
        if value in _ROLES:
            classes.append(f"{name}-{_ROLES[value]}")
        elif name in _KEPT and value != "#000000":
            element.set(name, value.removesuffix("px"))
    if classes:
        element.set("class", " ".join(classes))


def _legend(axes: Any) -> None:
    """Above the drawing, where no line is."""
    axes.legend(
        loc="lower left", bbox_to_anchor=(0.0, 0.98), ncols=2, markerscale=3.0, frameon=False, borderaxespad=0.0
    )


def _pauses(utc: Sequence[float]) -> list[int]:
    """Before which places nothing was due for long."""
    steps = [after - before for before, after in pairwise(utc)]
    pause_s = max(600.0, 20.0 * sorted(steps)[len(steps) // 2])
    return [place for place, step in enumerate(steps, 1) if step > pause_s]


def _outline(x: Sequence[float], values: Sequence[float], pauses: Sequence[int]) -> Iterator[tuple[float, float]]:
    """Points of a line that keeps the least and the largest of each part, in their order; nan in each pause."""
    step = -(-len(values) // _POINTS)
    for begin, end in pairwise((0, *pauses, len(values))):
        if begin:
            yield x[begin], math.nan
        for first in range(begin, end, step):
            part = range(first, min(first + step, end))
            low, high = min(part, key=values.__getitem__), max(part, key=values.__getitem__)
            for place in sorted({low, high}):
                yield x[place], values[place]


def _parted(values: Sequence[float | None], breaks: set[int]) -> Iterator[float]:
    """The values, not known ones as nan, and one more nan after each of `breaks`."""
    for place, value in enumerate(values):
        yield math.nan if value is None else value
        if place in breaks:
            yield math.nan


def _turns(sun: Sequence[float]) -> list[int]:
    """Where the sun begins to climb or to sink."""
    ways = [after > before for before, after in pairwise(sun)]
    return [place for place, (before, after) in enumerate(pairwise(ways), 1) if before != after]


def _degrees(value: float) -> str:
    return f"{value:+.1f}°".replace("-", "−")


def _range(name: str, values: Sequence[float | None], unit: str) -> str:
    known = [value for value in values if value is not None]
    if not known:
        return f"{name} not known"
    return f"{name} from {min(known):.1f} to {max(known):.1f}{unit}".replace("-", "−")


def _ms(value: float) -> str:
    return f"{value / 1000:g} s" if value >= 60_000 else f"{value:.4g}"
