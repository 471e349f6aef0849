"""Two weeks of a site in two shoots, on real files: with a day of fog, and lamps at night. Invented."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from controller.decide.sun import position
from controller.store import Store
from controller.words.documents import Frame, FrameState, Shoot
from controller.words.layout import preview_path
from tests.results.dusk import shoot as shoot_of
from tests.results.scenes import DAY_EV, save, scene

SITE = {"latitude": 52.1, "longitude": 5.2, "timezone": "Europe/Amsterdam"}
FIRST, SECOND = "2026-12-01-hall", "2026-12-08-hall"
DAYS = {FIRST: range(1, 8), SECOND: range(8, 14)}
HOURS = (8, 11, 12, 22)  # local time is an hour ahead of UTC's
FOG_DAY = 5


def put(directory: Path, name: str) -> tuple[Shoot, list[Frame]]:
    """Three frames in each of some hours of each day, with previews; on one day fog, at night lamps."""
    frames = []
    for day in DAYS[name]:
        for hour in HOURS:
            for minute in (5, 20, 50):
                seq = len(frames) + 1
                utc = datetime(2026, 12, day, hour - 1, minute, tzinfo=UTC).timestamp()
                altitude, azimuth = position(SITE["latitude"], SITE["longitude"], utc)  # type: ignore[arg-type]
                frames.append(
                    Frame(
                        shoot=name,
                        seq=seq,
                        camera="camera-1",
                        due_utc=utc,
                        interval_s=900,
                        preview=True,
                        exposure_ev=1.0 if hour == 22 else DAY_EV,
                        state=FrameState.WRITTEN,
                        sun_altitude_deg=altitude,
                        sun_azimuth_deg=azimuth,
                    )
                )
                fog = 2.5 if day == FOG_DAY and hour >= 11 else 0.0
                light = scene(1000 * day + seq, lamps=hour == 22, fog=fog, blur=int(minute != 20))
                save(directory / preview_path(name, seq), light[::2, ::2] if hour == 22 else light)
    made = shoot_of(frames, id=name, created_utc=frames[0].due_utc, plan={"name": "hall", "site": SITE})
    return made, frames


async def log(store: Store, directory: Path) -> None:
    """Both shoots, with their pictures."""
    for name in DAYS:
        made, frames = put(directory, name)
        await store.add_shoot(made)
        await store.add_missed(frames)
