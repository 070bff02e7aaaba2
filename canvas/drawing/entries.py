"""The drawing list: what every picture is made of, on screen, in PDF and in PNG alike.

Coordinates are metres of the site's CRS (or, on a sheet's furniture, millimetres of paper with y
up); widths and letter heights are always millimetres on paper. Colours are roles, resolved by a
palette when painted, so light, dark and paper differ in ink only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from canvas.base.grid import Bounds

#: (n, 2) float64 coordinates.
Path = NDArray[np.float64]


class Cap(StrEnum):
    """How a line ends."""

    FLAT = "flat"
    ROUND = "round"


class Hatch(StrEnum):
    """How an area is filled so that meaning does not rest on colour."""

    NONE = "none"
    SOLID = "solid"
    #: Parallel lines; see `Fill.angle_deg`, `Fill.gap_mm`.
    LINES = "lines"
    CROSS = "cross"
    DOTS = "dots"


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line's look."""

    role: str
    width_mm: float = 0.25
    #: Lengths on, off, on … [mm]; () for an unbroken line.
    dash_mm: tuple[float, ...] = ()
    alpha: float = 1.0
    cap: Cap = Cap.ROUND


@dataclass(frozen=True, slots=True)
class Fill:
    """An area's look."""

    role: str
    hatch: Hatch = Hatch.SOLID
    alpha: float = 1.0
    angle_deg: float = 45.0
    gap_mm: float = 2.0
    line_mm: float = 0.18


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Polylines that look alike."""

    paths: Sequence[Path]
    stroke: Stroke
    #: Identities of the elements they come from; () for furniture and terrain.
    ids: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Areas:
    """Polygons that look alike: each a sequence of rings, the outer one first."""

    polygons: Sequence[Sequence[Path]]
    fill: Fill | None = None
    stroke: Stroke | None = None
    ids: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Stamps:
    """Many symbols of one design, so that 20 000 plants are one entry.

    `xy` (n, 2); `size` (n,) in metres on the ground when `on_ground`, else millimetres on paper;
    `turn_deg` (n,) clockwise from grid north.
    """

    symbol: str
    xy: Path
    size: NDArray[np.float64]
    turn_deg: NDArray[np.float64] | None = None
    on_ground: bool = True
    #: What the design's areas and its lines are drawn with.
    fill: Fill | None = None
    stroke: Stroke | None = None
    ids: tuple[str, ...] = ()


class Anchor(StrEnum):
    """Which point of the text stands on its coordinates."""

    LEFT = "left"
    CENTRE = "centre"
    RIGHT = "right"


@dataclass(frozen=True, slots=True)
class Text:
    """One line of writing."""

    x: float
    y: float
    words: str
    #: Height of a capital letter.
    size_mm: float
    role: str = "ink"
    anchor: Anchor = Anchor.CENTRE
    #: Degrees clockwise from reading level.
    turn_deg: float = 0.0
    bold: bool = False
    italic: bool = False
    #: Role of the halo that keeps it readable over anything; "" for none.
    halo: str = ""
    #: What stands on y: "middle" of a capital, or "base" line.
    stand: str = "middle"
    ids: tuple[str, ...] = ()
    #: Larger wins where labels would collide.
    weight: float = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Image:
    """A picture laid on the map: (rows, cols, 4) uint8 RGBA, row 0 north."""

    rgba: NDArray[np.uint8]
    bounds: Bounds
    opacity: float = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Raster:
    """A georeferenced image file of ours, read as finely as it is painted."""

    file: str
    #: What to show of it; infinite for all there is.
    bounds: Bounds
    opacity: float = 1.0
    #: Painted without colour, for black-and-white printers.
    grey: bool = False


Entry = Lines | Areas | Stamps | Text | Image | Raster


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """Entries painted together, switched and faded together."""

    key: str
    label: str
    entries: tuple[Entry, ...]
    opacity: float = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """A map on a sheet: map metres to paper millimetres, clipped to its rectangle.

    Paper x = left + width / 2 + (x - centre_x) * 1000 / scale, y likewise from the bottom, y up.
    """

    left_mm: float
    bottom_mm: float
    width_mm: float
    height_mm: float
    centre_x: float
    centre_y: float
    #: The number after "1:".
    scale: float
    layers: tuple[Layer, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Page:
    """One sheet of paper: map frames beneath, furniture in millimetres over them."""

    width_mm: float
    height_mm: float
    frames: tuple[Frame, ...] = ()
    furniture: tuple[Entry, ...] = field(default=())
    title: str = ""
    #: What whoever prints it is to be told: land beyond the sheet, pictures that could not be read.
    notes: tuple[str, ...] = ()
