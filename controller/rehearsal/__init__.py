"""Rehearsals: a plan run by the engine itself, on a virtual clock, with a model sky and a model camera."""

from controller.rehearsal.camera import CameraModel, Spread
from controller.rehearsal.cloud_table import read_table
from controller.rehearsal.rehearse import Rehearsal, rehearse_now
from controller.rehearsal.sky import View, flat, view_of
from controller.rehearsal.weather import Weather, clear, cloudy, from_table

__all__ = [
    "CameraModel",
    "Rehearsal",
    "Spread",
    "View",
    "Weather",
    "clear",
    "cloudy",
    "flat",
    "from_table",
    "read_table",
    "rehearse_now",
    "view_of",
]
