"""What is seen through a camera before a shoot: a test frame, and figures for framing and focusing."""

from __future__ import annotations

from pydantic import Field

from controller.words.documents import Document


class Seen(Document):
    """Figures of a picture, in linear light by the sRGB curve."""

    sharpness: float = Field(description="no unit: compare it with itself while you turn the lens; highest in focus")
    histogram: list[float] = Field(description="shares of the picture by stops below saturation, the brightest first")
    clipped: float = Field(description="share of the picture that is white")
    black: float = Field(description="share of the picture that is black")


class TestFrame(Document):
    """A frame outside any shoot. It stays on the card."""

    __test__ = False  # no test, whatever its name begins with

    shutter_s: float
    aperture: float | None
    iso: float
    exposure_ev: float | None = Field(description="EV at ISO 100 of the settings; null where no aperture is known")
    scene_ev: float | None = Field(description="EV at ISO 100 of the scene; null where most of it is white or black")
    seen: Seen
    camera_files: list[str]
    picture: str = Field(description="where its small picture is, until the next one")
