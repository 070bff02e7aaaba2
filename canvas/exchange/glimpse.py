"""A raster at a glance before it is brought in: a small picture, and how it lies to the site."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from canvas.base.grid import Bounds
from canvas.base.progress import Progress, silent
from canvas.exchange import child

#: Longer side of the picture.
MOST_PX = 640
LIMITS = child.Limits(seconds=120)


@dataclass(frozen=True, slots=True, eq=False)
class Glimpse:
    """A small picture of a raster, or of its stretch about the site."""

    #: RGBA, shape (rows, columns, 4); None where it is too large to be looked at in passing.
    rgba: NDArray[np.uint8] | None
    #: Its NW, NE, SE and SW corner in the site's CRS [m]; None while nobody knows where it lies.
    corners: tuple[tuple[float, float], ...] | None

    def lies(self, outline: BaseGeometry) -> tuple[float, float] | None:
        """Return the share of an outline it covers, 0 to 1, and how far off it lies [m]."""
        if self.corners is None or outline.is_empty:
            return None
        sheet = Polygon(self.corners).buffer(0)
        share = sheet.intersection(outline).area / outline.area if outline.area else 0.0
        return float(share), float(sheet.distance(outline))


def glimpse_raster(
    path: Path,
    *,
    target_crs: str,
    file_crs: str = "",
    heights: bool = False,
    around: Bounds | None = None,
    most_px: int = MOST_PX,
    progress: Progress = silent,
) -> Glimpse:
    """Return a foreign raster made small; heights are shown as a relief.

    Parameters
    ----------
    target_crs, file_crs : str
        The site's CRS, and the file's where the file doesn't say.
    around : Bounds, optional
        Only this stretch of the site's CRS [m], where the raster comes near it.

    Raises
    ------
    BadData
        The file can't be read.
    Cancelled
        `progress` raised it.
    """
    child.check_file(path)
    arguments: dict[str, Any] = {
        "path": str(path.resolve()),
        "target_crs": target_crs,
        "file_crs": file_crs,
        "heights": heights,
        "around": around,
        "most_px": most_px,
    }
    job = child.run("glimpse", arguments, where=path.name, limits=LIMITS, progress=progress)
    with job as answer:
        data = answer.data
        rows, cols = int(data["height"]), int(data["width"])
        rgba = None
        if rows and cols:
            raw = np.frombuffer((answer.folder / "pixels.bin").read_bytes(), np.uint8)
            rgba = raw.reshape(rows, cols, 4)
    spots = data["corners"]
    return Glimpse(rgba, tuple((float(x), float(y)) for x, y in spots) if spots else None)
