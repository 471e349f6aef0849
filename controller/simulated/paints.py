"""The colours of the harbour: lamps as light, the rest as albedo by colour."""

from __future__ import annotations

from controller.simulated.drawing import Colour

WARM: Colour = (1.7, 0.88, 0.30)
LAMP: Colour = (1.5, 0.93, 0.48)
GREEN: Colour = (0.25, 1.25, 0.75)
WHITE: Colour = (1.0, 1.0, 0.95)
ROCK: Colour = (0.17, 0.155, 0.14)
WOOD: Colour = (0.075, 0.06, 0.05)
FALU: Colour = (0.26, 0.05, 0.035)
PAINT: Colour = (0.62, 0.61, 0.57)
TAR: Colour = (0.025, 0.025, 0.028)
