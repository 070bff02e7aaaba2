"""Background pictures: any colours to 8-bit RGB, brought to the site's CRS, kept as a pyramid."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from canvas.base.errors import BadData
from canvas.base.grid import Bounds
from canvas.base.progress import Progress, part
from canvas.exchange.readers import crs, lattice, raster

Pixels = NDArray[np.uint8]
MOST_PIXELS = 300_000_000
#: Pictures that came without loss are kept without loss up to here.
MOST_LOSSLESS = 60_000_000
ROWS_AT_ONCE = 256
ALPHA = 6  # GDAL's colour interpretation number for transparency
QUALITY = 90


def picture_job(arguments: dict[str, Any], folder: Path, report: Progress) -> dict[str, Any]:
    """Read a picture, bring it home, write `out.tif` into `folder`."""
    import rasterio

    target = crs.understood(arguments["target_crs"], what="the site's CRS")
    clip: Bounds | None = tuple(arguments["clip"]) if arguments["clip"] else None
    with raster.opened(Path(arguments["path"]), folder, report) as found:
        if arguments["matrix"]:
            first, second = arguments["matrix"]
            place, source = rasterio.Affine(*first, *second), target
        else:
            place, source = raster.located(found, arguments["file_crs"])
        dataset = found.dataset
        lossless = dataset.driver == "PNG" or dataset.count == 1
        window = lattice.window(dataset, place, source, target, clip)
        _check(found, window)
        plain = folder / "plain.tif"
        place = lattice.from_cell(place, window[0], window[1])
        _flatten(found, window, plain, place, source, part(report, 0.05, 0.4))
    if not (lattice.same(source, target) and lattice.upright(place)):
        report(0.4, "Bringing it to the site’s grid")
        straight = folder / "straight.tif"
        _straighten(plain, straight, source, target, clip)
        plain.unlink()
        plain = straight
    report(0.6, "Making it quick to show")
    return _finish(plain, folder / "out.tif", lossless, target, source, found.notes)


def preview_job(arguments: dict[str, Any], folder: Path, report: Progress) -> dict[str, Any]:
    """Write a picture as it is, made smaller, to `pixels.bin` as RGBA rows."""
    with raster.opened(Path(arguments["path"]), folder, report) as found:
        dataset = found.dataset
        _check(found, (0, 0, dataset.width, dataset.height))
        scale = max(max(dataset.width, dataset.height) / arguments["most_px"], 1.0)
        shape = (max(int(dataset.height / scale), 1), max(int(dataset.width / scale), 1))
        pixels = colours(dataset, None, shape)
    (folder / "pixels.bin").write_bytes(pixels.tobytes())
    return {"height": shape[0], "width": shape[1], "full": [dataset.width, dataset.height]}


def colours(dataset: Any, window: Any, shape: tuple[int, int]) -> Pixels:
    """Return a window (None: the whole) of a picture made small, RGBA, shape (rows, columns, 4)."""
    how = _Colours(dataset)
    bands = dataset.read(how.bands, window=window, out_shape=(len(how.bands), *shape))
    mask = dataset.dataset_mask(window=window, out_shape=shape)
    return np.ascontiguousarray(np.moveaxis(how.rgba(bands, mask), 0, -1))


def _check(found: raster.Opened, window: lattice.Window) -> None:
    width, height = window[2] - window[0], window[3] - window[1]
    if width * height > MOST_PIXELS:
        raise BadData(
            f"its {width} × {height} pixels are more than can be taken in",
            remedy="Cut it down to the site and its surroundings, or make it coarser.",
        )
    if np.dtype(found.dataset.dtypes[0]).kind == "c":
        raise BadData("its values are complex numbers, not colours", remedy="Choose another file.")


class _Colours:
    """How a dataset's bands become red, green, blue and opacity."""

    def __init__(self, dataset: Any) -> None:
        kinds = [int(each) for each in dataset.colorinterp]
        opaque = [b for b, kind in enumerate(kinds, 1) if kind != ALPHA]
        alpha = [b for b, kind in enumerate(kinds, 1) if kind == ALPHA]
        self.bands = opaque[:3] if len(opaque) >= 3 else opaque[:1] * 3
        self.alpha = alpha[0] if alpha else 0
        self.palette = _palette(dataset)
        self.low, self.high = _stretch(dataset, self.bands)

    def rgba(self, bands: Any, mask: Any) -> Pixels:
        """Return (4, rows, cols) from (3, rows, cols) values and a mask."""
        if self.palette is not None:
            colours = np.moveaxis(self.palette[bands[0]], -1, 0)
            return np.where(mask > 0, colours, np.uint8(0))
        if bands.dtype != np.uint8:
            span = max(self.high - self.low, 1e-12)
            with np.errstate(invalid="ignore"):
                share = np.clip((bands.astype(np.float32) - self.low) / span, 0, 1)
            bands = np.nan_to_num(share * 255).astype(np.uint8)
        return np.concatenate((bands, mask[None].astype(np.uint8)))


