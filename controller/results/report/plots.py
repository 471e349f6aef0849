"""Curves as a picture, SVG or PNG, drawn by matplotlib: loaded only where one is asked for, since it is large."""

from __future__ import annotations

import io
import math
from datetime import tzinfo
from pathlib import Path
from typing import Any

from controller.results.report.curves import Curves
from controller.words.errors import BadInput
from controller.words.stops import aperture_label, shutter_label

FORMATS = ("svg", "png")
_INK, _SOFT, _LINE, _SECOND, _ALARM = "#37322a", "#8f877a", "#14110c", "#8a5843", "#a3123a"  # brown: the icon's
_TWILIGHTS = ((-0.833, 90.0, "#fdf3d7"), (-6.0, -0.833, "#dfe8ee"), (-12.0, -6.0, "#c3d0da"), (-18.0, -12.0, "#a5b5c2"))
_NIGHT = "#8798a8"


def format_of(path: Path) -> str:
    """The picture's format by the file's name. Raises BadInput."""
    kind = path.suffix.lower().lstrip(".")
    if kind not in FORMATS:
        raise BadInput("bad-plot", f"{path.name!r} is no SVG and no PNG", str(path), "End the name in .svg or .png")
    return kind


def plot(curves: Curves, zone: tzinfo, title: str, kind: str = "svg") -> bytes:
    """A drawing of sun altitude, interval, exposure and brightness over the time of day in `zone`."""
    import matplotlib as mpl
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    style: dict[Any, Any] = {
        "font.size": 9.0,
        "axes.edgecolor": _SOFT,
        "axes.labelcolor": _INK,
        "text.color": _INK,
        "xtick.color": _INK,
        "ytick.color": _INK,
        "svg.fonttype": "none",  # text stays text
        "svg.hashsalt": "duskhand",  # the same curves give the same file
    }
    with mpl.rc_context(style):
        figure = Figure(figsize=(8.0, 9.0), layout="constrained")
        canvas: Any = FigureCanvasSVG(figure) if kind == "svg" else FigureCanvasAgg(figure)
        figure.suptitle(title, fontsize=11)
        if curves.utc:
            _panels(figure, curves, zone)
        else:
            figure.text(0.5, 0.5, "no frames", ha="center")
        out = io.BytesIO()
        if kind == "svg":
            canvas.print_svg(out, metadata={"Date": None, "Creator": "Duskhand"})
        else:
            canvas.print_png(out, metadata={"Software": "Duskhand"})
    return out.getvalue()


