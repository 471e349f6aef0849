"""The plan document: what to shoot. It never touches hardware. Reference: docs/plan.md."""

from controller.decide.plan.document import MODELS, Plan, plan_from, read_plan, read_toml
from controller.decide.plan.light import FixedLight, FollowLight, LightRule, MeterRegion
from controller.decide.plan.pace import ByLight, ByPulse, BySun, Pace, Steady, Timed
from controller.decide.plan.tables import LONGEST_S, Cameras, Clip, Files, Optics, Power, Site, Table, View
from controller.decide.plan.when import DAYS, Day, Span, When

__all__ = [
    "DAYS",
    "LONGEST_S",
    "MODELS",
    "ByLight",
    "ByPulse",
    "BySun",
    "Cameras",
    "Clip",
    "Day",
    "Files",
    "FixedLight",
    "FollowLight",
    "LightRule",
    "MeterRegion",
    "Optics",
    "Pace",
    "Plan",
    "Power",
    "Site",
    "Span",
    "Steady",
    "Table",
    "Timed",
    "View",
    "When",
    "plan_from",
    "read_plan",
    "read_toml",
]
