"""A small harbour that nobody will find on a map: headland, mole with its beacon, sheds on a quay, boats at rest."""

from __future__ import annotations

import math

import numpy as np

from controller.simulated.boats import dinghy, trawler, yacht
from controller.simulated.drawing import Canvas, Colour, Lamp, Waterline
from controller.simulated.paints import FALU, GREEN, LAMP, PAINT, ROCK, TAR, WARM, WHITE, WOOD

HORIZON = 670.0


def draw(canvas: Canvas, seed: int) -> None:
    """Everything, far things first."""
    rng = np.random.default_rng(seed)
    _far_shore(canvas, rng)
    _headland(canvas, rng)
    _mole(canvas, rng)
    _quay(canvas, rng)
    yacht(canvas, 768, 742, 0.46, PAINT)
    trawler(canvas)
    yacht(canvas, 400, 812, 1.0, (0.50, 0.52, 0.55))
    dinghy(canvas, 742, 866)
    _jetty(canvas, rng)


def _ridge(rng: np.random.Generator, left: float, right: float, step: float, rough: float) -> list[tuple[float, float]]:
    """A random outline, (x, height) with heights about 0."""
    xs = np.arange(left, right + step, step)
    waves = sum(
        rng.normal(0, rough / k) * np.sin(xs / (right - left + 1) * math.pi * 2 * k + rng.uniform(0, 6.3))
        for k in range(1, 24)
    )
    return [(float(x), float(h)) for x, h in zip(xs, np.asarray(waves), strict=True)]


def _far_shore(canvas: Canvas, rng: np.random.Generator) -> None:
    for base, opaque, colour in ((17, 0.45, (0.10, 0.11, 0.12)), (8, 0.7, (0.08, 0.09, 0.09))):
        top = [(x, HORIZON - max(2, base + h)) for x, h in _ridge(rng, -10, 1640, 9, 4.5)]
        canvas.polygon([(-10, HORIZON), *top, (1640, HORIZON)], colour, HORIZON, opaque)
    for light in (742.0, 1012.0, 1190.0):
        canvas.lamp(Lamp(light, HORIZON - 5, 1.6, 1.6, 2, LAMP, -3, HORIZON))


def _headland(canvas: Canvas, rng: np.random.Generator) -> None:
    shore = 674.0

    def height(x: float, tall: float, end: float) -> float:
        return tall * max(0.0, 1 - math.pow(max(x, 0) / end, 1.7))

    for tall, end, colour, opaque in ((118, 720, (0.055, 0.065, 0.06), 0.92), (92, 610, (0.045, 0.055, 0.04), 1.0)):
        rough = _ridge(rng, -10, end, 5, 4.0)
        top = [(x, shore - height(x, tall, end) - h * min(1, height(x, tall, end) / 40)) for x, h in rough]
        canvas.polygon([(-10, shore), *top, (end, shore)], colour, shore, opaque)
        for x in rng.uniform(-10, end * 0.82, 150):
            foot = shore - height(x, tall, end) + 7
            tree = rng.uniform(11, 25)
            spread = tree * rng.uniform(0.2, 0.34)
            points = [(x - spread, foot), (x - spread * 0.3, foot - tree * 0.7), (x, foot - tree), (x + spread, foot)]
            canvas.polygon(points, colour, shore, opaque)
    for x in np.arange(-5, 706, 13.0):
        high = rng.uniform(4, 12) * (1 if x < 620 else 0.7)
        wide = rng.uniform(11, 24)
        points = [
            (x, shore + 1),
            (x + wide * 0.2, shore - high),
            (x + wide * 0.7, shore - high * 0.8),
            (x + wide, shore + 1),
        ]
        shade = rng.uniform(0.6, 1.2)
        canvas.polygon(points, (ROCK[0] * shade, ROCK[1] * shade, ROCK[2] * shade), shore)
    houses = ((52, 628, 40, FALU), (120, 640, 34, (0.55, 0.42, 0.16)), (186, 632, 30, PAINT), (268, 648, 32, FALU))
    for x, foot, wide, colour in (*houses, (352, 652, 26, PAINT)):
        _cottage(canvas, x, foot, wide, colour, shore, rng)
    canvas.box(655, 640, 11, 31, PAINT, shore)
    canvas.polygon([(652, 641), (660.5, 632), (669, 641)], FALU, shore)
    canvas.lamp(Lamp(660.5, 645, 4, 4, 10, WHITE, -0.5, shore, blink_s=(8.0, 5.0)))


