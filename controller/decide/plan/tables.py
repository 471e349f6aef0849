"""What every table of a plan is made of, and the small tables: site, files, clip, optics, view, power."""

from __future__ import annotations

from typing import Annotated, Literal, Self
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, JsonValue, Strict, model_validator

from controller.decide import anchors
from controller.decide.plan_errors import parsed, refuse, shown
from controller.decide.zone_hints import zone_remedy
from controller.words.documents import CLIP_FPS

Number = Annotated[float, Strict()]
Seconds = Annotated[Number, Field(gt=0, le=86400)]
ShutterTime = Annotated[Number, Field(ge=0.00001, le=3600)]
Aperture = Annotated[Number, Field(ge=0.5, le=512)]
Iso = Annotated[Number, Field(ge=1, le=10_000_000)]
SunAltitude = Annotated[Number, Field(ge=-90, le=90)]
SceneEv = Annotated[Number, Field(ge=-20, le=25)]
Offset = Annotated[Number, Field(ge=-6, le=6)]
AgainstGrey = Annotated[Number, Field(ge=-10, le=10)]
SensorSide = Annotated[Number, Field(ge=2, le=100)]
Fraction = Annotated[Number, Field(ge=0, le=1)]


def _pair(value: object) -> object:
    """A single number stands for a range without width."""
    return (value, value) if isinstance(value, (int, float)) and not isinstance(value, bool) else value


ApertureRange = Annotated[tuple[Aperture, Aperture], BeforeValidator(_pair, tuple[Aperture, Aperture] | Aperture)]
IsoRange = Annotated[tuple[Iso, Iso], BeforeValidator(_pair, tuple[Iso, Iso] | Iso)]
ShutterRange = Annotated[
    tuple[ShutterTime, ShutterTime], BeforeValidator(_pair, tuple[ShutterTime, ShutterTime] | ShutterTime)
]

DISTINCT: dict[str, JsonValue] = {"uniqueItems": True}  # for the schema; the validators say which is there twice
Length = Annotated[str, Field(json_schema_extra={"pattern": anchors.LENGTH_PATTERN})]
LONGEST_S = 3660 * 86400.0  # ten years: what is longer is a slip

_LEAST_LIFE_H = 1 / 60
_NO_PLACE = ("posix/", "right/")  # the database over again, and once more with leap seconds
_NOBODY_S = ("localtime", "posixrules", "Factory")  # what a machine has beside the database


def length_s(key: str, text: str) -> float:
    """Seconds of the length of time under a key. Raises Sense where it is none, nothing, or longer than ten years."""
    seconds: float = parsed(key, anchors.parse_length, text)
    if seconds <= 0:
        refuse(key, "no time at all", "Write it like 3h or 90min")
    if seconds > LONGEST_S:
        refuse(key, f"{shown(text)} is longer than ten years", "Write it like 3h or 90min")
    return seconds


class Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class Site(Table):
    """Where the rig stands."""

    latitude: Annotated[Number, Field(ge=-90, le=90, description="degrees, north positive")]
    longitude: Annotated[Number, Field(ge=-180, le=180, description="degrees, east positive")]
    timezone: Annotated[
        str,
        Field(
            description="name in the IANA time zone database, such as Europe/Stockholm",
            json_schema_extra={"pattern": r"^[A-Za-z][A-Za-z0-9_+/-]*$"},
        ),
    ] = "UTC"
    floor_lx: Annotated[Number, Field(ge=0.00001, le=100, description="light of a moonless night there, lux")] = 0.0008

    @model_validator(mode="after")
    def _known_zone(self) -> Self:
        try:
            if self.timezone.startswith(_NO_PLACE) or self.timezone in _NOBODY_S:
                raise ValueError("not of the database")
            ZoneInfo(self.timezone)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            remedy = zone_remedy(self.timezone, self.latitude, self.longitude)
            refuse("timezone", f"{self.timezone!r} is no time zone", remedy)
        return self

    @property
    def zone(self) -> ZoneInfo:
        """The site's time zone."""
        return ZoneInfo(self.timezone)


