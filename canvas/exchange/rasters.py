"""Heights and pictures: our own GeoTIFFs in process, foreign rasters through a child process."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from canvas.base.errors import InputError, StoreTrouble
from canvas.base.grid import Bounds
from canvas.base.progress import Progress, part, silent
from canvas.exchange import child
from canvas.exchange.geotiff import crs_of, open_grid, picture_window, write_grid
from canvas.exchange.tie import Fit
from canvas.site.facts import Ground

__all__ = [
    "VERTICAL_UNITS",
    "GroundInfo",
    "PictureInfo",
    "Preview",
    "RasterInfo",
    "crs_of",
    "ground_record",
    "import_ground",
    "import_picture",
    "inspect_raster",
    "open_grid",
    "picture_window",
    "preview_picture",
    "write_grid",
]

VerticalUnit = Literal["m", "ft", "us_ft"]
#: What heights may be counted in, and its name for people.
VERTICAL_UNITS: dict[str, str] = {
    "m": "Metres",
    "ft": "International feet (0.3048 m)",
    "us_ft": "US survey feet (1200/3937 m)",
}
#: Rasters take longer than shapes; the person sees progress and can cancel.
LIMITS = child.Limits(seconds=900)
HEADER_LIMITS = child.Limits(seconds=60)


@dataclass(frozen=True, slots=True)
class RasterInfo:
    """What a raster's header says."""

    width: int
    height: int
    format: str
    #: "EPSG:n" or a name; "" where the file has none.
    crs: str
    #: West, south, east, north in the file's CRS; None where it lies nowhere.
    bounds: Bounds | None
    #: Side of a cell on the ground [m] (in the file's own unit when it has no CRS), or None.
    cell_m: float | None
    bands: int
    dtype: str
    nodata: float | None
    #: "m", "ft", "us_ft" or other words, as the file says; "" when it doesn't. Only a hint.
    unit_hint: str
    georeferenced: bool


@dataclass(frozen=True, slots=True)
class GroundInfo:
    """What a ground became."""

    width: int
    height: int
    crs: str
    bounds: Bounds
    cell_m: float
    lowest_m: float
    highest_m: float
    #: Share of the cells without a height, 0 to 1.
    missing: float
    crs_of_file: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PictureInfo:
    """What a picture became."""

    width: int
    height: int
    crs: str
    bounds: Bounds
    #: Side of a pixel [m].
    cell_m: float
    crs_of_file: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Preview:
    """A picture made smaller, to point at before it is tied."""

    #: RGBA, shape (rows, columns, 4).
    rgba: NDArray[np.uint8]
    #: Pixels of the whole picture to one of the preview, across and down.
    scale: tuple[float, float]
    width: int
    height: int


def inspect_raster(path: Path, progress: Progress = silent) -> RasterInfo:
    """Return what a raster's header says; `BadData` when it can't be read."""
    child.check_file(path)
    job = child.run(
        "raster_info",
        {"path": str(path.resolve())},
        where=path.name,
        limits=HEADER_LIMITS,
        progress=progress,
    )
    with job as answer:
        data = answer.data
    bounds = data.pop("bounds")
    return RasterInfo(
        **{key: value for key, value in data.items() if key != "cell"},
        bounds=tuple(bounds) if bounds else None,
        cell_m=data["cell"],
        georeferenced=bounds is not None,
    )


