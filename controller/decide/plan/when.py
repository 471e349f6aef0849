"""The table [when]: when to shoot."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from itertools import combinations, permutations
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, ConfigDict, Field, Strict, model_validator

from controller.decide import anchors
from controller.decide.plan.tables import DISTINCT, Length, Table, length_s
from controller.decide.plan_errors import parsed, refuse
from controller.words.phrases import length, nth

Day = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
DAYS: tuple[Day, ...] = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_ENDS = ("stop", "duration", "frames")
_DAY_S = 86400.0
CLOCK_CHANGE_S = 3600.0  # a window of a whole day, once a day, may meet the next one when clocks are put forward


def _text_of_time(value: object) -> object:
    """TOML has dates and times of its own; JSON writes them as text."""
    return value.isoformat() if hasattr(value, "isoformat") else value


def _one_day(value: object) -> object:
    return list(DAYS) if value == "day" else value


def _whole(value: object) -> object:
    """JSON makes no difference between 900 and 900.0."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


_Days = Annotated[tuple[Day, ...], Field(min_length=1, max_length=7, json_schema_extra=DISTINCT)]
Date = Annotated[
    date,
    Field(
        ge=date(anchors.FIRST_YEAR, 1, 1),
        le=date(anchors.LAST_YEAR, 12, 31),
        json_schema_extra={"pattern": rf"^{anchors.DAY_PATTERN}$"},
    ),
]
_TimeText = Annotated[str, BeforeValidator(_text_of_time)]
Stop = Annotated[
    _TimeText,
    Field(
        description="when it ends: a local time, or a sun event with an offset",
        json_schema_extra={"pattern": anchors.STOP_PATTERN},
    ),
]
Duration = Annotated[Length, Field(description="how long it lasts, such as 3h, 90min or 1h30min")]
Frames = Annotated[
    int,
    Strict(),
    Field(ge=1, le=10_000_000, description="how many frames are released; missed slots do not count"),
    BeforeValidator(_whole),
]


def _of_span(schema: dict[str, Any]) -> None:
    """What Span's validator asks for, as JSON Schema can say it."""
    schema["oneOf"] = [{"required": [end]} for end in _ENDS]


def _of_when(schema: dict[str, Any]) -> None:
    """What When's validator asks for, as JSON Schema can say it."""
    apart = [*combinations(_ENDS, 2), *(("windows", own) for own in ("start", *_ENDS)), ("date", "every")]
    schema["allOf"] = [{"not": {"required": list(pair)}} for pair in apart]
    schema["dependentRequired"] = {key: ["every"] for key in ("from", "until")}
    some = {"required": ["skip"], "properties": {"skip": {"minItems": 1}}}
    schema["allOf"].append({"if": some, "then": {"required": ["every"]}})


class Span(Table):
    """One of several windows of a day: from a time that comes round every day until a stop."""

    model_config = ConfigDict(json_schema_extra=_of_span)

    start: Annotated[
        _TimeText,
        Field(
            description="a time such as 06:30, or a sun event with an offset, such as sunset-45min",
            json_schema_extra={"pattern": anchors.DAILY_PATTERN},
        ),
    ]
    stop: Stop | None = None
    duration: Duration | None = None
    frames: Frames | None = None

    @model_validator(mode="after")
    def _sense(self) -> Self:
        start, _ = sensible(self)
        if not anchors.comes_round(start):
            refuse("start", f"{self.start} does not come round every day", "Use a time such as 06:30, or a sun event")
        if self.stop is None and self.duration is None and self.frames is None:
            refuse("start", "a window among several needs an end", "Add stop, duration or frames")
        return self


