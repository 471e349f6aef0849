"""Looking through the rig's cameras before a shoot, or while it is held: live view, focus figures, test frames."""

from __future__ import annotations

import asyncio
import contextlib
import io
from collections.abc import AsyncGenerator, Callable
from contextlib import aclosing
from pathlib import Path

from PIL import Image

from controller.camera.link import CameraLink
from controller.camera.messages import Report
from controller.decide.exposure import ASSUMED, triple
from controller.decide.focus import framing
from controller.decide.meter import meter, scene_ev
from controller.decide.picture import MeterError
from controller.decide.safe_interval import Needs
from controller.decide.steady_beat import Run
from controller.engine.beside import Beside
from controller.engine.dials import link_of
from controller.engine.steady_beat import SteadyBeat
from controller.engine.turn import Turn
from controller.words.bodies import BeatFound
from controller.words.clock import Clock
from controller.words.errors import CameraError, Conflict, NotFound
from controller.words.looking import Seen, TestFrame
from controller.words.stops import exposure_ev

Part = tuple[float, float, float, float]
WHOLE: Part = (0.0, 0.0, 1.0, 1.0)

_FOCUS_S = 10.0
_BOUND = 0.3  # share of white or black from which a picture tells a bound of the scene's light and no value


class Looking:
    """`links` and `turns` are the rig's own, and grow with it."""

    def __init__(self, links: list[CameraLink], turns: dict[str, Turn], clock: Clock, directory: Path) -> None:
        self._links, self._turns, self._clock, self._directory = links, turns, clock, directory
        self._beside: dict[str, Beside | SteadyBeat] = {}
        self._pictures: dict[str, bytes] = {}

    def _link(self, camera: str) -> CameraLink:
        return link_of(self._links, camera)

    def heard(self, camera: str, report: Report) -> None:
        """Reports of a camera, for a test frame that is under way."""
        if (beside := self._beside.get(camera)) is not None:
            beside.heard(report)

    # ---- live view

    def require_free(self, camera: str) -> None:
        """Raises NotFound, and Conflict where a shoot has the camera and is not held."""
        self._link(camera)
        owner = self._turns[camera].owner
        if owner is not None and not owner.held:
            what = "a shoot has this camera, and its frames come first"
            raise Conflict("shoot-has-camera", what, where=camera, remedy="Hold the shoot, look, and resume it")

    async def live(
        self, camera: str, per_s: float, part: Part = WHOLE, width: int | None = None
    ) -> AsyncGenerator[bytes]:
        """JPEGs of live view, or of a part of it, at most so many a second, until a release ends it.

        `part` is left, top, right and bottom as fractions; `width`, in pixels, makes wider ones smaller, for a weak
        link. Raises NotFound, Conflict, CameraError.
        """
        self.require_free(camera)
        async with aclosing(self._link(camera).live(per_s)) as pictures:
            async for jpeg in pictures:
                as_it_is = part == WHOLE and width is None
                yield jpeg if as_it_is else await asyncio.to_thread(_cut, jpeg, part, width)

    async def focus(self, camera: str, part: Part = WHOLE) -> Seen:
        """Figures of the next live picture. Raises NotFound, Conflict, CameraError."""
        self.require_free(camera)
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(_FOCUS_S), aclosing(self._link(camera).live(2.0)) as pictures:
                async for jpeg in pictures:
                    return await asyncio.to_thread(_seen, camera, jpeg, part)
        raise CameraError("no-live-view", "no picture of live view came", where=camera, remedy="Try again")

    # ---- test frames

    async def test_frame(
        self, camera: str, shutter_s: float | None = None, aperture: float | None = None, iso: float | None = None
    ) -> TestFrame:
        """Take one with the body's settings, or those given (true values).

        While a shoot is held its next slot's stand in the place of the body's. Raises NotFound, Conflict, CameraError.
        """
        link = self._link(camera)
        opened = link.session()
        owner = self._turns[camera].owner
        next_one = None if owner is None else owner.slots.next_exposure()
        stands = (opened.shutter_now_s, opened.aperture_now, opened.iso_now)
        if next_one is not None:
            stands = (next_one.shutter_s, next_one.aperture, next_one.iso)
        known = aperture or stands[1]
        exposure = triple(
            shutter_s or stands[0] or ASSUMED.shutter_s,
            known or ASSUMED.aperture,  # no EV is told then
            iso or stands[2] or ASSUMED.iso,
        )
        if owner is None:
            beside, files = Beside(link, self._clock, self._directory), 0
            async with self._turns[camera].borrowed(camera):
                self._beside[camera] = beside
                try:
                    picture = await beside.take(exposure, set_aperture=aperture is not None)
                finally:
                    del self._beside[camera]
        else:
            beside, files = owner.reports.beside, len(owner.reports.beside.files)
            with owner.holding.lend(exposure.shutter_s) as loan:
                try:
                    picture = await beside.take(exposure, set_aperture=True, late_s=loan.late_s, answer_s=loan.answer_s)
                finally:
                    await beside.through(loan.left_s())
        if picture is None:
            what = f"no picture came: {beside.trouble or 'the camera sent none'}"
            raise CameraError("no-test-frame", what, where=camera, remedy="Look at the camera, and try again")
        jpeg, got = picture.preview.jpeg, picture.exposure
        self._pictures[camera] = jpeg
        ev = exposure_ev(got.shutter_s, got.aperture, got.iso) if known else None
        seen = await asyncio.to_thread(_seen, camera, jpeg, WHOLE)
        return TestFrame(
            shutter_s=got.shutter_s,
            aperture=got.aperture if known else None,
            iso=got.iso,
            exposure_ev=ev,
            scene_ev=None if ev is None else _scene(jpeg, ev),
            seen=seen,
            camera_files=beside.files[files:],
            picture=f"/api/v1/cameras/{camera}/test-frame.jpg",
        )

    async def beat(
        self, camera: str, shutter_s: float, needs: Needs | None, tell: Callable[[Run], None] = lambda run: None
    ) -> BeatFound:
        """The shortest interval that the body holds with an exposure, by MOST_FRAMES test frames at most.

        `needs` is what is known of the body; `tell` is called after each run of frames. It ends where a shoot waits for
        the camera. Raises NotFound, Conflict, CameraError.
        """
        link = self._link(camera)
        opened = link.session()
        exposure = triple(shutter_s, opened.aperture_now or ASSUMED.aperture, opened.iso_now or ASSUMED.iso)
        turn = self._turns[camera]
        async with turn.borrowed(camera):
            beat = SteadyBeat(link, self._clock, self._directory, lambda: not turn.waiting, tell)
            self._beside[camera] = beat
            try:
                return await beat.find(exposure, needs)
            finally:
                del self._beside[camera]

    def picture(self, camera: str) -> bytes:
        """The small picture of the last test frame. Raises NotFound."""
        self._link(camera)
        if camera not in self._pictures:
            what = "no test frame was taken since the rig started"
            raise NotFound("no-test-picture", what, where=camera, remedy="Take one with POST …/test-frame")
        return self._pictures[camera]


