"""Inks by role. Light, dark, paper and mono differ in ink only, never in what is drawn.

Our own choice of colours after general cartographic habit: water blue, heights earth brown,
plants green by stature, ways warm grey, structures brick. One hue, `warning`, means danger or a
failing check and nothing else. No meaning rests on a colour alone.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

#: Roles read as writing: at least 4.5:1 against the paper (WCAG 2.2, 1.4.3).
TEXT_ROLES = (
    "ink", "ink_soft", "boundary", "survey", "zone_text", "brick", "water", "leaf", "way_text",
    "contour_text", "service", "septic", "easement", "dimension", "note", "warning", "fire",
    "bed_text", "earth",
)  # fmt: skip

#: Roles of lines and marks that must be seen: at least 3:1 against the paper (WCAG 1.4.11).
LINE_ROLES = (
    "ink", "ink_soft", "boundary", "parcel", "survey", "brick", "water", "leaf", "hedge",
    "way_edge", "fence", "service", "septic", "easement", "dimension", "warning", "fire",
    "contour_index", "select", "guide", "earth",
)  # fmt: skip

_PAPER = {
    "paper": "#ffffff",
    "desk": "#e9e7e2",
    "ink": "#1d1c1a",
    "ink_soft": "#5c5954",
    "rule": "#b9b4ab",
    "table": "#efece6",
    "halo": "#ffffff",
    "boundary": "#2b2140",
    "parcel": "#6f677d",
    "easement": "#6a5a8c",
    "survey": "#2b2140",
    "zone_text": "#4e4a3c",
    "zone_line": "#8d8672",
    "zone_0": "#f2c9a8",
    "zone_1": "#f5dfa6",
    "zone_2": "#dfe3a0",
    "zone_3": "#c0dca8",
    "zone_4": "#aed3c0",
    "zone_5": "#bccfd8",
    "zone_free": "#dccfe2",
    "way_edge": "#6e655b",
    "way_fill": "#e9e2d6",
    "way_sealed": "#cfc9c0",
    "way_text": "#5d544b",
    "brick": "#8a3521",
    "brick_fill": "#d99a83",
    "fence": "#57503f",
    "water": "#1a5f93",
    "water_fill": "#c3def0",
    "water_deep": "#9cc5e2",
    "septic": "#6b4a2f",
    "septic_fill": "#e6d9c8",
    "service": "#3f4a78",
    "fire": "#7d5a10",
    "fire_fill": "#efe0b4",
    "contour": "#b58d62",
    "contour_index": "#8f6536",
    "contour_text": "#7d5528",
    "grass": "#e3edc6",
    "scrub": "#cbdba2",
    "woodland": "#a9cb8e",
    "forest": "#86b475",
    "reeds": "#bcdccb",
    "crop": "#e9e3a9",
    "bare": "#e8e0d2",
    "tree_low": "#cfe3a4",
    "tree_mid": "#a5cf8a",
    "tree_high": "#78b078",
    "leaf": "#2d6833",
    "mature": "#71986c",
    "hedge": "#3f7a3a",
    "bed": "#8a5f3c",
    "bed_text": "#6f4826",
    "bed_fill": "#eadcbf",
    "earth": "#75420f",
    "earth_fill": "#ecdfcb",
    "dimension": "#33415c",
    "note": "#1d1c1a",
    "warning": "#d80060",
    "warning_fill": "#f8c3d6",
    "select": "#0b6fd6",
    "guide": "#4a6fa5",
}
_LIGHT = _PAPER | {"paper": "#faf8f3", "halo": "#fdfcf9", "table": "#efece4"}
_DARK = {
    "paper": "#1d2022",
    "desk": "#14171a",
    "ink": "#f0ede6",
    "ink_soft": "#b3aea4",
    "rule": "#4a4c4d",
    "table": "#2a2d2f",
    "halo": "#16191b",
    "boundary": "#e3d8ff",
    "parcel": "#a79fb8",
    "easement": "#bba8e6",
    "survey": "#e3d8ff",
    "zone_text": "#d9d2bb",
    "zone_line": "#8f886f",
    "zone_0": "#7a4f32",
    "zone_1": "#75612c",
    "zone_2": "#5f682b",
    "zone_3": "#42643a",
    "zone_4": "#2f5c4b",
    "zone_5": "#3c5360",
    "zone_free": "#57485f",
    "way_edge": "#a89d90",
    "way_fill": "#4d4841",
    "way_sealed": "#5f5a53",
    "way_text": "#cfc5b8",
    "brick": "#f0967a",
    "brick_fill": "#80402d",
    "fence": "#c0b69d",
    "water": "#7fc3f2",
    "water_fill": "#1d4560",
    "water_deep": "#285d80",
    "septic": "#d2ac87",
    "septic_fill": "#4a3b2e",
    "service": "#aab7ef",
    "fire": "#e3bd62",
    "fire_fill": "#4f4422",
    "contour": "#8f7350",
    "contour_index": "#c0986a",
    "contour_text": "#d9b485",
    "grass": "#333c26",
    "scrub": "#3f4b28",
    "woodland": "#35502f",
    "forest": "#2c4a2c",
    "reeds": "#2b483e",
    "crop": "#4b4826",
    "bare": "#433e36",
    "tree_low": "#59702f",
    "tree_mid": "#41703a",
    "tree_high": "#2f6240",
    "leaf": "#a6dc9a",
    "mature": "#6f9a6a",
    "hedge": "#8bcf7f",
    "bed": "#d9ab7f",
    "bed_text": "#e2b88d",
    "bed_fill": "#54432e",
    "earth": "#e0a867",
    "earth_fill": "#4a3d2b",
    "dimension": "#b4c6ea",
    "note": "#f0ede6",
    "warning": "#ff6fb5",
    "warning_fill": "#6b2149",
    "select": "#6db5ff",
    "guide": "#8fb0de",
}
#: For black-and-white printers: three greys and black; hatches, dashes and marks carry the rest.
_BLACK = (
    "ink", "boundary", "survey", "brick", "water", "leaf", "hedge", "service", "septic", "fence",
    "way_edge", "dimension", "note", "warning", "fire", "contour_text", "way_text", "zone_text",
    "easement", "select", "bed",
    "bed_text", "earth",
)  # fmt: skip
_GREY = ("ink_soft", "parcel", "contour_index", "mature", "zone_line", "guide")
_MIDDLE = ("rule", "contour", "brick_fill", "water_deep", "forest", "tree_high", "way_sealed")
_MONO = {
    role: (
        "#000000" if role in _BLACK
        else "#555555" if role in _GREY
        else "#a6a6a6" if role in _MIDDLE
        else "#ffffff" if role in ("paper", "desk", "halo", "way_fill")
        else "#ececec"
    )
    for role in _PAPER
}  # fmt: skip

PALETTES: Mapping[str, Mapping[str, str]] = {
    "light": _LIGHT,
    "dark": _DARK,
    "paper": _PAPER,
    "mono": _MONO,
}


def rgb(colour: str) -> tuple[int, int, int]:
    """Return red, green, blue 0–255 of "#rrggbb"."""
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def greyed(rgba: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return a picture (rows, cols, 4) without colour: luma of ITU-R BT.601, from memory."""
    luma = rgba[..., :3] @ np.array([0.299, 0.587, 0.114])
    made = rgba.copy()
    made[..., :3] = np.round(luma)[..., None]
    return made