def import_ground(
    path: Path,
    out: Path,
    *,
    target_crs: str,
    vertical_unit: VerticalUnit | str,
    file_crs: str = "",
    clip: Bounds | None = None,
    cell_m: float | None = None,
    progress: Progress = silent,
    limits: child.Limits = LIMITS,
) -> GroundInfo:
    """Bring heights to the site's CRS [m], square north-up cells, as a GeoTIFF at `out`.

    GeoTIFF, ESRI ASCII grid and regular XYZ, also alone in a zip archive. Where the file already
    lies on such cells of the site's CRS its heights are taken over unchanged; else they are
    resampled by cubic convolution. Missing cells stay missing: none is filled or spread.

    Parameters
    ----------
    vertical_unit : "m", "ft" or "us_ft"
        What the file's heights are counted in; asked of the person, never guessed.
    clip : Bounds, optional
        Take only this stretch of the site's CRS [m].
    cell_m : float, optional
        Cell size to resample to; without it the file's own, made round.
    """
    if vertical_unit not in VERTICAL_UNITS:
        raise InputError(f"vertical_unit is one of {', '.join(VERTICAL_UNITS)}")
    child.check_file(path)
    arguments = {
        "path": str(path.resolve()),
        "target_crs": target_crs,
        "file_crs": file_crs,
        "vertical_unit": vertical_unit,
        "clip": clip,
        "cell_m": cell_m,
    }
    job = child.run(
        "ground", arguments, where=path.name, limits=limits, progress=part(progress, 0, 0.95)
    )
    with job as answer:
        _deliver(answer.folder / "out.tif", out)
        data = answer.data
    progress(1.0, "")
    return GroundInfo(**data | {"bounds": tuple(data["bounds"]), "notes": tuple(data["notes"])})


def import_picture(
    path: Path,
    out: Path,
    *,
    target_crs: str,
    file_crs: str = "",
    fit: Fit | None = None,
    clip: Bounds | None = None,
    progress: Progress = silent,
    limits: child.Limits = LIMITS,
) -> PictureInfo:
    """Bring a picture to the site's CRS as a cloud-optimised GeoTIFF at `out`.

    GeoTIFF, or JPEG, PNG and TIFF with a world file, or any of them with a `fit` by control
    points. Turned, sheared or oblong pixels and other CRS are resampled.
    """
    child.check_file(path)
    arguments = {
        "path": str(path.resolve()),
        "target_crs": target_crs,
        "file_crs": file_crs,
        "matrix": fit.matrix.tolist() if fit is not None else None,
        "clip": clip,
    }
    job = child.run(
        "picture", arguments, where=path.name, limits=limits, progress=part(progress, 0, 0.95)
    )
    with job as answer:
        _deliver(answer.folder / "out.tif", out)
        data = answer.data
    progress(1.0, "")
    return PictureInfo(**data | {"bounds": tuple(data["bounds"]), "notes": tuple(data["notes"])})


def preview_picture(path: Path, most_px: int = 2400, progress: Progress = silent) -> Preview:
    """Return a foreign picture, at most `most_px` on its longer side, for pointing at."""
    child.check_file(path)
    arguments = {"path": str(path.resolve()), "most_px": most_px}
    job = child.run("preview", arguments, where=path.name, limits=LIMITS, progress=progress)
    with job as answer:
        data = answer.data
        rows, cols = int(data["height"]), int(data["width"])
        raw = np.frombuffer((answer.folder / "pixels.bin").read_bytes(), np.uint8)
    width, height = data["full"]
    return Preview(raw.reshape(rows, cols, 4), (width / cols, height / rows), width, height)


def _deliver(made: Path, out: Path) -> None:
    try:
        shutil.move(made, out)
    except OSError as error:
        raise StoreTrouble(
            f"the file could not be written ({error.strerror})",
            where=out.name,
            kept=child.NOTHING_DONE,
            remedy="Check that the folder can be written and the disk has room.",
        ) from error


def ground_record(
    info: GroundInfo,
    file: str,
    *,
    name: str = "",
    source: str = "",
    surveyed: str = "",
    accuracy_m: float | None = None,
    bare_earth: bool = True,
    datum: str = "",
) -> Ground:
    """Return the record that carries what is known of a ground along with it.

    Parameters
    ----------
    file : str
        Name of the GeoTIFF inside the site folder.
    source : str
        Who measured it and how ("state lidar, 1 m").
    surveyed : str
        Date, ISO 8601; "" when unknown.
    accuracy_m : float, optional
        Standard error of a height [m]; None when nobody knows.
    bare_earth : bool
        Whether it is the ground itself, or the tops of plants and roofs.
    datum : str
        What heights are measured from ("AHD").
    """
    return Ground(
        file=file,
        name=name or "Ground",
        source=source,
        surveyed=surveyed,
        accuracy_m=accuracy_m,
        surface="bare_earth" if bare_earth else "canopy",
        datum=datum,
        cell_m=info.cell_m,
    )
