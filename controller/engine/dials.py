"""A person's hand on a camera's settings, over the rig: read and changed between releases, noted where a shoot runs."""

from __future__ import annotations

import time

from controller.camera.choices import named
from controller.camera.link import CameraLink
from controller.camera.messages import Opened, Status
from controller.engine.turn import Turn
from controller.words.clock import Clock
from controller.words.documents import CameraNow
from controller.words.errors import Conflict, NotFound
from controller.words.settings import Setting, SettingNow

_OF_THE_SHOOT = (Setting.SHUTTER, Setting.APERTURE, Setting.ISO)


def link_of(links: list[CameraLink], camera: str) -> CameraLink:
    """The camera by its id. Raises NotFound."""
    link = next((link for link in links if link.id == camera), None)
    if link is None:
        known = ", ".join(link.id for link in links)
        raise NotFound("no-such-camera", "there is no such camera", where=camera, remedy=f"Name one of {known}")
    return link


def camera_now(link: CameraLink, status: Status | Opened | None, battery_hours_left: float | None = None) -> CameraNow:
    """The camera as the rig tells it, with the battery and the room that it told last."""
    opened = link.opened
    return CameraNow(
        id=link.id,
        model=opened.model if opened else "not known yet",
        address=link.address,
        connected=opened is not None,
        trouble=link.trouble,
        battery_percent=status.battery_percent if status else None,
        battery_hours_left=battery_hours_left if opened else None,
        card_free_bytes=status.free_bytes if status else None,
        card_free_frames=status.free_frames if status else None,
    )


class Dials:
    """The settings of the rig's cameras. `links` and `turns` are the rig's own, and grow with it."""

    def __init__(self, links: list[CameraLink], turns: dict[str, Turn], clock: Clock) -> None:
        self._links, self._turns, self._clock = links, turns, clock

    def _link(self, camera: str) -> CameraLink:
        return link_of(self._links, camera)

    async def read(self, camera: str) -> list[SettingNow]:
        """The settings that the body has. Raises NotFound, CameraError."""
        return await self._link(camera).settings()

    async def set(self, camera: str, setting: Setting, value: str) -> SettingNow:
        """Change a setting and read it back; raises NotFound, BadInput, Conflict, CameraError.

        While a shoot has the camera, shutter, aperture and ISO are the shoot's, the clock stays as it is, and every
        other change is noted in the shoot.
        """
        link, turn = self._link(camera), self._turns[camera]
        if setting is Setting.CLOCK:  # a shoot tells its frames on the card by their times, from its first to its last
            async with turn.borrowed(camera):
                return await link.set(setting, value, self._clock.utc() - time.time())
        shoot = turn.owner
        if shoot is not None and setting in _OF_THE_SHOOT:
            what = f"the shoot that runs sets the {named(setting)} itself"
            remedy = "Change the bias or the limits of its light, or stop it"
            raise Conflict("shoot-sets-it", what, where=camera, remedy=remedy)
        shown = await link.set(setting, value)
        if shoot is not None:
            text = f"the camera's {named(setting)} was set to {shown.value}"
            await shoot.book.note("camera-set", text, self._clock.utc(), setting=setting, value=shown.value)
        return shown

    def clock_off_s(self, camera: str) -> float | None:
        """By how much the body's clock is ahead of the rig's, seconds; None where it does not tell. Raises NotFound."""
        opened = self._link(camera).opened
        if opened is None or opened.clock_s is None:
            return None
        return opened.clock_s - (self._clock.utc() - (self._clock.mono() - self._clock.from_wall(opened.clock_mono)))
