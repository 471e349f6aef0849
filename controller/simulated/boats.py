"""Boats at rest, each drawn about the middle of her waterline, in the canvas's units."""

from __future__ import annotations

from controller.simulated.drawing import Canvas, Colour, Lamp
from controller.simulated.paints import PAINT, TAR, WARM, WHITE, WOOD


def yacht(canvas: Canvas, x: float, water: float, s: float, hull: Colour) -> None:
    """A sloop at her mooring, bow to the left; `s` is her size."""

    def at(*points: tuple[float, float]) -> list[tuple[float, float]]:
        return [(x + px * s, water + py * s) for px, py in points]

    bow, stern = (-150, -50), (158, -40)
    canvas.polygon(at((-122, 2), (-138, -20), bow, (-40, -40), (60, -38), stern, (150, -8), (140, 2)), hull, water)
    canvas.polygon(at((-130, -9), (-127, -4), (146, -4), (148, -9)), (0.04, 0.06, 0.12), water)
    canvas.polygon(at((-122, 2), (-124, -3), (147, -3), (140, 2)), (0.16, 0.03, 0.025), water)
    canvas.polygon(at((-62, -41), (-48, -58), (52, -58), (78, -39)), (0.45, 0.44, 0.41), water)
    for k in range(4):
        canvas.polygon(
            at((-42 + 24 * k, -53), (-26 + 24 * k, -53), (-27 + 24 * k, -46), (-42 + 24 * k, -46)), TAR, water
        )
    top = (-22.0, -500.0)
    canvas.line(at((-22, -50), top), max(2.4 * s, 5.0 * s), (0.30, 0.29, 0.27), water)
    canvas.line(at((-22, -84), (128, -92)), 4.0 * s, (0.25, 0.24, 0.22), water)
    canvas.polygon(at((-20, -86), (-10, -101), (60, -104), (124, -99), (126, -91)), (0.36, 0.33, 0.27), water)
    for foot, width in ((bow, 1.3), (stern, 1.3), ((-30, -40), 1.0), ((-6, -40), 1.0)):
        canvas.line(at(foot, top), width * s + 0.3, (0.10, 0.10, 0.10), water)
    canvas.line(at((-46, -300), (2, -300)), 2.2 * s, (0.25, 0.24, 0.22), water)
    for px in (-140, -100, 90, 120, 152):
        canvas.line(at((px, -40), (px, -66)), 1.3 * s + 0.2, (0.3, 0.3, 0.3), water)
    canvas.line(at((-140, -66), (-100, -64)), 0.9 * s + 0.2, (0.3, 0.3, 0.3), water)
    canvas.line(at((90, -63), (152, -64)), 0.9 * s + 0.2, (0.3, 0.3, 0.3), water)
    if s > 0.8:
        canvas.lamp(Lamp(x - 22 * s, water - 503 * s, 3.4, 3.4, 3, WHITE, -3, water))
        canvas.lamp(Lamp(x + 14 * s, water - 49.5 * s, 15, 6, 0.3, WARM, -4, water))


def trawler(canvas: Canvas) -> None:
    x, water = 1010.0, 782.0

    def at(*points: tuple[float, float]) -> list[tuple[float, float]]:
        return [(x + px, water + py) for px, py in points]

    canvas.polygon(
        at((-96, 2), (-104, -34), (-20, -31), (52, -38), (122, -66), (108, -22), (92, 2)), (0.05, 0.085, 0.15), water
    )
    canvas.polygon(at((-105, -37), (-20, -34), (52, -41), (123, -70), (122, -64), (52, -35), (-20, -28), (-104, -31)),
                   PAINT, water)  # fmt: skip
    canvas.polygon(at((-97, 3), (-98, -4), (95, -4), (92, 3)), (0.2, 0.035, 0.025), water)
    canvas.polygon(at((-72, -33), (-72, -92), (-6, -94), (-2, -34)), (0.55, 0.53, 0.48), water)
    canvas.polygon(at((-78, -91), (-76, -99), (0, -101), (2, -93)), (0.32, 0.10, 0.05), water)
    for k in range(3):
        canvas.polygon(
            at((-66 + 21 * k, -84), (-52 + 21 * k, -84), (-52 + 21 * k, -69), (-66 + 21 * k, -69)), TAR, water
        )
    canvas.line(at((-38, -99), (-38, -176)), 4, WOOD, water)
    canvas.line(at((46, -40), (46, -190)), 4.5, WOOD, water)
    canvas.line(at((46, -62), (-16, -150)), 3, WOOD, water)
    canvas.line(at((46, -62), (104, -142)), 3, WOOD, water)
    for a, b in (
        ((46, -188), (121, -66)),
        ((46, -188), (-38, -174)),
        ((-38, -174), (-103, -35)),
        ((46, -186), (104, -142)),
    ):
        canvas.line(at(a, b), 1.2, TAR, water)
    canvas.polygon(at((-100, -34), (-100, -64), (-94, -64), (-94, -34)), WOOD, water)
    canvas.line(at((-100, -63), (-80, -63)), 3, WOOD, water)
    for k in range(5):
        px, py = 12 + 16 * k, -40 - 2.6 * k
        canvas.polygon(at((px, py), (px + 6, py + 6), (px + 12, py), (px + 6, py - 6)), (0.42, 0.13, 0.03), water)
    canvas.lamp(Lamp(x - 38, water - 178, 3.6, 3.6, 3, WHITE, -2, water))
    for k in range(3):
        canvas.lamp(Lamp(x - 59 + 21 * k, water - 76.5, 13, 14, 0.3, WARM, -3.5, water))


def dinghy(canvas: Canvas, x: float, water: float) -> None:
    points = [(x - 44, water - 15), (x - 30, water + 3), (x + 30, water + 3), (x + 42, water - 13), (x, water - 8)]
    canvas.polygon(points, (0.20, 0.12, 0.06), water)
    canvas.line([points[0], points[4], points[3]], 2.5, (0.32, 0.22, 0.12), water)
    canvas.line([(x - 12, water - 9), (x + 34, water - 26)], 2, (0.25, 0.18, 0.1), water)
