"""The broad shape of the hill, from spot heights set by hand and bent smoothly between them."""

from __future__ import annotations

import numpy as np
from scipy.interpolate import RBFInterpolator

from .frame import SEED, Floats
from .noise import octaves

# Local east, local north, level [m]. Water leaves by the east; the rim closes the other sides.
SPOTS = {
    "creek": (
        (-60, 75, 240.6), (20, 98, 238.9), (90, 108, 237.4), (150, 100, 236.0), (250, 85, 233.8),
        (360, 70, 231.5), (480, 55, 229.0),
    ),
    "south-west gully": ((-110, 20, 244.2), (-170, -60, 253.0), (-225, -140, 265.0)),
    "west gully": ((-130, 95, 243.0), (-220, 120, 249.0), (-320, 150, 259.0), (-385, 170, 267.0)),
    "rim": (
        (-160, -300, 285.0), (-260, -230, 280.0), (-345, -120, 277.0), (-395, 0, 275.0),
        (-410, 120, 275.0), (-380, 245, 277.5), (-250, 310, 272.0), (-120, 340, 267.5),
        (0, 345, 264.0), (120, 335, 260.0), (260, 310, 254.0), (400, 280, 246.0), (480, 270, 243.0),
    ),
    "spur": (
        (-110, -220, 276.5), (-60, -150, 269.0), (-25, -100, 263.6), (2, -55, 258.4),
        (26, -28, 255.8), (58, 12, 250.0), (88, 52, 243.8),
    ),
    "spur sides": ((-100, -90, 261.0), (-60, -30, 254.0), (-40, 30, 246.5), (60, -60, 254.5),
                   (110, -20, 248.0), (140, 40, 241.5), (70, -130, 260.5), (10, 40, 246.5)),
    "south rim": (
        (-40, -330, 277.5), (80, -340, 269.0), (200, -330, 261.0), (330, -300, 255.0),
        (480, -280, 248.0),
    ),
    "east swale": ((100, -200, 258.0), (180, -120, 249.8), (232, -30, 242.6), (272, 50, 236.0)),
    "north side": ((-180, 210, 257.0), (-60, 200, 249.5), (60, 210, 248.0), (180, 200, 244.0),
                   (300, 190, 241.0), (-60, 140, 243.5), (60, 150, 240.6)),
    "beyond": (
        (-160, -430, 272.0), (100, -430, 258.0), (300, -430, 248.0), (-490, -300, 262.0),
        (-490, 100, 263.0), (-490, 450, 262.0), (-100, 450, 255.0), (200, 450, 246.0),
        (490, 450, 236.0), (490, -430, 240.0), (400, -100, 243.0), (330, -200, 248.5),
    ),
}  # fmt: skip


def levels(points: Floats) -> Floats:
    """Return the broad level [m] at points (n, 2) [local m], roughened to start the water."""
    given = np.array([spot for group in SPOTS.values() for spot in group], dtype=float)
    bend = RBFInterpolator(given[:, :2], given[:, 2], kernel="thin_plate_spline", smoothing=2.0)
    u, v = points[:, 0], points[:, 1]
    # Warping the place where the noise is read keeps ridges from looking like waves.
    du = 22 * octaves(u, v, 140, SEED + 1, 3)
    dv = 22 * octaves(u, v, 140, SEED + 2, 3)
    hump = 1.0 - np.abs(octaves(u + du, v + dv, 110, SEED + 3, 4, 0.55))
    return np.asarray(bend(points) + 2.4 * (hump - 0.6) + 0.5 * octaves(u, v, 30, SEED + 4, 3))
