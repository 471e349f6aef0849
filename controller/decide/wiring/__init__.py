"""What hangs on the rig's pins, and what is decided of it. Pure. Reference: docs/wiring.md."""

from controller.decide.wiring.document import DewHeater, Motion, Trigger, WiredRelease, Wiring, read_wiring

__all__ = ["DewHeater", "Motion", "Trigger", "WiredRelease", "Wiring", "read_wiring"]