def _palette(dataset: Any) -> Pixels | None:
    try:
        table = dataset.colormap(1)
    except ValueError:
        return None
    size = 1 << (8 * np.dtype(dataset.dtypes[0]).itemsize)
    colours = np.zeros((size, 4), np.uint8)
    for index, colour in table.items():
        colours[index] = colour
    return colours


def _stretch(dataset: Any, bands: list[int]) -> tuple[float, float]:
    """Return the values to show as black and white: all but 2 % at either end, of a sample."""
    if dataset.dtypes[0] == "uint8":
        return 0.0, 255.0
    shape = (min(dataset.height, 256), min(dataset.width, 256))
    sample = dataset.read(bands, out_shape=(len(bands), *shape), masked=True).compressed()
    sample = sample[np.isfinite(sample)]
    if not len(sample):
        raise BadData("there is nothing in the picture", remedy="Choose another file.")
    low, high = np.percentile(sample, (2, 98))
    return float(low), float(high)


def _flatten(
    found: raster.Opened,
    window: lattice.Window,
    out: Path,
    place: Any,
    source: Any,
    report: Progress,
) -> None:
    """Write a window of a picture as plain 8-bit RGBA."""
    import rasterio
    from rasterio.windows import Window

    dataset = found.dataset
    colours = _Colours(dataset)
    col0, row0, col1, row1 = window
    with _new(out, col1 - col0, row1 - row0, place, source) as made:
        for start in range(row0, row1, ROWS_AT_ONCE):
            end = min(start + ROWS_AT_ONCE, row1)
            stretch = Window(col0, start, col1 - col0, end - start)
            # Asking for one band thrice reads it once.
            unique = sorted(set(colours.bands))
            values = dataset.read(unique, window=stretch)
            values = values[[unique.index(b) for b in colours.bands]]
            mask = dataset.dataset_mask(window=stretch)
            made.write(
                colours.rgba(values, mask),
                window=rasterio.windows.Window(0, start - row0, col1 - col0, end - start),
            )
            report((end - row0) / (row1 - row0), "Reading the picture")


def _new(out: Path, width: int, height: int, place: Any, where: Any) -> Any:
    import rasterio
    from rasterio.enums import ColorInterp

    made = rasterio.open(
        out, "w", driver="GTiff", width=width, height=height, count=4, dtype="uint8",
        transform=place, crs=rasterio.crs.CRS.from_wkt(where.to_wkt()), tiled=True,
        compress="zstd", zstd_level=1, bigtiff="if_safer", photometric="rgb", alpha="yes",
    )  # fmt: skip
    made.colorinterp = [ColorInterp.red, ColorInterp.green, ColorInterp.blue, ColorInterp.alpha]
    return made


def _straighten(plain: Path, out: Path, source: Any, target: Any, clip: Bounds | None) -> None:
    """Resample a picture to square north-up pixels of the target CRS."""
    import rasterio
    from rasterio.enums import Resampling
    from rasterio.warp import reproject

    with rasterio.open(plain) as dataset:
        place, shape = dataset.transform, dataset.shape
        size = lattice.local_cell(place, shape[1], shape[0], source, target)
        size = float(f"{size:.4g}")
        west, north, wide, high = lattice.lattice(place, shape, source, target, clip, size)
        if wide * high > 2 * MOST_PIXELS:
            raise BadData(
                f"laid north-up it would have {wide} × {high} pixels, more than can be taken in",
                remedy="Cut it down to the site and its surroundings, or make it coarser.",
            )
        place = rasterio.Affine(size, 0, west, 0, -size, north)
        with _new(out, wide, high, place, target) as made:
            reproject(
                rasterio.band(dataset, [1, 2, 3, 4]),
                rasterio.band(made, [1, 2, 3, 4]),
                resampling=Resampling.cubic, tolerance=0.1, warp_mem_limit=64,
            )  # fmt: skip


def _finish(
    plain: Path, out: Path, lossless: bool, target: Any, source: Any, notes: list[str]
) -> dict[str, Any]:
    """Write the pyramid and say what it is."""
    import rasterio
    import rasterio.shutil

    with rasterio.open(plain) as dataset:
        width, height, bounds = dataset.width, dataset.height, list(dataset.bounds)
        size = float(dataset.transform.a)
        if not _anything(dataset):
            raise BadData(
                "there is nothing in the picture where the site is",
                remedy="Check its CRS, and that it is of this site.",
            )
    how = (
        {"compress": "DEFLATE", "predictor": "YES"}
        if lossless and width * height <= MOST_LOSSLESS
        else {"compress": "JPEG", "quality": QUALITY}
    )
    rasterio.shutil.copy(
        plain, out, driver="COG", blocksize=512, overview_resampling="AVERAGE",
        bigtiff="IF_SAFER", **how,
    )  # fmt: skip
    return {
        "width": width,
        "height": height,
        "crs": crs.named(target),
        "bounds": bounds,
        "cell_m": size,
        "crs_of_file": crs.named(source),
        "notes": notes,
    }


def _anything(dataset: Any) -> bool:
    shape = (min(dataset.height, 1024), min(dataset.width, 1024))
    return bool((dataset.read(4, out_shape=shape) > 0).any())