class Files(Table):
    """What is copied from the card to the rig; and what may go once it is copied further, which is nothing else."""

    fetch: Annotated[
        str,
        Field(
            pattern=r"^(all|preview|none|every [1-9][0-9]{0,5})$",
            description="all, preview, none, or 'every 10': whole files of every tenth frame, previews of the others",
        ),
    ] = "preview"
    keep: Annotated[
        str,
        Field(
            pattern=r"^(all|[1-9][0-9]{0,3} days?)$",
            description="all, or '30 days': whole files on the rig that are older go once they are in a second place",
        ),
    ] = "all"
    free_card: Annotated[
        Literal["never", "after two copies"],
        Field(description="whether a fetched frame goes from the card once it is verified in two places"),
    ] = "never"

    @model_validator(mode="after")
    def _sense(self) -> Self:
        if self.free_card != "never" and self.every is None:
            what = f"nothing is copied from the card with fetch = {shown(self.fetch)}"
            refuse("free_card", what, 'Use fetch = "all", or leave free_card out')
        return self

    @property
    def keep_days(self) -> int | None:
        """Days for which whole files stay on the rig; None for ever."""
        return None if self.keep == "all" else int(self.keep.split()[0])

    @property
    def every(self) -> int | None:
        """Whole files are fetched of every so manyth frame; None where of none."""
        return 1 if self.fetch == "all" else int(self.fetch[6:]) if self.fetch.startswith("every ") else None

    def fetch_of(self, seq: int) -> Literal["all", "preview", "none"]:
        """What to fetch of frame `seq`."""
        if self.every is not None and seq % self.every == 0:
            return "all"
        return "none" if self.fetch == "none" else "preview"


class Clip(Table):
    """The film."""

    fps: Annotated[Number, Field(ge=1, le=240, description="frames a second")] = CLIP_FPS
    daily: Annotated[bool, Strict(), Field(description="the rig makes a film of each window once that is over")] = False
    preview: Annotated[
        bool, Strict(), Field(description="the rig makes a small film of the window under way, which grows with it")
    ] = False


class Optics(Table):
    """Lens and sensor: for star trails, and for what the picture holds."""

    focal_mm: Annotated[Number, Field(ge=1, le=5000, description="focal length, as engraved, mm")]
    sensor_mm: Annotated[
        tuple[SensorSide, SensorSide] | None, Field(description="width and height of the sensor, mm")
    ] = None
    pixel_um: Annotated[Number, Field(ge=0.5, le=50, description="distance from pixel to pixel, µm")] | None = None

    @model_validator(mode="after")
    def _sense(self) -> Self:
        if self.sensor_mm is not None and self.pixel_um is not None:
            across = self.sensor_mm[0] * 1000 / self.pixel_um
            if not 500 <= across <= 50_000:
                what = f"{self.pixel_um:g} µm makes {across:.0f} pixels on a width of {self.sensor_mm[0]:g} mm"
                refuse("pixel_um", what, "Give the width of the sensor divided by its pixels, in µm")
        return self


CameraName = Annotated[str, Field(pattern=r"^camera-[1-9][0-9]?$")]


class Cameras(Table):
    """Which of the rig's cameras shoot, all on the same moments."""

    use: Annotated[
        tuple[CameraName, ...] | None,
        Field(min_length=1, max_length=8, json_schema_extra=DISTINCT, description="none: all that the rig has"),
    ] = None
    lead: Annotated[
        CameraName | None,
        Field(description="the camera whose exposure all take; none: each follows the light that it sees"),
    ] = None

    @property
    def named(self) -> tuple[str, ...]:
        """Every camera that is named, once."""
        return tuple(dict.fromkeys([*(self.use or ()), *filter(None, [self.lead])]))

    @model_validator(mode="after")
    def _sense(self) -> Self:
        if self.use is not None and (twice := [name for name in self.use if self.use.count(name) > 1]):
            refuse("use", f"{twice[0]} is there twice", "Name each camera once")
        if self.use is not None and self.lead is not None and self.lead not in self.use:
            refuse("lead", f"{self.lead} is not one of the cameras in use", "Add it there, or name one of them")
        return self


class View(Table):
    """Where the camera looks: the middle of the picture. The horizon is level."""

    azimuth_deg: Annotated[Number, Field(ge=0, le=360, description="from north through east, degrees")]
    altitude_deg: Annotated[Number, Field(ge=-90, le=90, description="above the horizon, degrees")] = 0.0


class Power(Table):
    """What the rig and its camera live on."""

    battery_wh: Annotated[Number, Field(ge=0.1, le=1_000_000, description="energy of the full batteries, Wh")]
    draw_w: Annotated[Number, Field(ge=0.01, le=10_000, description="what rig and camera take together, on average, W")]
    temperature_c: Annotated[Number, Field(ge=-60, le=60, description="the coldest that is expected, °C")] | None = None

    @model_validator(mode="after")
    def _sense(self) -> Self:
        if self.battery_wh / self.draw_w < _LEAST_LIFE_H:
            what = f"{self.draw_w:g} W empty a battery of {self.battery_wh:g} Wh in less than a minute"
            refuse("draw_w", what, "Give watts on average; battery_wh is in watt hours: volts times ampere hours")
        return self
