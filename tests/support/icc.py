"""Colour profiles for tests, written to ICC.1:2001-04 (version 2.4): three primaries, white, and a curve.

Structure and tags from memory of the specification; littleCMS reads them, and refuses what is wrong.
"""

from __future__ import annotations

import struct

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
D50 = np.array([0.9642, 1.0, 0.8249])  # the profile connection space's white
D65 = (0.3127, 0.3290)  # x, y
# Bradford's cone responses, by which profiles of version 2 and 4 adapt white
_BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])

SRGB = ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060))  # IEC 61966-2-1
ADOBE_RGB = ((0.640, 0.330), (0.210, 0.710), (0.150, 0.060))  # Adobe RGB (1998) Color Image Encoding, 4.2.1
DISPLAY_P3 = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))  # SMPTE EG 432-1, with the white D65

Primaries = tuple[tuple[float, float], tuple[float, float], tuple[float, float]]


def to_xyz(primaries: Primaries) -> Floats:
    """The matrix from linear RGB to CIE XYZ, white D65 with Y = 1 (SMPTE RP 177)."""
    columns = np.array([[x / y, 1.0, (1 - x - y) / y] for x, y in primaries]).T
    white = np.array([D65[0] / D65[1], 1.0, (1 - sum(D65)) / D65[1]])
    return np.asarray(columns * np.linalg.solve(columns, white))


def profile(primaries: Primaries, curve: float | Floats, space: bytes = b"RGB ") -> bytes:
    """A display profile; `curve` is a gamma, or linear light for evenly spaced codes."""
    matrix = to_xyz(primaries)
    cones = (_BRADFORD @ D50) / (_BRADFORD @ matrix.sum(axis=1))
    adapted = np.linalg.inv(_BRADFORD) @ np.diag(cones) @ _BRADFORD @ matrix
    if isinstance(curve, float):
        tone = b"curv" + bytes(4) + struct.pack(">IH", 1, round(curve * 256))
    else:
        points = np.round(65535 * curve).astype(">u2")
        tone = b"curv" + bytes(4) + struct.pack(">I", points.size) + points.tobytes()
    text = b"invented for tests"
    said = b"desc" + bytes(4) + struct.pack(">I", len(text) + 1) + text + bytes(1 + 4 + 4 + 2 + 1 + 67)
    tags = {b"desc": said, b"cprt": b"text" + bytes(4) + text + b"\0", b"wtpt": _xyz(D50)}
    for number, letter in enumerate((b"r", b"g", b"b")):
        tags[letter + b"XYZ"] = _xyz(adapted[:, number])
        tags[letter + b"TRC"] = tone
    offset = 128 + 4 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    for name, content in tags.items():
        table += struct.pack(">4sII", name, offset + len(body), len(content))
        body += content + bytes(-len(content) % 4)
    head = bytearray(128)
    struct.pack_into(
        ">I4sI4s4s4s", head, 0, 128 + len(table) + len(body), bytes(4), 0x02400000, b"mntr", space, b"XYZ "
    )
    struct.pack_into(">6H4s", head, 24, 2026, 12, 1, 0, 0, 0, b"acsp")
    struct.pack_into(">3i", head, 68, *(round(65536 * value) for value in D50))
    return bytes(head) + table + body


def _xyz(values: Floats) -> bytes:
    return b"XYZ " + bytes(4) + struct.pack(">3i", *(round(65536 * float(value)) for value in values))
