"""Work that takes a while, or may never end: in processes of their own, behind everything else.

A rig that shoots has no time to lose with it, and its memory is given back.
"""

from controller.aside.forecast import forecast_aside
from controller.aside.process import FORECAST_S, MESSAGE_S, REHEARSAL_S, Aside
from controller.aside.rehearsal import RehearsalAnswer, RehearsalWanted, rehearse_aside

__all__ = [
    "FORECAST_S",
    "MESSAGE_S",
    "REHEARSAL_S",
    "Aside",
    "RehearsalAnswer",
    "RehearsalWanted",
    "forecast_aside",
    "rehearse_aside",
]