def _seen(camera: str, jpeg: bytes, part: Part) -> Seen:
    try:
        told = framing(jpeg, part=part)
    except MeterError as error:
        raise CameraError("bad-live-picture", error.what, where=camera, remedy="Try again", retryable=True) from error
    return Seen(sharpness=told.sharpness, histogram=list(told.histogram), clipped=told.clipped, black=told.black)


def _scene(jpeg: bytes, ev: float) -> float | None:
    try:
        reading = meter(jpeg)
    except MeterError:
        return None
    return None if reading.clipped > _BOUND or reading.black > _BOUND else scene_ev(reading, ev)


def _cut(jpeg: bytes, part: Part, most: int | None) -> bytes:
    """The part of a picture, as large as that, but no wider than `most`; as it was where it cannot be read."""
    try:
        with Image.open(io.BytesIO(jpeg)) as picture:
            width, height = picture.size
            share = 1.0 if most is None else min(1.0, most / width)
            if share == 1.0 and part == WHOLE:
                return jpeg
            box = (part[0] * width, part[1] * height, part[2] * width, part[3] * height)
            size = max(1, round(width * share)), max(1, round(height * share))
            cut = picture.convert("RGB").resize(size, Image.Resampling.BILINEAR, box)
    except (OSError, ValueError):
        return jpeg
    out = io.BytesIO()
    cut.save(out, "JPEG", quality=85)
    return out.getvalue()
