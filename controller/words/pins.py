"""The way to the machine's pins: gpiozero, and lgpio beneath it, made to leave the process as it was."""

from __future__ import annotations

import os
import warnings
from pathlib import Path
from typing import Any


def gpiozero_with_pins(directory: Path) -> Any:
    """gpiozero, its way to the pins found; raises whatever it raises, of many kinds.

    lgpio 0.2 makes a pipe in its working directory when it is loaded, cannot be loaded where that is read-only, as a
    service's is, and goes there with the whole process. `directory` is for that pipe: one for each process, since all
    give it the same name.
    """
    import gpiozero

    if gpiozero.Device.pin_factory is None:
        directory.mkdir(parents=True, exist_ok=True)
        os.environ["LG_WD"] = str(directory)
        here = Path.cwd()
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")  # of each way that is tried: the last one's error says enough
                gpiozero.Device.ensure_pin_factory()
        finally:
            os.chdir(here)
    return gpiozero
