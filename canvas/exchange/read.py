"""Reads features from any vector format, in a child process."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import shapely

from canvas.base.grid import Bounds
from canvas.base.progress import Progress, silent
from canvas.exchange import child
from canvas.exchange.incoming import Columns, Feature, Incoming, LayerInfo, Skipped

#: Suffixes for a file dialog, and the formats behind them.
FORMATS = {
    "GeoJSON": (".geojson", ".json"),
    "GeoPackage": (".gpkg",),
    "Shapefile": (".zip", ".shp"),
    "KML": (".kml", ".kmz"),
    "GPX": (".gpx",),
    "CSV": (".csv", ".txt", ".tsv"),
}


def read_features(
    path: Path,
    *,
    target_crs: str,
    file_crs: str = "",
    layer: str = "",
    columns: Columns | None = None,
    site: Bounds | None = None,
    near_m: float | None = None,
    progress: Progress = silent,
    limits: child.Limits | None = None,
) -> Incoming:
    """Read a vector file and bring its shapes to the site's CRS.

    Parameters
    ----------
    target_crs : str
        The site's projected CRS.
    file_crs : str
        The CRS of the file, where it doesn't say or says it wrongly.
    layer : str
        One layer (table, folder, kind of track) of a file with several.
    columns : Columns, optional
        How to read a table of text, and the character encoding of a shapefile.
    site : Bounds, optional
        West, south, east, north of the site in `target_crs` [m]: what lies more than 50 km away
        is noted, as a sign of a wrong CRS.
    near_m : float, optional
        With `site`: take only what lies within this distance of it [m].

    Raises
    ------
    BadData
        The file can't be read, or doesn't say which CRS it is in and `file_crs` is empty.
    Cancelled
        `progress` raised it.
    """
    child.check_file(path)
    arguments = {
        "path": str(path.resolve()),
        "target_crs": target_crs,
        "file_crs": file_crs,
        "layer": layer,
        "columns": asdict(columns or Columns()),
        "site": site,
        "near_m": near_m,
    }
    job = child.run("vector", arguments, where=path.name, limits=limits, progress=progress)
    with job as answer:
        data = answer.data
        blob = (answer.folder / "shapes.bin").read_bytes()
    features, at = [], 0
    for size, values, place in data["features"]:
        features.append(Feature(shapely.from_wkb(blob[at : at + size]), values, place))
        at += size
    progress(1.0, "")
    return Incoming(
        path=path,
        format=data["format"],
        crs_of_file=data["crs"],
        layers=tuple(LayerInfo(n, g, c, tuple(f)) for n, g, c, f in data["layers"]),
        features=tuple(features),
        skipped=tuple(Skipped(*pair) for pair in data["skipped"]),
        notes=tuple(data["notes"]),
        fields=tuple(data["fields"]),
    )
