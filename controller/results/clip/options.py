"""What a clip is asked to be: one document for the command, REST and the work itself."""

from __future__ import annotations

from typing import Any, Literal, Self

from pydantic import ConfigDict, Field, ValidationError, field_serializer, model_validator

from controller.words.documents import Document
from controller.words.errors import BadInput

_SAME_SHAPE = 0.02  # windows whose shapes differ by less are stretched by less than the eye sees


class Window(Document):
    """A part of the upright picture, as fractions of its width and height, from its top left corner."""

    model_config = ConfigDict(frozen=True, allow_inf_nan=False)

    x: float = Field(ge=0, lt=1)
    y: float = Field(ge=0, lt=1)
    w: float = Field(ge=0.01, le=1)
    h: float = Field(ge=0.01, le=1)

    @model_validator(mode="after")
    def _inside(self) -> Self:
        if self.x + self.w > 1 + 1e-9 or self.y + self.h > 1 + 1e-9:
            raise ValueError("the window reaches over the picture's edge")
        return self


WHOLE = Window(x=0, y=0, w=1, h=1)


class ClipWanted(Document):
    """What is asked of a clip; whatever is left out has its usual value. Frozen. Each description is the remedy too."""

    model_config = ConfigDict(frozen=True, allow_inf_nan=False)

    fps: float | None = Field(None, ge=1, le=120, description="1 to 120 frames a second; left out: as the plan says")
    codec: Literal["h264", "hevc"] = Field("h264", description="h264 or hevc")
    bits: Literal[8, 10] = Field(8, description="8 or 10 bits a colour")
    size: tuple[int, int] | None = Field(
        None, description="a width and a height from 16 to 8192 pixels to fit the film into, such as 1920x1080"
    )
    crop: Window | None = Field(
        None, description="x, y, width and height of a window in the upright picture, as fractions: 0,0,0.5,0.5"
    )
    pan_to: Window | None = Field(
        None, description="the window in which a pan ends, like that of the crop in which it begins: 0.5,0.5,0.5,0.5"
    )
    burn: frozenset[Literal["time", "sun"]] = Field(
        frozenset(), description="time (local date and time), sun (its altitude), or both"
    )
    retime: Literal["off", "nearest", "blend"] = Field("off", description="off, nearest or blend")
    scene_s_per_s: float | None = Field(
        None,
        ge=0.001,
        le=31_622_400,
        description="how many seconds of the scene one second of the film shows, from 0.001 to 31,622,400",
    )
    steady: Literal["off", "level", "tones"] = Field("level", description="off, level or tones")
    source: Literal["auto", "fetched", "embedded", "developed"] = Field(
        "auto", description="auto, fetched (JPEG), embedded (in RAW files) or developed (from RAW files)"
    )
    camera: str | None = Field(None, min_length=1, description="the name of a camera of the shoot")

    @model_validator(mode="after")
    def _together(self) -> Self:
        """Raises BadInput itself, which pydantic lets through."""
        if self.size is not None and not all(16 <= edge <= 8192 for edge in self.size):
            raise BadInput("bad-clip", f"{self.size[0]}x{self.size[1]} is no usable size", "size", _remedy("size"))
        if self.pan_to is not None:
            begin = self.crop or WHOLE
            if abs(self.pan_to.w / self.pan_to.h / (begin.w / begin.h) - 1) > _SAME_SHAPE:
                remedy = "Give both windows the same ratio of width to height"
                raise BadInput("bad-clip", "a pan cannot end in a window of another shape", "pan_to", remedy)
        if self.scene_s_per_s is not None and self.retime == "off":
            remedy = "Choose retime nearest or blend with it, or leave it out"
            raise BadInput("bad-clip", "this is the speed of a retimed film", "scene_s_per_s", remedy)
        return self

    @field_serializer("burn")
    def _in_order(self, burn: frozenset[str]) -> list[str]:
        return sorted(burn)  # the same options are the same text in every process


class ClipOptions(ClipWanted):
    """All of it. `clip_options` makes one and says in one line what does not fit."""

    fps: float = Field(ge=1, le=120, description="1 to 120 frames a second")


def clip_options(**given: Any) -> ClipOptions:
    """Raises BadInput('bad-clip') with the first thing that does not fit: its field, what came, the remedy."""
    try:
        return ClipOptions.model_validate(given)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        field = str(first["loc"][0])
        if field not in ClipOptions.model_fields:
            known = ", ".join(ClipOptions.model_fields)
            raise BadInput("bad-clip", "a clip has no such option", field, f"It has {known}") from None
        if first["type"] == "missing":
            raise BadInput("bad-clip", "this is missing", field, _remedy(field)) from None
        said = first.get("ctx", {}).get("error")  # of a check of our own, in words
        what = str(said) if said is not None else f"{first['input']!r} cannot be used"
        raise BadInput("bad-clip", what, ".".join(map(str, first["loc"])), _remedy(field)) from None


def _remedy(field: str) -> str:
    return f"Give {ClipOptions.model_fields[field].description}"
