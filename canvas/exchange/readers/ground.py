"""Heights from a foreign raster, brought to the site's CRS on square north-up cells."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from canvas.base.errors import BadData
from canvas.base.grid import Bounds, Grid
from canvas.base.progress import Progress, part
from canvas.exchange.geotiff import write_grid
from canvas.exchange.readers import crs, lattice, raster

Heights = NDArray[np.float32]
MOST_CELLS = 25_000_000
#: Metres in one unit. The US survey foot is 1200/3937 m (NIST SP 811, appendix B).
UNITS_M = {"m": 1.0, "ft": 0.3048, "us_ft": 1200 / 3937}
#: Heights of dry land lie between these [m]; anything else marks missing data.
LOWEST_M, HIGHEST_M = -1000.0, 10_000.0
ROWS_AT_ONCE = 256


def ground_job(arguments: dict[str, Any], folder: Path, report: Progress) -> dict[str, Any]:
    """Read heights, bring them home, write `out.tif` into `folder`."""
    target = crs.understood(arguments["target_crs"], what="the site's CRS")
    factor = UNITS_M[arguments["vertical_unit"]]
    clip: Bounds | None = tuple(arguments["clip"]) if arguments["clip"] else None
    with raster.opened(Path(arguments["path"]), folder, part(report, 0.0, 0.3)) as found:
        place, source = raster.located(found, arguments["file_crs"])
        _check_heights(found)
        hint = found.unit_hint
        if hint and hint != arguments["vertical_unit"]:
            found.notes.append(
                f"The file says its heights are in {hint}; as asked, they were taken as "
                f"{arguments['vertical_unit']}."
            )
        window = lattice.window(found.dataset, place, source, target, clip)
        cells = (window[2] - window[0], window[3] - window[1])
        if cells[0] * cells[1] > MOST_CELLS:
            raise _too_many(*cells)
        z = _read(found, window, factor, part(report, 0.3, 0.5))
        place = lattice.from_cell(place, window[0], window[1])
    report(0.5, "Bringing it to the site’s grid")
    grid = _laid(z, place, source, target, clip, arguments["cell_m"])
    known = np.isfinite(grid.z)
    if not known.any():
        raise BadData(
            "it holds no heights where the site is",
            remedy="Check its CRS, and that it is of this site.",
        )
    report(0.85, "Writing")
    write_grid(folder / "out.tif", grid, arguments["target_crs"], description="Height", unit="m")
    rows, cols = grid.shape
    return {
        "width": cols,
        "height": rows,
        "crs": crs.named(target),
        "bounds": grid.bounds,
        "cell_m": grid.cell_m,
        "lowest_m": float(grid.z[known].min()),
        "highest_m": float(grid.z[known].max()),
        "missing": float(1 - known.mean()),
        "crs_of_file": crs.named(source),
        "notes": found.notes,
    }


def _check_heights(found: raster.Opened) -> None:
    dataset = found.dataset
    kind = np.dtype(dataset.dtypes[0])
    if dataset.count >= 3 and kind == np.uint8:
        raise BadData(
            "this is a picture, not heights", remedy="Bring it in as a background picture."
        )
    if kind.kind == "c":
        raise BadData("its values are complex numbers, not heights", remedy="Choose another file.")
    if dataset.count > 1:
        found.notes.append(f"The first of its {dataset.count} bands was taken as heights.")


def _too_many(cols: int, rows: int) -> BadData:
    return BadData(
        f"its grid of {cols} × {rows} cells is more than can be taken in",
        remedy="Cut it down to the site, its watershed and what is seen from it, or make its cells "
        "larger.",
    )


def _read(found: raster.Opened, window: lattice.Window, factor: float, report: Progress) -> Heights:
    """Return heights [m], NaN for no data and for values no land has."""
    from rasterio.windows import Window as Stretch

    dataset = found.dataset
    col0, row0, col1, row1 = window
    z = np.empty((row1 - row0, col1 - col0), np.float32)
    scale, offset = dataset.scales[0], dataset.offsets[0]
    absurd = 0
    for start in range(row0, row1, ROWS_AT_ONCE):
        end = min(start + ROWS_AT_ONCE, row1)
        stretch = Stretch(col0, start, col1 - col0, end - start)
        block = dataset.read(1, window=stretch, masked=True, out_dtype=np.float64).filled(np.nan)
        block = (block * scale + offset) * factor
        with np.errstate(invalid="ignore"):
            wild = (block < LOWEST_M) | (block > HIGHEST_M)
        absurd += int(wild.sum())
        block[wild] = np.nan
        z[start - row0 : end - row0] = block
        report((end - row0) / (row1 - row0), "Reading heights")
    if absurd:
        found.notes.append(
            f"{absurd} cells held heights no land has (below {LOWEST_M:g} m or above "
            f"{HIGHEST_M:g} m) and were taken as missing."
        )
    return z


def _laid(
    z: Heights, place: Any, source: Any, target: Any, clip: Bounds | None, cell_m: float | None
) -> Grid:
    """Return the heights on square north-up cells of the target CRS."""
    rows, cols = z.shape
    fits = lattice.same(source, target) and cell_m in (None, abs(place.a))
    if fits and lattice.upright(place):
        # Left at 32 bits: at the most cells allowed, twice the memory would break the limit.
        grid = Grid(z, float(place.c), float(place.f), float(place.a))  # type: ignore[arg-type]
        return grid.window(clip) if clip is not None else grid
    size = cell_m or lattice.tidy_size(lattice.local_cell(place, cols, rows, source, target))
    west, north, wide, high = lattice.lattice(place, z.shape, source, target, clip, size)
    if wide * high > MOST_CELLS:
        raise _too_many(wide, high)
    out = _warped(z, place, source, target, (west, north, size), (high, wide))
    return Grid(out, west, north, size)  # type: ignore[arg-type]


def _warped(
    z: Heights,
    place: Any,
    source: Any,
    target: Any,
    origin: tuple[float, float, float],
    shape: tuple[int, int],
) -> Heights:
    """Resample heights: by cubic convolution, beside missing cells bilinear, never into them."""
    import rasterio
    from rasterio.enums import Resampling
    from rasterio.warp import reproject

    west, north, size = origin
    ends: dict[str, Any] = {
        "src_transform": place,
        "src_crs": rasterio.crs.CRS.from_wkt(source.to_wkt()),
        "dst_transform": rasterio.Affine(size, 0, west, 0, -size, north),
        "dst_crs": rasterio.crs.CRS.from_wkt(target.to_wkt()),
        "tolerance": 0.01,
        "warp_mem_limit": 64,
    }

    def resampled(values: Any, how: Resampling, blank: float) -> Any:
        out = np.full(shape, blank, values.dtype)
        reproject(values, out, resampling=how, src_nodata=blank, dst_nodata=blank, **ends)
        return out

    known = np.isfinite(z)
    # 2 is known, 1 missing: nought is what the warper leaves outside.
    near = resampled((known + 1).astype(np.uint8), Resampling.nearest, 0)
    smooth = resampled(z, Resampling.cubic, np.nan)
    if not known.all():
        close = _shrunk(known)
        whole = resampled((close + 1).astype(np.uint8), Resampling.nearest, 0) == 2
        plain = resampled(z, Resampling.bilinear, np.nan)
        np.copyto(smooth, plain, where=~whole)
    smooth[near != 2] = np.nan
    return np.asarray(smooth, np.float32)


def _shrunk(known: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the cells whose neighbours two cells around are all known."""
    out = known.copy()
    for axis in (0, 1):
        for step in (1, 2):
            ahead, back = np.roll(known, -step, axis), np.roll(known, step, axis)
            edge: list[Any] = [slice(None), slice(None)]
            edge[axis] = slice(-step, None)
            ahead[tuple(edge)] = True
            edge[axis] = slice(None, step)
            back[tuple(edge)] = True
            out &= ahead & back
        known = out.copy()
    return out
