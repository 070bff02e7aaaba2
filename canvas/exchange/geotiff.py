"""Our own GeoTIFFs, read and written in process: heights, computed maps and background pictures.

Only files this program made are opened here; foreign ones go through a child process first
(`rasters`). A dataset is opened for each call, so any thread may call at any time; `OpenPicture`
alone stays open, and belongs to one thread.
"""

from __future__ import annotations

import contextlib
import math
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from canvas.base.errors import BadData, StoreTrouble
from canvas.base.grid import Bounds, Grid

Pixels = NDArray[np.uint8]

#: Cells per tile side: a multiple of 16, as TIFF asks.
TILE = 256


@contextlib.contextmanager
def _opened(path: Path) -> Iterator[Any]:
    """Open one of our GeoTIFFs; every failure of the library becomes `BadData`."""
    import rasterio

    _be_there(path)
    with _told(path), rasterio.open(path, driver="GTiff") as dataset:
        yield dataset


def _be_there(path: Path) -> None:
    if not path.is_file():
        raise BadData("the file is missing", where=path.name, remedy="Bring it in again.")


@contextlib.contextmanager
def _told(path: Path) -> Iterator[None]:
    from rasterio.errors import RasterioError

    try:
        yield
    except RasterioError as error:
        raise BadData(
            f"the file is damaged and could not be read ({error})",
            where=path.name,
            remedy="Bring it in again.",
        ) from error


def open_grid(path: Path) -> Grid:
    """Return the first band of one of our GeoTIFFs; NaN where it holds no data.

    Raises
    ------
    BadData
        The file is missing or damaged, or is not north-up with square cells.
    """
    with _opened(path) as dataset:
        place = dataset.transform
        square = math.isclose(place.a, -place.e, rel_tol=1e-6)
        if place.b or place.d or place.a <= 0 or not square:
            raise BadData(
                "the cells are not square and north-up",
                where=path.name,
                remedy="Bring it in as a ground: it is then laid out afresh.",
            )
        z = dataset.read(1, out_dtype=np.float64, masked=True).filled(np.nan)
        return Grid(z, float(place.c), float(place.f), float(place.a))


def crs_of(path: Path) -> str:
    """Return the CRS of one of our GeoTIFFs, as "EPSG:n" where it has a number, else WKT."""
    with _opened(path) as dataset:
        if dataset.crs is None:
            return ""
        code = dataset.crs.to_epsg()
        return f"EPSG:{code}" if code else str(dataset.crs.to_wkt())


def write_grid(path: Path, grid: Grid, crs: str, *, description: str = "", unit: str = "") -> None:
    """Write a grid as a tiled GeoTIFF of 32-bit floats, NaN for no data; replaces a file there.

    `description` says what the values are, `unit` what they are counted in ("m", "deg" …).

    Raises
    ------
    StoreTrouble
        The file cannot be written.
    """
    import rasterio
    from rasterio.errors import RasterioError

    rows, cols = grid.shape
    fresh = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with rasterio.open(
            fresh,
            "w",
            driver="GTiff",
            width=cols,
            height=rows,
            count=1,
            dtype="float32",
            crs=crs,
            transform=rasterio.Affine(
                grid.cell_m, 0.0, grid.west_m, 0.0, -grid.cell_m, grid.north_m
            ),
            nodata=math.nan,
            tiled=True,
            blockxsize=TILE,
            blockysize=TILE,
            compress="deflate",
            predictor=3,
            zlevel=4,
        ) as dataset:
            for block in grid.row_blocks(TILE):
                window = rasterio.windows.Window(0, block.start, cols, block.stop - block.start)
                dataset.write(grid.z[block].astype(np.float32), 1, window=window)
            dataset.set_band_description(1, description)
            if unit:
                dataset.set_band_unit(1, unit)
        os.replace(fresh, path)
    except (RasterioError, OSError) as error:
        raise StoreTrouble(
            f"the map could not be written ({error})",
            where=path.name,
            remedy="Check that the folder can be written and the disk has room.",
        ) from error
    finally:
        fresh.unlink(missing_ok=True)


