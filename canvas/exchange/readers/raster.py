"""Opening foreign rasters, finding out what and where they are."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from canvas.base.errors import BadData
from canvas.base.progress import Progress
from canvas.exchange.readers import archive, crs, lattice, xyz
from canvas.exchange.readers.raw import decoded

#: First bytes of a file -> the one driver that may open it.
MARKS = {
    b"II*\0": "GTiff",
    b"MM\0*": "GTiff",
    b"II+\0": "GTiff",
    b"MM\0+": "GTiff",
    b"\xff\xd8\xff": "JPEG",
    b"\x89PNG": "PNG",
}
MOST_SWELL = 1500
SMALL_BYTES = 64 << 20
TABLES = (".xyz", ".txt", ".csv", ".dat", ".asc", ".pts")
PICTURES = (".tif", ".tiff", ".jpg", ".jpeg", ".png", ".asc", ".xyz", ".txt")
COMPANIONS = frozenset((*PICTURES, ".prj", ".tfw", ".jgw", ".pgw", ".wld"))


@dataclass(slots=True)
class Opened:
    """A foreign raster, open."""

    dataset: Any
    #: `rasterio.Affine` from (column, row) to the file's CRS; None where it has none.
    place: Any
    #: `pyproj.CRS` or None.
    crs: Any
    notes: list[str]
    #: "m", "ft", "us_ft", other words of the file's, or "".
    unit_hint: str


@contextlib.contextmanager
def opened(path: Path, folder: Path, report: Progress) -> Iterator[Opened]:
    """Open a foreign raster by what is in it, with the driver it asks for only."""
    import rasterio
    from rasterio.errors import RasterioError

    path = _unpacked(path, folder)
    source = path
    with path.open("rb") as file:
        head = file.read(4096)
    driver = _driver(head)
    if not driver:
        if path.suffix.lower() not in TABLES:
            raise _unknown()
        driver = "GTiff"
        source = folder / "points.tif"
        xyz.to_geotiff(path, source, report)
    if driver == "PNG":
        _check_end(path)
    try:
        with rasterio.open(source, driver=driver) as dataset:
            _check_size(dataset, path)
            place, own = _place(dataset)
            if own is None:
                own = _beside(path)
            yield Opened(dataset, place, own, [], _unit_hint(dataset))
    except RasterioError as error:
        words = " ".join(str(error.__cause__ or error).split())[:200]
        raise BadData(
            f"the picture or grid is damaged, cut short, or of a kind that can't be read ({words})",
            remedy="GeoTIFF, JPEG, PNG, ESRI ASCII grid and XYZ can be read. Fetch it again, or "
            "save it afresh as GeoTIFF.",
        ) from error


def _unpacked(path: Path, folder: Path) -> Path:
    with path.open("rb") as file:
        if file.read(4) != b"PK\x03\x04":
            return path
    inner = folder / "unpacked"
    inner.mkdir()
    held = [p for p in archive.unpack(path, inner, COMPANIONS) if p.suffix in PICTURES]
    if len(held) != 1:
        raise BadData(
            f"the archive holds {len(held)} pictures or grids where one is wanted",
            remedy="Unpack it yourself and choose the file.",
        )
    return held[0]


def _driver(head: bytes) -> str:
    """Return the driver a file's beginning asks for, "" for a table of points or the unknown."""
    for mark, driver in MARKS.items():
        if head.startswith(mark):
            return driver
    text = head.decode("latin-1").lstrip().lower()
    return "AAIGrid" if re.match(r"(ncols|nrows|xll|yll|cellsize|dx|dy)\w*\s", text) else ""


def _unknown() -> BadData:
    return BadData(
        "this is not a picture or grid that can be read",
        remedy="GeoTIFF, JPEG, PNG, ESRI ASCII grid and XYZ can be. Save it afresh as GeoTIFF.",
    )


def _check_end(path: Path) -> None:
    """Refuse a PNG without its last chunk: the library would fill in black and say nothing."""
    with path.open("rb") as file:
        file.seek(max(path.stat().st_size - 4096, 0))
        if b"IEND" not in file.read():
            raise BadData("the picture is cut short", remedy="Save or fetch it again.")


