"""Writes elements to an open format, chosen by the file's suffix. Maps go through `write_grid`."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from canvas.base.errors import BadData, StoreTrouble
from canvas.base.sources import cites
from canvas.exchange.writers import geojson, gpkg, gpx, kml, table
from canvas.exchange.writers.rows import Row, rows_of
from canvas.site.records import Element

#: Suffix -> name of the format for people.
FORMATS = {
    ".geojson": "GeoJSON",
    ".gpkg": "GeoPackage",
    ".gpx": "GPX",
    ".kml": "KML",
    ".csv": "CSV",
}


@dataclass(frozen=True, slots=True)
class Written:
    """What was written."""

    path: Path
    format: str
    count: int
    notes: tuple[str, ...]


@cites("rfc7946", "gpx11", "kml22")
def export(
    path: Path,
    elements: Iterable[Element],
    *,
    crs: str,
    separator: str = ",",
    decimal: str = ".",
    positions: tuple[str, ...] = (),
) -> Written:
    """Write elements to `path`; a file already there is replaced once the new one is whole.

    GeoJSON, GPX and KML are in WGS 84, GeoPackage and WKT in the site's own CRS.

    Parameters
    ----------
    crs : str
        The CRS the elements are in.
    separator, decimal : str
        For CSV: between cells, and in numbers.
    positions : tuple of "lonlat", "grid", "wkt"
        For CSV: how to write where things are.

    Raises
    ------
    BadData
        The suffix names no format, or the file is a site.
    StoreTrouble
        It can't be written.
    """
    suffix = path.suffix.lower()
    writers: dict[str, Callable[[Path, list[Row]], list[str]]] = {
        ".geojson": geojson.write,
        ".json": geojson.write,
        ".gpx": gpx.write,
        ".kml": lambda out, rows: kml.write(out, rows, path.stem),
        ".csv": lambda out, rows: table.write(
            out, rows, separator=separator, decimal=decimal, positions=positions
        ),
        ".gpkg": lambda out, rows: gpkg.write(out, rows, crs),
    }
    if suffix not in writers:
        raise BadData(
            f"“{path.suffix}” is not a format that can be written",
            where=path.name,
            remedy=f"End the name in one of {', '.join(FORMATS)}.",
        )
    if suffix == ".gpkg" and path.exists() and (path.parent / "site.gpkg").exists():
        raise BadData(
            "this may be a site’s own file and was not overwritten",
            where=path.name,
            remedy="Choose another folder or name.",
        )
    rows = rows_of(elements, crs)
    if not rows:
        raise BadData("there is nothing to write", where=path.name, remedy="Choose more kinds.")
    fresh = path.with_name(f".{path.stem}.{os.getpid()}.part{suffix}")
    try:
        notes = writers[suffix](fresh, rows)
        os.replace(fresh, path)
    except (OSError, RuntimeError) as error:  # pyogrio's errors are RuntimeErrors
        raise StoreTrouble(
            f"the file could not be written ({error})",
            where=path.name,
            remedy="Check that the folder can be written and the disk has room.",
        ) from error
    finally:
        fresh.unlink(missing_ok=True)
    return Written(path, FORMATS.get(suffix, "GeoJSON"), len(rows), tuple(notes))
