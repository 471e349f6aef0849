"""A whole plan, read from TOML or JSON.

The models raise pydantic's ValidationError; `read_plan` and `plan_from` turn that into one clear line.
"""

from __future__ import annotations

import tomllib
from typing import Annotated, Any, Self

from pydantic import BaseModel, Field, ValidationError, model_validator

from controller.decide.plan.light import FixedLight, FollowLight, LightRule, MeterRegion
from controller.decide.plan.pace import ByLight, ByPulse, BySun, Pace, Steady, Timed
from controller.decide.plan.tables import LONGEST_S, Cameras, Clip, Files, Optics, Power, Site, Table, View
from controller.decide.plan.when import CLOCK_CHANGE_S, Span, When, known_s
from controller.decide.plan_errors import bad_plan, refuse
from controller.decide.toml_slips import toml_remedy
from controller.words.errors import BadInput
from controller.words.phrases import at_least, length
from controller.words.stops import shutter_label

_SAME_S = 0.05  # what a label is off by may be left unsaid


class Plan(Table):
    """What to shoot: where, when, at which intervals and exposures, and what becomes of the frames."""

    name: Annotated[
        str,
        Field(
            pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$",
            description="letters, digits, '.', '_' and '-', 64 at most",
        ),
    ]
    site: Site
    when: When = Field(default_factory=lambda: When.model_validate({}))
    pace: Pace
    light: LightRule
    cameras: Cameras | None = None
    files: Files = Files()
    clip: Clip = Clip()
    optics: Optics | None = None
    view: View | None = None
    power: Power | None = None

    @model_validator(mode="after")
    def _sense(self) -> Self:
        key, interval_s = self.pace.shortest()
        exposure_s, count = self.light.shortest_s(), len(self.light.offsets)
        gap_s = self.pace.min_gap_s * count
        if interval_s < exposure_s + gap_s:
            which = "exposure" if count == 1 else f"bracket of {count} exposures"
            refuse(
                f"pace.{key}",
                f"an interval of {interval_s:g} s is shorter than the shortest {which}, {self._said(exposure_s)}, "
                f"and the gap{'' if count == 1 else 's'} of {gap_s:g} s",
                f"Use {at_least(exposure_s + gap_s)} or more, a shorter exposure, or a smaller min_gap_s",
            )
        stretch_s = self.pace.stretch_to_s
        if stretch_s is not None and stretch_s <= interval_s:
            remedy = f"Use more than {interval_s:g} s, or remove it"
            refuse("pace.stretch_to_s", f"{stretch_s:g} s is no longer than the pace's own interval", remedy)
        if stretch_s is not None and isinstance(self.light, FixedLight):
            refuse("pace.stretch_to_s", "a fixed light has its interval made long enough anyhow", "Remove it")
        endless = any(not (part.stop or part.duration) for part in self.when.parts())
        if isinstance(self.pace, Timed) and self.pace.over is None and endless:
            refuse("pace.over", "is missing, and the window has no end to fill", 'Add over = "2h", or a stop')
        if self.files.fetch == "none" and (self.clip.daily or self.clip.preview):
            which = "daily" if self.clip.daily else "preview"
            what = 'with fetch = "none" the rig has no pictures to make a film of'
            refuse(f"clip.{which}", what, 'Use fetch = "preview" or "all" in [files], or leave it out')
        self._sense_of_length(key, interval_s, count)
        return self

    @property
    def releases_per_clip_s(self) -> float:
        """Frames that make one second of the clip, of which one of each bracket is shown."""
        return self.clip.fps * len(self.light.offsets)

    def _said(self, exposure_s: float) -> str:
        """Seconds of exposures; a single one as it was written, with what a dial's label stands for."""
        shutter_s = self.light.shutter_s
        written_s = shutter_s if isinstance(shutter_s, float) else shutter_s[0]
        if len(self.light.offsets) > 1 or abs(written_s - exposure_s) < _SAME_S:
            return f"{exposure_s:.3g} s" if exposure_s >= 0.3 else f"{shutter_label(exposure_s)} s"
        return f"{written_s:g} s (truly {exposure_s:.3g} s)"

    def _sense_of_length(self, key: str, interval_s: float, count: int) -> None:
        """A window holds an interval, and its frames end before the next one; `interval_s` is the least, of `count`."""
        for where, span in self.when.spans():
            lasts_s = known_s(span)
            if lasts_s is not None and interval_s > lasts_s:
                what = f"an interval of {interval_s:g} s is longer than the window, {length(lasts_s)}"
                refuse(f"pace.{key}", what, "Make the interval shorter, or the window longer")
            if span.frames is None:
                continue
            taken_s = span.frames * interval_s / count
            limit_s, until = LONGEST_S, "more than ten years"
            if self.when.every is not None:
                limit_s = self.when.apart_s() + CLOCK_CHANGE_S
                until = f"but the next window begins {length(self.when.apart_s())} later"
            if taken_s > limit_s:
                what = f"{span.frames} frames take {length(taken_s)} or more, {until}"
                refuse(f"when.{where}frames", what, "Ask for fewer frames, or a shorter interval")

    def document(self) -> dict[str, Any]:
        """JSON-able; `plan_from` reads it back to an equal plan."""
        document = self.model_dump(mode="json", by_alias=True, exclude_none=True)
        if self.when.windows is not None:
            del document["when"]["start"]  # a default that would stand beside those of the windows
        return document


# the model of each table by its place in the document, kinds included
MODELS: dict[tuple[str, ...], type[BaseModel]] = {
    (): Plan,
    ("site",): Site,
    ("when",): When,
    ("when", "windows"): Span,
    ("pace", "steady"): Steady,
    ("pace", "timed"): Timed,
    ("pace", "sun"): BySun,
    ("pace", "light"): ByLight,
    ("pace", "pulse"): ByPulse,
    ("light", "fixed"): FixedLight,
    ("light", "follow"): FollowLight,
    ("light", "fixed", "regions"): MeterRegion,
    ("light", "follow", "regions"): MeterRegion,
    ("cameras",): Cameras,
    ("files",): Files,
    ("clip",): Clip,
    ("optics",): Optics,
    ("view",): View,
    ("power",): Power,
}


def read_plan(text: str) -> Plan:
    """A plan from TOML. Raises BadInput (code bad-plan) with the first error: line and key, what, remedy."""
    return _validated(read_toml(text), text)


def read_toml(text: str) -> dict[str, Any]:
    """The document that a TOML text holds. Raises BadInput (code bad-plan) where it is none: what, remedy."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BadInput("bad-plan", f"not TOML: {error}", remedy=toml_remedy(text, str(error))) from None
    except (ValueError, RecursionError) as error:
        raise BadInput("bad-plan", f"not TOML that can be read: {error}", remedy="Write plain tables") from None


def plan_from(document: dict[str, Any]) -> Plan:
    """A plan from a document (TOML or JSON that was read). Raises BadInput (code bad-plan) with the first error."""
    return _validated(document, None)


def _validated(document: dict[str, Any], text: str | None) -> Plan:
    try:
        return Plan.model_validate(document)
    except ValidationError as error:
        raise bad_plan(error, MODELS, text) from None