def _cottage(
    canvas: Canvas, x: float, foot: float, wide: float, colour: Colour, shore: float, rng: np.random.Generator
) -> None:
    tall = wide * 0.5
    canvas.box(x, foot - tall, wide, tall + 5, colour, shore)
    canvas.polygon([(x - 3, foot - tall), (x + 4, foot - tall * 1.75), (x + wide - 4, foot - tall * 1.75),
                    (x + wide + 3, foot - tall)], (0.06, 0.05, 0.05), shore)  # fmt: skip
    canvas.box(x + wide * 0.62, foot - tall * 2.05, 4, 7, (0.12, 0.08, 0.07), shore)
    for k in range(2):
        left = x + wide * (0.2 + 0.42 * k)
        canvas.box(left, foot - tall * 0.75, 5, 6, (0.05, 0.05, 0.06), shore)
        if rng.random() < 0.75:
            canvas.lamp(Lamp(left + 2.5, foot - tall * 0.75 + 3, 5, 6, 0.5, WARM, rng.uniform(-6, -1), shore))


def _mole(canvas: Canvas, rng: np.random.Generator) -> None:
    def water(x: float) -> float:
        return 677 + (x - 880) * 0.052

    def crest(x: float) -> float:
        return 655 - (x - 905) * 0.020

    canvas.polygon([(880, water(880)), (905, crest(905)), (1640, crest(1640)), (1640, water(1640))],
                   (0.10, 0.095, 0.09), water)  # fmt: skip
    for x in np.sort(rng.uniform(878, 1640, 520)):
        size = 4.5 + (x - 880) * 0.012
        y = rng.uniform(crest(max(x, 912)), water(x))
        points = [
            (x + size * math.cos(a) * rng.uniform(0.8, 1.4), y + size * 0.62 * math.sin(a) * rng.uniform(0.8, 1.2))
            for a in np.arange(0, 6.2, 1.05)
        ]
        points = [(px, min(py, water(px))) for px, py in points]
        shade = rng.uniform(0.35, 1.25)
        canvas.polygon(points, (ROCK[0] * shade, ROCK[1] * shade, ROCK[2] * shade), water)
    foot, top, middle = 657.0, 556.0, 938.0
    reflect = water(middle)
    plinth = [(middle - 21, foot + 4), (middle - 18, foot - 10), (middle + 18, foot - 10), (middle + 21, foot + 4)]
    canvas.polygon(plinth, ROCK, reflect)

    def half(y: float) -> float:
        return 8.5 + 5.0 * (y - top) / (foot - top)

    bands = ((foot - 8, foot - 40, PAINT), (foot - 40, foot - 66, FALU), (foot - 66, top, PAINT))
    for low, high, colour in bands:
        canvas.polygon([(middle - half(low), low), (middle - half(high), high), (middle + half(high), high),
                        (middle + half(low), low)], colour, reflect)  # fmt: skip
    canvas.box(middle - 13, top - 3, 26, 4, TAR, reflect)
    canvas.box(middle - 6.5, top - 19, 13, 16, (0.08, 0.09, 0.09), reflect)
    canvas.polygon([(middle - 9, top - 19), (middle, top - 30), (middle + 9, top - 19)], FALU, reflect)
    canvas.line([(middle, top - 29), (middle, top - 39)], 1.6, TAR, reflect)
    canvas.lamp(Lamp(middle, top - 11, 9, 9, 14, GREEN, 0.5, reflect, blink_s=(6.0, 2.0)))