class When(Table):
    """When to shoot: once, or on every day that is named; in one window or in several."""

    model_config = ConfigDict(json_schema_extra=_of_when)

    start: Annotated[
        _TimeText,
        Field(
            description="now, a local time such as 18:20 or 2026-10-03T18:20, or a sun event with an offset",
            json_schema_extra={"pattern": anchors.START_PATTERN},
        ),
    ] = "now"
    stop: Stop | None = None
    duration: Duration | None = None
    frames: Frames | None = None
    windows: (
        Annotated[tuple[Span, ...], Field(min_length=1, max_length=24, description="several windows a day")] | None
    ) = None
    date: Annotated[Date, Field(description="the local day that a single plan is meant for")] | None = None
    every: (
        Annotated[
            _Days,
            BeforeValidator(_one_day, Literal["day"] | _Days),
            Field(description="days of the week of a plan that repeats, or day for all of them"),
        ]
        | None
    ) = None
    from_: Annotated[Date, Field(description="first day of a plan that repeats")] | None = Field(None, alias="from")
    until: Annotated[Date, Field(description="last day of a plan that repeats")] | None = None
    skip: Annotated[tuple[Date, ...], Field(max_length=10_000, description="days that are left out")] = ()

    @model_validator(mode="after")
    def _sense(self) -> Self:
        start, stop = sensible(self)
        if self.windows is not None:
            for name in ("start", *_ENDS):
                if name in self.model_fields_set and getattr(self, name) is not None:
                    refuse(name, "stands beside [[when.windows]], which have their own", "Keep one of them")
        if self.every is None:
            for name, value in (("from", self.from_), ("until", self.until), ("skip", self.skip)):
                if value:
                    refuse(name, "only a repeated plan has it", 'Add every = "day", or remove it')
        elif self.date is not None:
            refuse("date", "a plan is for one date or for every day, not both", "Keep one of them")
        repeated = self.every is not None or self.date is not None
        for name, anchor in (("start", start), ("stop", stop)):
            if self.windows is not None or not repeated or isinstance(anchor, anchors.Sun | None):
                continue
            if getattr(anchor, "day", self) is not None:
                refuse(name, "names one moment, but the plan names days", "Use a sun event, or a time such as 18:20")
        self._sense_of_days()
        return self

    def _sense_of_days(self) -> None:
        if self.every is None:
            return
        if len(set(self.every)) < len(self.every):
            refuse("every", "names a day twice", "Name each once")
        if self.from_ and self.until:
            if self.until < self.from_:
                refuse("until", f"{self.until} is before from, {self.from_}", "Swap them")
            asked = (self.from_ + timedelta(days=n) for n in range((self.until - self.from_).days + 1))
            if not any(DAYS[day.weekday()] in self.every and day not in self.skip for day in asked):
                what = f"none of its days lies from {self.from_} to {self.until}"
                refuse("every", what, "Name other days, or skip fewer")
        for where, span in self.spans():
            lasts_s = known_s(span)
            if lasts_s is not None and lasts_s > self.apart_s() + CLOCK_CHANGE_S:
                key = "stop" if span.duration is None else "duration"
                what = f"a window of {length(lasts_s)} is not over when the next begins, {length(self.apart_s())} later"
                refuse(where + key, what, "Make it shorter, or name fewer days in every")
        for (n, one), (m, other) in permutations(enumerate(self.windows or ()), 2):
            after_s, lasts_s = _begins_after_s(one, other), known_s(one)
            if after_s is None or lasts_s is None or (after_s < 0 and self.apart_s() > _DAY_S):
                continue
            if after_s % _DAY_S < lasts_s:
                what = f"the {nth(m + 1)} window begins while the {nth(n + 1)} still lasts, on every day"
                refuse(f"windows.{m}.start", what, "Move one of them, or make one of the two")

    def apart_s(self) -> float:
        """Seconds from a window to the same one's next of a repeated plan, at the least, by the clock."""
        days = sorted(DAYS.index(day) for day in self.every or ())
        return _DAY_S * min((after - day) % 7 or 7 for day, after in zip(days, [*days[1:], days[0]], strict=True))

    def spans(self) -> list[tuple[str, Span | When]]:
        """Each window of a day with its place before the keys, such as `windows.0.`."""
        if self.windows is None:
            return [("", self)]
        return [(f"windows.{n}.", span) for n, span in enumerate(self.windows)]

    def parts(self) -> tuple[When, ...]:
        """The same days, with one window each."""
        if self.windows is None:
            return (self,)
        own = ("start", *_ENDS)
        return tuple(
            self.model_copy(update={"windows": None} | {name: getattr(span, name) for name in own})
            for span in self.windows
        )


def sensible(span: Span | When) -> tuple[anchors.Anchor, anchors.Anchor | None]:
    """Start and stop of a window, read. Raises Sense where they, or its other ends, make no sense."""
    start = parsed("start", anchors.parse_anchor, span.start)
    stop = None if span.stop is None else parsed("stop", anchors.parse_stop, span.stop)
    if span.duration is not None:
        length_s("duration", span.duration)
    ends = [name for name in _ENDS if getattr(span, name) is not None]
    if len(ends) > 1:
        refuse(ends[1], f"{' and '.join(ends)} both say when to end", "Keep one of them")
    if isinstance(stop, anchors.Now):
        refuse("stop", "a shoot cannot stop at now", 'Use duration = "3h", or a time')
    if stop is not None and anchors.precedes(stop, start):
        order = "the same as" if stop == start else "before"
        refuse("stop", f"{span.stop} is {order} the start, {span.start}", "Swap them, or move one")
    return start, stop


def known_s(span: Span | When) -> float | None:
    """How long a window lasts, seconds, where that is the same on every day but those on which clocks change."""
    if span.duration is not None:
        return anchors.parse_length(span.duration)
    if span.stop is None:
        return None
    match anchors.parse_anchor(span.start), anchors.parse_anchor(span.stop):
        case anchors.Sun(event, from_s), anchors.Sun(other, to_s) if event == other:
            return to_s - from_s
        case anchors.Fixed(start), anchors.Fixed(stop):
            return stop - start
        case anchors.Local(day, at), anchors.Local(other_day, until) if at.tzinfo == until.tzinfo:
            if day is None and other_day is None:
                stretch = datetime.combine(date.min, until) - datetime.combine(date.min, at)
                return stretch.total_seconds() % _DAY_S
            if day and other_day:
                return (datetime.combine(other_day, until) - datetime.combine(day, at)).total_seconds()
    return None


def _begins_after_s(one: Span, other: Span) -> float | None:
    """How much later in the day `other` begins, seconds, where that is the same on every day."""
    match anchors.parse_anchor(one.start), anchors.parse_anchor(other.start):
        case anchors.Sun(event, from_s), anchors.Sun(same, to_s) if event == same:
            return to_s - from_s
        case anchors.Local(None, at), anchors.Local(None, then) if at.tzinfo == then.tzinfo:
            return (datetime.combine(date.min, then) - datetime.combine(date.min, at)).total_seconds()
    return None