def picture_window(path: Path, bounds: Bounds, width_px: int, height_px: int) -> Pixels:
    """Return a picture's stretch of map as RGBA, shape (height_px, width_px, 4).

    `bounds` are west, south, east, north [m] of the outer pixel edges; what lies outside the
    picture is transparent. Overviews are used where the picture is finer than what is asked for.
    """
    with _opened(path) as dataset:
        return _window(dataset, bounds, width_px, height_px)


class OpenPicture:
    """One of our own pictures held open, for many reads by one thread; see `picture_window`."""

    def __init__(self, path: Path) -> None:
        import rasterio

        self._path = path
        _be_there(path)
        with _told(path):
            self._dataset = rasterio.open(path, driver="GTiff")

    def window(self, bounds: Bounds, width_px: int, height_px: int) -> Pixels:
        """Return a stretch of map as RGBA, shape (height_px, width_px, 4)."""
        with _told(self._path):
            return _window(self._dataset, bounds, width_px, height_px)

    def close(self) -> None:
        """Let go of the file."""
        self._dataset.close()


def _window(dataset: Any, bounds: Bounds, width_px: int, height_px: int) -> Pixels:
    out = np.zeros((height_px, width_px, 4), np.uint8)
    west, south, east, north = bounds
    step_x, step_y = (east - west) / width_px, (north - south) / height_px
    if width_px < 1 or height_px < 1 or not (step_x > 0 and step_y > 0):
        return out
    left, bottom, right, top = dataset.bounds
    c0, c1 = _covered(left - west, right - west, step_x, width_px)
    r0, r1 = _covered(north - top, north - bottom, step_y, height_px)
    if c0 >= c1 or r0 >= r1:
        return out
    size = dataset.transform.a
    window = (
        ((west + c0 * step_x - left) / size, (west + c1 * step_x - left) / size),
        ((top - north + r0 * step_y) / size, (top - north + r1 * step_y) / size),
    )
    _read_rgba(dataset, window, out[r0:r1, c0:c1], min(step_x, step_y))
    return out


def _covered(start: float, end: float, step: float, most: int) -> tuple[int, int]:
    """Return the first and end index of the pixels whose centres lie in `start`..`end`."""
    first = math.ceil(start / step - 0.5)
    return max(first, 0), min(math.ceil(end / step - 0.5), most)


def _read_rgba(dataset: Any, spans: Any, out: Pixels, step: float) -> None:
    """Read a window given as ((col0, col1), (row0, row1)) in pixels, resampled to fill `out`."""
    from rasterio.enums import MaskFlags, Resampling
    from rasterio.windows import Window

    shape = out.shape[:2]
    (c0, c1), (r0, r1) = spans
    # Half a pixel may stick out where a picture's edge crosses one; the reader won't have it.
    c0, r0 = max(c0, 0.0), max(r0, 0.0)
    c1, r1 = min(c1, dataset.width), min(r1, dataset.height)
    window = Window(c0, r0, c1 - c0, r1 - r0)
    finer = step > 1.5 * dataset.transform.a
    how = {
        "window": window,
        "resampling": Resampling.average if finer else Resampling.bilinear,
    }
    bands = (1, 2, 3) if dataset.count >= 3 else (1, 1, 1)
    for k, band in enumerate(dataset.read(bands, out_shape=(3, *shape), **how)):
        out[..., k] = band
    flags = dataset.mask_flag_enums[0]
    if MaskFlags.all_valid in flags:  # asking for a mask would read the whole picture
        out[..., 3] = 255
    elif MaskFlags.alpha in flags:
        out[..., 3] = dataset.read(dataset.count, out_shape=shape, **how)
    else:
        out[..., 3] = dataset.read_masks(1, out_shape=shape, **how)


def picture_frame(path: Path) -> tuple[Bounds, float]:
    """Return west, south, east, north [m] and the pixel size [m] of one of our own pictures."""
    with _opened(path) as dataset:
        west, south, east, north = dataset.bounds
        return (float(west), float(south), float(east), float(north)), float(dataset.transform.a)