def _quay(canvas: Canvas, rng: np.random.Generator) -> None:
    def water(x: float) -> float:
        return 752 + (x - 1150) * 0.215

    def edge(x: float) -> float:
        return water(x) - 27 - (x - 1150) * 0.024

    canvas.polygon([(1150, edge(1150)), (1178, 700), (1640, 700), (1640, edge(1640))], (0.15, 0.14, 0.13), water)
    sheds = (
        (1196, 96, 716, 70, 42, FALU),
        (1312, 128, 728, 84, 56, (0.33, 0.30, 0.25)),
        (1462, 190, 748, 112, 74, FALU),
    )
    for x, wide, foot, eaves, gable, colour in sheds:
        _shed(canvas, x, wide, foot, eaves, gable, colour, water(x + wide / 2), rng)
    canvas.polygon([(1150, edge(1150)), (1640, edge(1640)), (1640, water(1640)), (1150, water(1150))],
                   (0.115, 0.11, 0.10), water)  # fmt: skip
    canvas.line([(1150, edge(1150)), (1640, edge(1640))], 5, (0.20, 0.19, 0.175), water)
    for k in range(9):
        pile = 1162 + k * k * 5.5 + k * 10
        canvas.box(pile, edge(pile) + 6, 6 + k * 0.7, water(pile) - edge(pile) - 4, WOOD, water)
    for x, tall in ((1180, 96), (1442, 128)):
        _lamp_post(canvas, x, edge(x) - 6, tall, water(x))
    for x, y, wide in ((1250, 735, 17), (1269, 738, 15), (1256, 725, 14), (1560, 792, 26), (1589, 797, 24)):
        canvas.box(x, y, wide, wide * 0.62, (0.14, 0.10, 0.055), water)
        canvas.line([(x, y + wide * 0.31), (x + wide, y + wide * 0.31)], 1.5, TAR, water)
    for x in (1215, 1345, 1520):
        canvas.box(x, edge(x) - 13, 9, 13, TAR, water)
        canvas.box(x - 2, edge(x) - 15, 13, 4, TAR, water)


def _shed(
    canvas: Canvas, x: float, wide: float, foot: float, eaves: float, gable: float, colour: Colour, water: Waterline,
    rng: np.random.Generator,
) -> None:  # fmt: skip
    reflect = water if isinstance(water, float) else HORIZON
    top = foot - eaves
    canvas.polygon([(x, foot), (x, top), (x + wide / 2, top - gable), (x + wide, top), (x + wide, foot)], colour, water)
    for plank in np.arange(x + 5, x + wide - 2, 6.5):
        rise = gable * (1 - abs(plank - x - wide / 2) / (wide / 2))
        shade = rng.uniform(0.72, 0.95)
        tint = (colour[0] * shade, colour[1] * shade, colour[2] * shade)
        canvas.line([(plank, foot), (plank, top - rise + 3)], 1.4, tint, water)
    for side in (-1, 1):
        far = x + wide / 2 + side * (wide / 2 + 8)
        roof = [(x + wide / 2, top - gable - 7), (far, top + 3), (far, top + 9), (x + wide / 2, top - gable + 2)]
        canvas.polygon(roof, (0.045, 0.043, 0.045), water)
        canvas.box(x + (wide - 4 if side > 0 else 0), top + 3, 4, eaves - 3, PAINT, water)
    door = wide * 0.32
    canvas.box(x + wide * 0.12, foot - eaves * 0.66, door, eaves * 0.66, (0.035, 0.035, 0.04), water)
    canvas.line(
        [(x + wide * 0.12 + door / 2, foot), (x + wide * 0.12 + door / 2, foot - eaves * 0.66)], 1.5, colour, water
    )
    for left, up, size in ((0.60, 0.62, 0.13), (0.78, 0.62, 0.13), (0.46, 1.18, 0.10)):
        w = wide * size
        wx, wy = x + wide * left, foot - eaves * up
        canvas.box(wx - 2, wy - 2, w + 4, w * 1.15 + 4, PAINT, water)
        canvas.box(wx, wy, w, w * 1.15, (0.045, 0.05, 0.06), water)
        if rng.random() < 0.62:
            lit_below = rng.uniform(-8, -1.5)
            for k in range(2):
                pane = Lamp(
                    wx + w * (0.24 + 0.52 * k), wy + w * 0.57, w * 0.42, w * 1.05, 0.35, WARM, lit_below, reflect
                )
                canvas.lamp(pane)


