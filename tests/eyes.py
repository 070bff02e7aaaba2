"""How colours are seen: contrast after WCAG 2.2, CIELAB, and the common colour-vision deficiencies.

Deficiencies: the matrices of Machado, Oliveira & Fernandes (2009), severity 1.0, applied to linear
light; figures from memory of the paper's table.
"""

from __future__ import annotations

import numpy as np

MACHADO = {
    "protan": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deutan": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritan": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}
#: sRGB to XYZ, D65 (IEC 61966-2-1).
TO_XYZ = np.array(
    [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
)


def linear(colour: str) -> np.ndarray:
    """Return linear light of "#rrggbb" (IEC 61966-2-1)."""
    v = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def contrast(a: str, b: str) -> float:
    """Return the contrast ratio of two colours (WCAG 2.2)."""
    y = sorted(float(linear(c) @ [0.2126, 0.7152, 0.0722]) for c in (a, b))
    return (y[1] + 0.05) / (y[0] + 0.05)


def seen_by(colour: str, vision: str) -> np.ndarray:
    """Return CIELAB of a colour as an eye sees it; vision "all" lacks nothing."""
    light = linear(colour)
    if vision != "all":
        light = np.clip(np.array(MACHADO[vision]) @ light, 0, 1)
    xyz = TO_XYZ @ light / [0.95047, 1.0, 1.08883]
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def difference(a: np.ndarray, b: np.ndarray) -> float:
    """Return the CIE76 colour difference."""
    return float(np.linalg.norm(a - b))
