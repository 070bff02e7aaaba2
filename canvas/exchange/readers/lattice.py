"""Where cells lie: edges, sizes and lattices of rasters in one CRS seen from another."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from canvas.base.errors import BadData
from canvas.base.grid import Bounds
from canvas.exchange.readers import crs

#: Columns and rows of a raster: (col0, row0, col1, row1).
Window = tuple[int, int, int, int]
#: Cells read beyond the stretch asked for, so that interpolation has neighbours.
MARGIN = 4


def on_ground(place: Any, cols: Any, rows: Any) -> Any:
    """Return x and y of columns and rows: the affine's product, for arrays, in any version."""
    x = place.a * cols + place.b * rows + place.c
    return x, place.d * cols + place.e * rows + place.f


def from_cell(place: Any, col: int, row: int) -> Any:
    """Return the affine of a raster cut to begin at a column and row."""
    x, y = on_ground(place, col, row)
    return type(place)(place.a, place.b, x, place.d, place.e, y)


def cell_size(place: Any, width: int, height: int, own: Any) -> float:
    """Return the shorter side of the middle cell [m], in the file's own units without a CRS."""
    if own is None:
        return min(math.hypot(place.a, place.d), math.hypot(place.b, place.e))
    from pyproj import Geod

    c, r = width / 2, height / 2
    x, y = on_ground(place, np.array([c, c + 1, c]), np.array([r, r, r + 1]))
    lon, lat = crs.way(own, "EPSG:4326").transform(x, y)
    if not np.isfinite([lon, lat]).all():
        return math.nan
    first, there = [0, 0], [1, 2]
    sides = Geod(ellps="WGS84").inv(lon[first], lat[first], lon[there], lat[there])[2]
    return float(sides.min())


def corners(place: Any, width: float, height: float) -> np.ndarray[Any, Any]:
    """Return points around the edge of a raster, (n, 2) in its own CRS, dense enough to bend."""
    t = np.linspace(0, 1, 21)
    nought, one = np.zeros_like(t), np.ones_like(t)
    cols = np.concatenate((t, one, t, nought)) * width
    rows = np.concatenate((nought, t, one, t)) * height
    x, y = on_ground(place, cols, rows)
    return np.column_stack((x, y))


def frame(west: float, south: float, east: float, north: float) -> Any:
    """Return the affine that lays a raster of one cell over bounds."""
    from rasterio import Affine

    return Affine(east - west, 0, west, 0, south - north, north)


def same(a: Any, b: Any) -> bool:
    """Whether two CRS are one, whatever their axis order."""
    return bool(a.equals(b, ignore_axis_order=True)) or crs.named(a) == crs.named(b)


def upright(place: Any) -> bool:
    """Whether cells are square and rows run from north to south."""
    size = abs(place.a)
    turned = max(abs(place.b), abs(place.d)) > 1e-7 * size
    return not turned and place.a > 0 and math.isclose(place.a, -place.e, rel_tol=1e-6)


def tidy_size(size: float) -> float:
    """Return a cell size near `size`: a round one within 3 %, else three digits."""
    power = 10.0 ** math.floor(math.log10(size))
    for digit in (1.0, 2.0, 2.5, 5.0, 10.0):
        if abs(size / (digit * power) - 1) < 0.03:
            return float(f"{digit * power:.6g}")
    return float(f"{size:.3g}")


def local_cell(place: Any, width: int, height: int, source: Any, target: Any) -> float:
    """Return the shorter side of the middle cell in the target CRS [m]."""
    c, r = width / 2, height / 2
    x, y = on_ground(place, np.array([c, c + 1, c]), np.array([r, r, r + 1]))
    x, y = brought(np.column_stack((x, y)), source, target).T
    sides = np.hypot(x[1:] - x[0], y[1:] - y[0])
    if not np.isfinite(sides).all() or not sides.min() > 0:
        raise BadData(
            f"it lies where {crs.named(target)} has no coordinates",
            remedy="Check the CRS of the file, and that it is of this site.",
        )
    return float(sides.min())


def elsewhere() -> BadData:
    """Return the complaint that a raster lies somewhere else."""
    return BadData(
        "it doesn't reach the site",
        remedy="Check its CRS, and that it is of this site.",
    )


def window(dataset: Any, place: Any, source: Any, target: Any, clip: Bounds | None) -> Window:
    """Return the cells of a raster needed for `clip` (bounds in the target CRS), with a margin."""
    if clip is None:
        return 0, 0, dataset.width, dataset.height
    edge = brought(corners(frame(*clip), 1, 1), target, source)
    cols, rows = on_ground(~place, edge[:, 0], edge[:, 1])
    if not (np.isfinite(cols).all() and np.isfinite(rows).all()):
        raise elsewhere()
    found = (
        max(int(np.floor(cols.min())) - MARGIN, 0),
        max(int(np.floor(rows.min())) - MARGIN, 0),
        min(int(np.ceil(cols.max())) + MARGIN, dataset.width),
        min(int(np.ceil(rows.max())) + MARGIN, dataset.height),
    )
    if found[0] >= found[2] or found[1] >= found[3]:
        raise elsewhere()
    return found


def lattice(
    place: Any, shape: tuple[int, int], source: Any, target: Any, clip: Bounds | None, size: float
) -> tuple[float, float, int, int]:
    """Return (west, north, columns, rows) of the target's cells that hold a raster, clipped.

    Edges lie on whole cells, so that neighbouring files share one lattice.
    """
    edge = brought(corners(place, shape[1], shape[0]), source, target)
    (west, south), (east, north) = edge.min(axis=0), edge.max(axis=0)
    if clip is not None:
        west, south = max(west, clip[0]), max(south, clip[1])
        east, north = min(east, clip[2]), min(north, clip[3])
    if not (np.isfinite([west, south, east, north]).all() and west < east and south < north):
        raise elsewhere()
    west, north = np.floor(west / size + 1e-6) * size, np.ceil(north / size - 1e-6) * size
    cols = max(int(np.ceil((east - west) / size - 1e-6)), 1)
    rows = max(int(np.ceil((north - south) / size - 1e-6)), 1)
    return float(west), float(north), cols, rows


def brought(points: Any, source: Any, target: Any) -> Any:
    """Return points (n, 2) in another CRS."""
    if same(source, target):
        return points
    return np.column_stack(crs.way(source, target).transform(points[:, 0], points[:, 1]))
