"""Shelter behind hedges and tree belts: bands by height, porosity and wind."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import ops
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import InputError
from canvas.base.grid import Floats
from canvas.base.sources import Mark, cites

#: Open wind left at 5, 10, 15, 20 and 30 heights behind, by density of the break (share of the
#: face that is solid); from memory of EC1763, so shown as unconfirmed.
_BEHIND = (0.0, 5.0, 10.0, 15.0, 20.0, 30.0)
_OPEN_WIND = (
    (0.30, (0.40, 0.50, 0.65, 0.80, 0.85, 1.00)),
    (0.50, (0.30, 0.30, 0.50, 0.60, 0.75, 0.95)),
    (0.70, (0.20, 0.25, 0.35, 0.65, 0.85, 0.95)),
    (1.00, (0.20, 0.25, 0.70, 0.90, 0.95, 1.00)),
)
MARK = Mark.REMEMBERED

#: Heights over which a break can be designed for, and traced, behind and before it.
DESIGN_H, TRACE_H, BEFORE_H = (10.0, 15.0), 30.0, (2.0, 5.0)
#: A break shorter than this many heights is mostly ends.
LEAST_LENGTH_H = 10.0
CAUTION = (
    "A dry belt upwind of a house is fuel: keep it outside the defensible space and where it can "
    "be watered. Keep roads at the ends: a gap makes a jet."
)


@cites("ec1763")
def open_wind(behind_h: float, density: float) -> float:
    """Return the share of the open wind left at a distance behind [in heights of the break].

    Between tabled densities and distances in straight lines; 1 beyond thirty heights.
    """
    if not 0 < density <= 1:
        raise InputError(f"a break's density lies between 0 and 1, got {density}")
    if behind_h > TRACE_H or behind_h < 0:
        return 1.0
    rows = [float(np.interp(behind_h, _BEHIND, values)) for _, values in _OPEN_WIND]
    densities = [d for d, _ in _OPEN_WIND]
    if density < densities[0]:
        # Thinner than the table: fading out to no break at all.
        return 1.0 - (1.0 - rows[0]) * density / densities[0]
    return float(np.interp(density, densities, rows))


@dataclass(frozen=True, slots=True)
class Band:
    """A strip of shelter."""

    #: Distance from the break in its heights; below nought is upwind.
    from_h: float
    to_h: float
    #: Share of the open wind left in its middle.
    wind: float
    shape: BaseGeometry


@dataclass(frozen=True, slots=True)
class Shelter:
    """What a break shelters from one wind."""

    bands: tuple[Band, ...]
    #: The strip to rely on: ten heights behind.
    design: BaseGeometry
    reach_m: float
    notes: tuple[str, ...]
    caution: str = CAUTION


#: Edges of the bands drawn, in heights.
EDGES_H = (0.0, 5.0, 10.0, 15.0, 20.0, 30.0)


@cites("ec1763", "nac_buffers")
def shelter(
    line: shapely.LineString, height_m: float, density: float, wind_from_deg: float
) -> Shelter:
    """Return the bands of shelter behind a break for a wind from a grid azimuth.

    Each stretch of the line casts its own band, straight downwind; where the wind meets the line
    at an angle the bands come out narrower (by its cosine, common practice). Ends lose about one
    height.
    """
    if not height_m > 0 or line.length <= 0:
        raise InputError("a windbreak needs a height and a length")
    a = math.radians(wind_from_deg + 180.0)
    away = np.array([math.sin(a), math.cos(a)])
    path = shapely.get_coordinates(_shorter(line, height_m))
    bands = []
    for low, high in itertools.pairwise(EDGES_H):
        bands.append(
            Band(
                low,
                high,
                open_wind((low + high) / 2, density),
                _strip(path, away, low * height_m, high * height_m),
            )
        )
    before = _strip(path, -away, 0.0, BEFORE_H[1] * height_m)
    bands.insert(0, Band(-BEFORE_H[1], 0.0, (1 + open_wind(0.0, density)) / 2, before))
    notes = ["Distances are read in the guides; wind shares are from memory, unconfirmed."]
    if line.length < LEAST_LENGTH_H * height_m:
        notes.append(
            f"Shorter than ten heights ({LEAST_LENGTH_H * height_m:.0f} m): wind comes round the "
            "ends."
        )
    if density > 0.8:
        notes.append("So dense a break throws eddies behind it; 40 to 60 % shelters further.")
    design = _strip(path, away, 0.0, DESIGN_H[0] * height_m)
    return Shelter(tuple(bands), design, DESIGN_H[0] * height_m, tuple(notes))


def _shorter(line: shapely.LineString, cut_m: float) -> shapely.LineString:
    """Return the line without `cut_m` at either end, or its middle third if it is short."""
    cut = min(cut_m, line.length / 3)
    middle = ops.substring(line, cut, line.length - cut)
    return middle if isinstance(middle, shapely.LineString) else line


def _strip(path: Floats, away: Floats, low_m: float, high_m: float) -> BaseGeometry:
    """Return the ground between two distances downwind of a line.

    Square to the line the strip is narrower by the cosine of the wind's angle to it; a wind
    along it finds no shelter.
    """
    parts = []
    for start, end in itertools.pairwise(path):
        run = end - start
        length = float(np.hypot(*run))
        if length == 0:
            continue
        straight = abs(float(run[0] * away[1] - run[1] * away[0])) / length
        if straight < 0.05:
            continue
        near, far = low_m * away, high_m * away
        parts.append(shapely.Polygon([start + near, end + near, end + far, start + far]))
    return shapely.union_all(parts) if parts else shapely.Polygon()


@cites("fao56")
def strip_kc(height_m: float, width_m: float, stomata: float = 1.0) -> float:
    """Return the crop coefficient of an isolated strip of trees (FAO-56 eq. 105): 2.5 at most."""
    return min(1.2 + stomata * height_m / width_m, 2.5)