def _check_size(dataset: Any, path: Path) -> None:
    cells = dataset.width * dataset.height * dataset.count
    unpacked = cells * max(np.dtype(each).itemsize for each in dataset.dtypes)
    packed = max(path.stat().st_size, 1)
    if unpacked > SMALL_BYTES and unpacked > MOST_SWELL * packed:
        raise BadData(
            f"it claims {dataset.width} × {dataset.height} cells, far more than a file of "
            f"{packed / 1e3:,.1f} kB can hold in earnest",
            remedy="The file is damaged or made to harm: fetch it again from its source.",
        )


def _place(dataset: Any) -> tuple[Any, Any]:
    """Return (affine or None, CRS or None) as the file or its world file has them."""
    from rasterio.transform import from_gcps

    place, own = dataset.transform, dataset.crs
    points, points_crs = dataset.gcps
    if place.is_identity and len(points) >= 3:
        place, own = from_gcps(points), points_crs
    if place.is_identity:
        return None, _known(own)
    numbers = np.array(place[:6])
    if not np.isfinite(numbers).all() or abs(place.determinant) < 1e-18:
        raise BadData(
            "its world file or header gives it no size on the ground",
            remedy="Tie it by control points instead, or mend the world file.",
        )
    return place, _known(own)


def _known(own: Any) -> Any:
    if own is None or not own.to_wkt():
        return None
    with contextlib.suppress(BadData):
        return crs.understood(own.to_wkt())
    return None


def _beside(path: Path) -> Any:
    """Return the CRS in a .prj file beside the raster, or None."""
    beside = path.with_suffix(".prj")
    if not beside.is_file() or beside.stat().st_size > 1 << 16:
        return None
    with contextlib.suppress(BadData):
        return crs.understood(decoded(beside.read_bytes(), []).strip())
    return None


def _unit_hint(dataset: Any) -> str:
    """Return what the file says its heights are counted in, as a hint."""
    said = (dataset.units[0] or "").strip().lower()
    if not said and dataset.crs is not None:
        with contextlib.suppress(Exception):
            import pyproj

            whole = pyproj.CRS.from_wkt(dataset.crs.to_wkt())
            if whole.is_compound:
                said = whole.sub_crs_list[1].axis_info[0].unit_name.lower()
    if said in ("m", "metre", "metres", "meter", "meters"):
        return "m"
    if "us" in said and ("ft" in said or "foot" in said or "feet" in said):
        return "us_ft"
    return "ft" if said in ("ft", "foot", "feet") or "foot" in said else said


def located(open_file: Opened, file_crs: str) -> tuple[Any, Any]:
    """Return (affine, CRS) of a raster, the caller's CRS over the file's own."""
    if open_file.place is None:
        raise BadData(
            "it doesn't say where on the ground it lies",
            remedy="Put its world file beside it, or tie it to the ground by control points.",
        )
    own = open_file.crs
    if file_crs:
        asked = crs.understood(file_crs)
        if own is not None and not lattice.same(own, asked):
            open_file.notes.append(
                f"The file says {crs.named(own)}; as asked, {crs.named(asked)} was used."
            )
        return open_file.place, asked
    if own is None:
        raise crs.asked_for()
    return open_file.place, own


def inspect_job(arguments: dict[str, Any], folder: Path, report: Progress) -> dict[str, Any]:
    """Answer what a raster is, from its header."""
    with opened(Path(arguments["path"]), folder, report) as found:
        dataset, place = found.dataset, found.place
        bounds = None
        if place is not None:
            edge = lattice.corners(place, dataset.width, dataset.height)
            bounds = [*edge.min(axis=0).tolist(), *edge.max(axis=0).tolist()]
        nodata = dataset.nodata
        return {
            "width": dataset.width,
            "height": dataset.height,
            "format": "XYZ" if dataset.name.endswith("points.tif") else dataset.driver,
            "crs": crs.named(found.crs) if found.crs is not None else "",
            "bounds": bounds,
            "cell": lattice.cell_size(place, dataset.width, dataset.height, found.crs)
            if place is not None
            else None,
            "bands": dataset.count,
            "dtype": dataset.dtypes[0],
            "nodata": float(nodata) if nodata is not None else None,
            "unit_hint": found.unit_hint,
        }
