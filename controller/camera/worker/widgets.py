"""The names that libgphoto2 gives to a body's controls, in the order in which they are tried (libgphoto2 2.5.34, ptp2).

Makers differ: Nikon's `shutterspeed2` holds fractions where its `shutterspeed` is rounded to 0.1 ms, so it comes
first; Canon, Olympus and older Fujifilm bodies call the aperture `aperture`, the others `f-number`.
"""

from __future__ import annotations

NIKON_SHUTTER = "shutterspeed2"
SHUTTER = (NIKON_SHUTTER, "shutterspeed")
APERTURE = ("f-number", "aperture")
ISO = ("iso",)
BATTERY = ("batterylevel",)
SHOTS_LEFT = ("availableshots", "maximumshots")  # Canon EOS, Fujifilm; Nikon
SERIAL = ("serialnumber", "eosserialnumber")
MODEL = ("cameramodel",)
CLOCK = ("datetime", "datetimeutc")  # most; Canon EOS has both, and its files carry the first
STYLE = ("picturestyle", "filmsimulation")  # Canon EOS; Fujifilm

BUTTON = ("eosremoterelease",)
"""The release button of Canon EOS: its texts press it and let it go."""

BULB = ("bulb",)
"""Holds the shutter open: 1 opens, 0 closes. The shutter's own choice of that name has to be set first."""

LIVE_VIEW = ("viewfinder",)
"""Live view on the body's side, 1 on and 0 off: Canon, Nikon, Panasonic. Others end it with the last picture."""

TARGET = ("capturetarget",)
"""Where frames go. The library's default is the body's RAM, where a frame is lost if nobody fetches it."""

CARD = ("Memory card", "card")
"""What makers call the card among the choices of TARGET; Sony's third choice, card+sdram, would wait to be fetched."""

SETTINGS: dict[str, tuple[str, ...]] = {
    "shutter": SHUTTER,
    "aperture": APERTURE,
    "iso": ISO,
    "iso_auto": ("isoauto", "autoiso"),  # Nikon; the others have a choice of that name inside ISO
    "format": ("imageformat", "imagequality"),  # Canon EOS; Nikon, Sony, Fujifilm
    "target": TARGET,
    "focus": ("focusmode2", "focusmode", "afmode"),  # Nikon's finer list first; Panasonic
    "exposure_mode": ("autoexposuremode", "expprogram", "expmode"),  # Canon EOS; most; Panasonic
    "white_balance": ("whitebalance",),
    "drive": ("drivemode", "capturemode"),  # Canon EOS; most
    "noise_reduction": ("longexpnr",),  # Nikon
    "power_off": ("autopoweroff", "meterofftime", "lcdofftime"),  # Canon EOS; Nikon
    "battery": BATTERY,
    "shots_left": SHOTS_LEFT,
    "style": STYLE,
    "clock": CLOCK,  # the last one that is read, so that it is told at once
}
"""Every setting of `controller.words.settings.Setting`, by its name there, since the camera process stays small."""