def _lamp_post(canvas: Canvas, x: float, foot: float, tall: float, water: float) -> None:
    canvas.line([(x, foot), (x, foot - tall)], 3.2, TAR, water)
    canvas.line([(x, foot - tall), (x + 17, foot - tall - 5)], 2.4, TAR, water)
    canvas.polygon([(x + 10, foot - tall - 2), (x + 15, foot - tall - 8), (x + 21, foot - tall - 8),
                    (x + 26, foot - tall - 2)], TAR, water)  # fmt: skip
    canvas.lamp(Lamp(x + 18, foot - tall, 9, 4, 2.5, LAMP, -2.5, water))
    canvas.lamp(Lamp(x + 18, foot - tall * 0.10, tall * 0.75, 13, 0.012, LAMP, -2.5, soft=True))
    canvas.lamp(Lamp(x + 18, foot - tall * 0.55, tall * 0.55, tall * 0.5, 0.0035, LAMP, -2.5, soft=True))


def _jetty(canvas: Canvas, rng: np.random.Generator) -> None:
    deck = [(-20.0, 1012.0), (395.0, 962.0), (520.0, 1090.0), (-20.0, 1090.0)]
    for px, py, tall, wide in ((372, 1010, 92, 26), (96, 1040, 104, 32)):
        _post(canvas, px, py, tall, wide)
    canvas.polygon([(-20, 1012), (395, 962), (412, 979), (-20, 1034)], (0.04, 0.034, 0.03), 1040.0)
    canvas.polygon(deck, (0.105, 0.09, 0.075))
    for k in range(26):
        t = k / 25
        left = (-20 + 415 * t, 1012 - 50 * t)
        right = (-90 + 640 * t, 1092)
        canvas.line([left, right], 2.0, (0.04, 0.034, 0.03))
        if k % 3 == 0 and k < 25:
            u = (k + 1) / 25
            shade = rng.uniform(0.7, 1.3)
            plank = [left, (-20 + 415 * u, 1012 - 50 * u), (-90 + 640 * u, 1092), right]
            canvas.polygon(plank, (0.095 * shade, 0.08 * shade, 0.066 * shade))
    canvas.line([(-20, 1014), (395, 964)], 6, (0.15, 0.13, 0.11))
    for px, py, tall, wide in ((462, 1074, 132, 34),):
        _post(canvas, px, py, tall, wide)
    rope = [(462 - 84 * t, 960 - 24 * t + 46 * math.sin(math.pi * t)) for t in np.linspace(0, 1, 14)]
    canvas.line(rope, 4, (0.22, 0.19, 0.13))


def _post(canvas: Canvas, x: float, foot: float, tall: float, wide: float) -> None:
    canvas.box(x - wide / 2, foot - tall, wide, tall + 30, WOOD, foot)
    canvas.box(x - wide / 2, foot - tall, wide * 0.28, tall + 30, (0.11, 0.09, 0.07), foot)
    canvas.polygon([(x - wide / 2, foot - tall), (x, foot - tall - wide * 0.28), (x + wide / 2, foot - tall)],
                   (0.14, 0.12, 0.10), foot)  # fmt: skip
    for y in (foot - tall * 0.72, foot - tall * 0.66):
        canvas.line([(x - wide / 2, y), (x + wide / 2, y + 2)], 4, (0.22, 0.19, 0.13), foot)
