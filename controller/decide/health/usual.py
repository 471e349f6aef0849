"""How sharp a camera's pictures usually are, by the height of the sun: what `blurred` compares with.

Like is compared with like: a scene by lamplight or with long shadows has another sharpness than by noon. So pictures
are kept apart by the sun's altitude in steps of BAND_DEG, rising and setting apart; of each day and band one number is
kept, its median.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from statistics import median

from controller.decide.health.pictures import Look

BAND_DEG = 3.0
_HIGHEST, _LOWEST = 10, -7  # bands: from 30° on, and from −18° down, it matters no more
DAYS_KEPT, DAYS_WANTED = 14, 2
_A_DAY = 6  # pictures in a band that make a day's number
_MOST = 60


def band(altitude_deg: float, rising: bool) -> str:
    """The name of a band, such as '-2 setting'."""
    step = max(_LOWEST, min(_HIGHEST, int(altitude_deg // BAND_DEG)))
    return f"{step} {'rising' if rising else 'setting'}"


@dataclass
class Usual:
    """Of one camera in one shoot: `days` holds for each band the medians of the last days, the newest last."""

    days: dict[str, list[float]] = field(default_factory=dict)
    _band: str = ""
    _now: list[float] = field(default_factory=list)

    @classmethod
    def from_document(cls, document: Mapping[str, list[float]]) -> Usual:
        """As `days` was written down."""
        return cls({str(name): [float(value) for value in values][-DAYS_KEPT:] for name, values in document.items()})

    def take(self, look: Look, blurred: bool) -> bool:
        """One more picture, while `blurred` stands or not; whether a day's number was added.

        What is blurred must not become what is usual.
        """
        name, added = band(look.sun_altitude_deg, look.rising), False
        if name != self._band:
            if len(self._now) >= _A_DAY:
                self.days[self._band] = [*self.days.get(self._band, []), median(self._now)][-DAYS_KEPT:]
                added = True
            self._band, self._now = name, []
        if not blurred:
            self._now = [*self._now, look.sharpness][-_MOST:]
        return added

    def of(self, look: Look) -> float | None:
        """What is usual where the sun stands as it does in this picture; None without some days to tell."""
        days = self.days.get(band(look.sun_altitude_deg, look.rising), [])
        return median(days) if len(days) >= DAYS_WANTED else None
