"""Pictures that are less sharp than they used to be in such light: rain, dew, frost or dirt before the lens."""

from __future__ import annotations

from statistics import median

from controller.decide.health.facts import CameraSeen, Readings, Sign, of_shoots, says

NAME = "blurred"
IN_A_ROW = 12
MUCH, LITTLE = 0.4, 0.7
"""Of the usual sharpness, below which it is raised and above which it is cleared; tests/decide/health/test_blurred.py
tells what that is in pixels of a preview."""


def blurred(now: Readings) -> list[Sign]:
    """Against the camera's own pictures on earlier days with the sun where it is now; without such days nothing is
    said. Fog and snow blur as well, and a lens that is out of focus since the shoot's beginning is what is usual."""
    return of_shoots(now, NAME, _blurred)


def _blurred(camera: CameraSeen) -> Sign | None:
    if len(camera.pictures) < IN_A_ROW or not camera.usual:
        return None
    share = median(p.sharpness for p in camera.pictures[-IN_A_ROW:]) / camera.usual
    what = f"Pictures have {share * 100:.0f} % of the sharpness that is usual in this light"
    remedy = "Look for rain, dew, frost or dirt on the window and the lens, and at the focus; it may be fog"
    return Sign(NAME, says(share < MUCH, share > LITTLE), what, remedy, camera.id, 600.0, 600.0)
