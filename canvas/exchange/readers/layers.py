"""GeoPackage and shapefile, through the GDAL that comes with pyogrio."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from canvas.base.errors import BadData
from canvas.base.grid import Bounds
from canvas.exchange.readers.raw import MOST_FEATURES, RawFeature, RawFile, flood, plain_value

#: The files a shapefile is made of, as far as they are read.
FAMILY = (".shp", ".shx", ".dbf", ".prj", ".cpg")


def read(
    path: Path, form: str, *, layer: str = "", encoding: str = "", within: Bounds | None = None
) -> RawFile:
    """Read one layer; `within` are bounds in the file's own CRS.

    Without `layer` the layer with the most features that has shapes is taken.
    """
    import pyogrio
    from pyogrio.errors import DataLayerError, DataSourceError

    pyogrio.set_gdal_config_options({"SHAPE_RESTORE_SHX": True})
    try:
        listed = _layers(path)
        chosen = _choose(listed, layer)
        found = RawFile(form, chosen[4])
        found.other_layers = [each[:4] for each in listed if each is not chosen]
        _fill(found, path, chosen, encoding, within)
    except (DataSourceError, DataLayerError, UnicodeError) as error:
        words = " ".join(str(error).split())[:200]
        raise BadData(
            f"the file is damaged or not a {form} ({words})",
            remedy="Open it in the program it came from, save it afresh and try again.",
        ) from error
    if len(listed) > 1 and not layer:
        others = ", ".join(f"“{name}” ({count})" for name, _, count, _ in found.other_layers[:20])
        found.notes.append(f"The layer “{chosen[0]}” was read. The file also holds {others}.")
    return found


def copy_family(path: Path, folder: Path) -> Path:
    """Copy a shapefile with its companions into `folder`, so that nothing is written beside it."""
    for other in path.parent.iterdir():
        suffix = other.suffix.lower()
        if other.stem == path.stem and suffix in FAMILY and other.is_file():
            shutil.copyfile(other, folder / f"shape{suffix}")
    return folder / "shape.shp"


Layer = tuple[str, str, int, tuple[str, ...], str]


def _layers(path: Path) -> list[Layer]:
    """Return (name, geometry, count, fields, CRS) of every layer."""
    import pyogrio

    found = []
    for name, geometry in pyogrio.list_layers(path):
        info = pyogrio.read_info(path, layer=name, force_feature_count=True)
        fields = tuple(str(each) for each in info["fields"])
        kind = "" if geometry in (None, "None") else str(geometry).removesuffix(" Z")
        found.append((str(name), kind, int(info["features"]), fields, str(info["crs"] or "")))
    return found


def _choose(listed: list[Layer], wanted: str) -> Layer:
    for each in listed:
        if each[0] == wanted:
            return each
    names = ", ".join(each[0] for each in listed[:20])
    if wanted:
        raise BadData(f"the file has no layer “{wanted}”", remedy=f"Its layers are: {names}.")
    shaped = [each for each in listed if each[1]]
    if not shaped:
        raise BadData("the file holds no shapes", remedy=f"Its tables are: {names or 'none'}.")
    return max(shaped, key=lambda each: each[2])


def _fill(found: RawFile, path: Path, chosen: Layer, encoding: str, within: Bounds | None) -> None:
    from pyogrio.raw import read as read_layer

    if within is None and chosen[2] > MOST_FEATURES:
        raise flood(chosen[2], 0)
    meta, numbers, shapes, columns = read_layer(
        path,
        layer=chosen[0],
        encoding=encoding or None,
        bbox=within,
        max_features=MOST_FEATURES + 1,
        return_fids=True,
        datetime_as_string=True,
    )
    names = [str(name) for name in meta["fields"]]
    geometries: Any = shapely.from_wkb(np.asarray(shapes, object), on_invalid="ignore")
    for row, geometry in enumerate(geometries):
        place = f"feature {numbers[row]}"
        if geometry is None:
            why = "it has no shape" if shapes[row] is None else "its shape can't be read"
            found.skip(place, why)
            continue
        values = {name: _value(column[row]) for name, column in zip(names, columns, strict=True)}
        found.add(RawFeature(geometry, values, place, chosen[0]))


def _value(raw: Any) -> str | int | float | bool | None:
    value = plain_value(raw)
    return None if isinstance(value, float) and not np.isfinite(value) else value
