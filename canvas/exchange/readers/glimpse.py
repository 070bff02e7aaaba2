"""A raster at a glance: the stretch about the site made small, and where its corners lie."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from canvas.base.errors import BadData
from canvas.base.progress import Progress
from canvas.exchange.readers import crs, lattice, picture, raster

#: The light heights are shown in comes from the north-west, so high above the ground [degrees].
LIGHT_DEG = 45.0
#: Shade lies between these greys, so that a line drawn over it is seen.
DARKEST, BRIGHTEST = 70.0, 235.0


def glimpse_job(arguments: dict[str, Any], folder: Path, report: Progress) -> dict[str, Any]:
    """Write a small picture of a raster to `pixels.bin` as RGBA rows; answer where it lies."""
    from rasterio.windows import Window

    with raster.opened(Path(arguments["path"]), folder, report) as found:
        dataset = found.dataset
        window: lattice.Window = (0, 0, dataset.width, dataset.height)
        spots = None
        if found.place is not None and (found.crs is not None or arguments["file_crs"]):
            window, spots = _lying(found, arguments)
        wide, high = window[2] - window[0], window[3] - window[1]
        if wide * high > picture.MOST_PIXELS or np.dtype(dataset.dtypes[0]).kind == "c":
            return {"height": 0, "width": 0, "corners": spots}
        report(0.5, "Drawing it small")
        scale = max(max(wide, high) / arguments["most_px"], 1.0)
        shape = (max(int(high / scale), 1), max(int(wide / scale), 1))
        stretch = Window(window[0], window[1], wide, high)
        shown = _relief if arguments["heights"] else picture.colours
        pixels = shown(dataset, stretch, shape)
    (folder / "pixels.bin").write_bytes(np.ascontiguousarray(pixels, np.uint8).tobytes())
    return {"height": shape[0], "width": shape[1], "corners": spots}


def _lying(
    found: raster.Opened, arguments: dict[str, Any]
) -> tuple[lattice.Window, list[list[float]] | None]:
    """Return the window to show and its NW, NE, SE and SW corner in the site's CRS [m].

    The whole raster where it doesn't come near the site; no corners where they have no place there.
    """
    place, source = raster.located(found, arguments["file_crs"])
    target = crs.understood(arguments["target_crs"], what="the site's CRS")
    dataset, around = found.dataset, arguments["around"]
    window: lattice.Window = (0, 0, dataset.width, dataset.height)
    if around is not None:
        # What lies elsewhere is shown whole: so it is seen to.
        with contextlib.suppress(BadData):
            window = lattice.window(dataset, place, source, target, tuple(around))
    west, north, east, south = window
    x, y = lattice.on_ground(
        place, np.array([west, east, east, west]), np.array([north, north, south, south])
    )
    spots = lattice.brought(np.column_stack((x, y)).astype(np.float64), source, target)
    return window, spots.tolist() if np.isfinite(spots).all() else None


def _relief(dataset: Any, window: Any, shape: tuple[int, int]) -> NDArray[np.uint8]:
    """Return heights as a relief lit from the north-west: to be recognised, not measured."""
    from rasterio.enums import Resampling

    # Single cells picked out would show a lattice that isn't there.
    how = {"window": window, "out_shape": shape, "resampling": Resampling.average}
    z = dataset.read(1, masked=True, out_dtype=np.float64, **how).filled(np.nan)
    out = np.zeros((*shape, 4), np.uint8)
    known = np.isfinite(z)
    if min(shape) < 2 or not known.any():
        return out
    down, right = np.gradient(z)
    steep = np.hypot(right, down)
    usual = float(np.nanpercentile(steep, 90)) if np.isfinite(steep).any() else 0.0
    # Exaggerated until the steeper tenth of it stands at half a right angle.
    k = 1.0 / usual if usual > 0 else 0.0
    light = np.sin(np.radians(LIGHT_DEG)), np.cos(np.radians(LIGHT_DEG)) / np.sqrt(2)
    with np.errstate(invalid="ignore"):
        share = (light[0] + k * light[1] * (right + down)) / np.sqrt(1 + (k * steep) ** 2)
    grey = DARKEST + np.clip(share, 0, 1) * (BRIGHTEST - DARKEST)
    out[..., :3] = np.where(np.isfinite(grey), grey, (DARKEST + BRIGHTEST) / 2)[..., None]
    out[..., 3] = np.where(known, 255, 0)
    return out