def _panels(figure: Any, curves: Curves, zone: tzinfo) -> None:
    from datetime import UTC, datetime

    from matplotlib import dates
    from matplotlib.ticker import FixedLocator, FuncFormatter

    curves = _with_pauses(curves)
    when = [datetime.fromtimestamp(utc, UTC) for utc in curves.utc]
    sun, interval, exposure, light = figure.subplots(4, 1, sharex=True, height_ratios=(2, 2, 3, 3))
    _shade(sun, curves, when)
    sun.plot(when, _gaps(curves.sun_altitude_deg), color=_LINE)
    sun.axhline(0.0, color=_SOFT, linewidth=0.7)
    sun.set_ylabel("sun altitude, °")
    sun.set_title("shaded: day, civil, nautical and astronomical twilight, night", fontsize=8, color=_SOFT)

    interval.plot(when, [seconds or math.nan for seconds in curves.interval_s], color=_LINE)
    interval.plot(when, _gaps(curves.shutter_s), color=_SECOND, linestyle="--")
    interval.legend(["interval", "of which exposure"], loc="best", frameon=False)
    interval.set_ylabel("seconds")
    interval.set_ylim(bottom=0.0)

    exposure.plot(when, _gaps([_log2(value) for value in curves.shutter_s]), color=_SECOND, linestyle="--")
    low, high = _span([_log2(value) for value in curves.shutter_s])
    exposure.yaxis.set_major_locator(FixedLocator(list(range(low, high + 1, max(1, (high - low) // 8)))))
    exposure.yaxis.set_major_formatter(FuncFormatter(lambda value, _: shutter_label(2.0**value)))
    exposure.set_ylim(low - 0.3, high + 0.3)
    exposure.set_ylabel("shutter (dashed)")
    iso = exposure.twinx()
    iso.plot(when, _gaps([_log2(value, 100.0) for value in curves.iso]), color=_LINE)
    low, high = _span([_log2(value, 100.0) for value in curves.iso])
    iso.yaxis.set_major_locator(FixedLocator(list(range(low, high + 1))))
    iso.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{100 * 2.0**value:.0f}"))
    iso.set_ylim(low - 0.3, high + 0.3)
    iso.set_ylabel("ISO (full)")
    numbers = [value for value in curves.aperture if value]
    if numbers and max(numbers) > min(numbers) * 1.05:
        aperture = exposure.twinx()
        aperture.spines["right"].set_position(("outward", 44))
        aperture.plot(when, _gaps([_log2(value) for value in curves.aperture]), color=_SOFT, linestyle=":")
        widest, narrowest = math.log2(min(numbers)), math.log2(max(numbers))
        aperture.yaxis.set_major_locator(
            FixedLocator([k / 2 for k in range(round(2 * widest), round(2 * narrowest) + 1)])
        )
        aperture.yaxis.set_major_formatter(FuncFormatter(lambda value, _: aperture_label(2.0**value)))
        aperture.set_ylim(widest - 0.2, narrowest + 0.2)
        aperture.set_ylabel("aperture (dotted)")

    light.plot(when, _gaps(curves.scene_ev), color=_SOFT, linestyle=":")
    light.plot(when, _gaps(curves.target_ev), color=_LINE, linewidth=2.5, alpha=0.3)
    light.plot(when, _gaps(curves.exposure_ev), color=_SECOND, linewidth=0.9)
    light.legend(["scene as metered", "exposure wanted", "exposure set"], loc="best", frameon=False)
    light.set_ylabel("EV at ISO 100")
    for first, last in _runs(curves):
        for axes in (interval, light):
            axes.axvspan(
                datetime.fromtimestamp(first, UTC), datetime.fromtimestamp(last, UTC), color=_ALARM, alpha=0.25
            )
    over: Any = dates  # untyped
    locator = over.AutoDateLocator(tz=zone)
    light.xaxis.set_major_locator(locator)
    light.xaxis.set_major_formatter(over.ConciseDateFormatter(locator, tz=zone))
    light.set_xlabel(f"{zone}" + ("; red: missed slots" if curves.missed_utc else ""))
    for axes in (sun, interval, exposure, light):
        axes.margins(x=0.0)
        axes.spines[["top", "right"]].set_visible(axes is exposure)


def _with_pauses(curves: Curves) -> Curves:
    """The same with an entry that is not known in every pause, so that no line is drawn over it."""
    pauses = set(curves.breaks())
    columns: dict[str, list[Any]] = {name: [] for name in Curves.model_fields if name not in ("missed_utc", "every")}
    for k in range(len(curves.utc)):
        for name, values in columns.items():
            values.append(getattr(curves, name)[k])
        if k in pauses:
            for name, values in columns.items():
                values.append(curves.utc[k] + curves.interval_s[k] if name == "utc" else None)
    return curves.model_copy(update=columns)


def _runs(curves: Curves) -> list[tuple[float, float]]:
    """Missed slots that follow each other, from the first until the end of the last one's interval."""
    longest = max((seconds for seconds in curves.interval_s if seconds), default=1.0)
    runs: list[tuple[float, float]] = []
    for utc in curves.missed_utc:
        if runs and utc - runs[-1][1] < 2.0 * longest:
            runs[-1] = runs[-1][0], utc + longest
        else:
            runs.append((utc, utc + longest))
    return runs


def _shade(axes: Any, curves: Curves, when: list[Any]) -> None:
    """Day, twilights and night behind the sun's altitude."""
    altitude = [-90.0 if a is None else a for a in curves.sun_altitude_deg]
    for low, high, colour in (*_TWILIGHTS, (-91.0, -18.0, _NIGHT)):
        inside = [low <= a < high for a in altitude]
        inside = [here or before for here, before in zip(inside, [False, *inside], strict=False)]  # no seam between two
        axes.fill_between(when, 0, 1, where=inside, transform=axes.get_xaxis_transform(), color=colour, linewidth=0)


def _gaps(values: list[float | None]) -> list[float]:
    return [math.nan if value is None else value for value in values]


def _log2(value: float | None, unit: float = 1.0) -> float | None:
    return None if value is None or value <= 0 else math.log2(value / unit)


def _span(values: list[float | None]) -> tuple[int, int]:
    known = [value for value in values if value is not None] or [0.0]
    return math.floor(min(known)), max(math.ceil(max(known)), math.floor(min(known)) + 1)
