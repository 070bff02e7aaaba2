"""Any vector file: looks at what it really is, reads it, brings it to the site's CRS."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from canvas.base.errors import BadData
from canvas.base.grid import Bounds
from canvas.base.progress import Progress
from canvas.exchange.incoming import Columns
from canvas.exchange.readers import archive, crs, geojson, gpx, kml, layers, table
from canvas.exchange.readers.raw import MOST_SKIPPED, WGS84, RawFeature, RawFile

#: Farther from the site than this is thought a mistake [m].
FAR_M = 50_000.0
#: What is looked for in an archive, in this order; a shapefile's companions come along.
IN_ARCHIVES = (".shp", ".gpkg", ".geojson", ".json", ".kml", ".gpx", ".csv")
COMPANIONS = frozenset((*IN_ARCHIVES, ".shx", ".dbf", ".prj", ".cpg"))


def read_job(arguments: dict[str, Any], folder: Path, report: Progress) -> dict[str, Any]:
    """Read a vector file; answer with plain data, the shapes in `shapes.bin` as WKB."""
    columns = Columns(**arguments["columns"])
    site = tuple(arguments["site"]) if arguments["site"] else None
    target = crs.understood(arguments["target_crs"], what="the site's CRS")
    report(0.05, "Reading")
    found = _read(
        Path(arguments["path"]),
        folder,
        layer=arguments["layer"],
        columns=columns,
        file_crs=arguments["file_crs"],
        near=lambda source: _near(site, arguments["near_m"], source, target),
    )
    _settle_crs(found, arguments["file_crs"])
    report(0.6, "Bringing it to the site’s grid")
    source = crs.understood(found.crs)
    _only_layer(found, arguments["layer"])
    _transform(found, source, target)
    if site is not None and arguments["near_m"] is not None:
        _keep_near(found, site, arguments["near_m"])
    _note_places(found, site, target)
    report(0.9, "Handing it over")
    return _answer(found, source, folder)


def _read(
    path: Path,
    folder: Path,
    *,
    layer: str,
    columns: Columns,
    file_crs: str,
    near: Callable[[str], Bounds | None],
) -> RawFile:
    """Read by what the file's first bytes say, not by its name alone."""
    with path.open("rb") as file:
        head = file.read(4096)
    suffix = path.suffix.lower()
    if head.startswith(b"PK\x03\x04") or head.startswith(b"PK\x05\x06"):
        return _archive(path, folder, layer, columns, file_crs, near)
    if head.startswith(b"SQLite format 3\0"):
        return _layered(path, "GeoPackage", layer, columns, file_crs, near)
    if head.startswith(b"\x00\x00\x27\x0a"):
        copied = layers.copy_family(path, folder)
        return _layered(copied, "Shapefile", "", columns, file_crs, near)
    text = _begin(head)
    if text.startswith("<"):
        return gpx.read(path) if "<gpx" in text or suffix == ".gpx" else kml.read(path)
    if text.startswith(("{", "[")):
        return geojson.read(path)
    if suffix in (".csv", ".txt", ".tsv", ".tab", ".asc", ".xyz", ".dat", ""):
        return table.read(path, columns, file_crs)
    wanted = {
        ".geojson": "GeoJSON", ".json": "GeoJSON", ".gpkg": "GeoPackage", ".zip": "a zip archive",
        ".kmz": "a zip archive", ".shp": "a shapefile", ".kml": "XML", ".gpx": "XML",
    }.get(suffix)  # fmt: skip
    if wanted:
        raise BadData(
            f"its name says {wanted}, but that is not what is in it",
            remedy="Save or fetch it again.",
        )
    raise BadData(
        "this is not a kind of file that can be read",
        remedy="GeoJSON, GeoPackage, zipped shapefile, KML, KMZ, GPX and CSV can.",
    )


def _begin(head: bytes) -> str:
    for mark, name in (
        (b"\xef\xbb\xbf", "utf-8"),
        (b"\xff\xfe", "utf-16"),
        (b"\xfe\xff", "utf-16"),
    ):
        if head.startswith(mark):
            return head.decode(name, "ignore").lstrip("\ufeff \t\r\n")
    return head.replace(b"\0", b"").decode("latin-1").lstrip("\x1e \t\r\n")


def _archive(
    path: Path,
    folder: Path,
    layer: str,
    columns: Columns,
    file_crs: str,
    near: Callable[[str], Bounds | None],
) -> RawFile:
    written = archive.unpack(path, folder, COMPANIONS)
    for suffix in IN_ARCHIVES:
        held = [each for each in written if each.suffix == suffix]
        if not held:
            continue
        names = [each.stem.partition("_")[2] for each in held]
        if layer in names:
            chosen = held[names.index(layer)]
        else:
            chosen = next((e for e in held if e.name.endswith("_doc.kml")), held[0])
        if suffix == ".shp":
            found = _layered(chosen, "Shapefile", "", columns, file_crs, near)
        else:
            found = _read(
                chosen, folder, layer=layer if chosen.suffix == ".gpkg" or len(held) == 1 else "",
                columns=columns, file_crs=file_crs, near=near,
            )  # fmt: skip
        if path.suffix.lower() == ".kmz":
            found.format = "KMZ"
        if len(held) > 1:
            name = names[held.index(chosen)]
            for feature in found.features:
                feature.layer = name
            found.other_layers += [(n, "", 0, ()) for n in names if n != name]
            found.notes.append(f"“{name}” was read; the archive also holds others.")
        return found
    raise BadData(
        "there is no shapefile, GeoPackage, GeoJSON, KML, GPX or CSV in the archive",
        remedy="Check that it is the right one.",
    )


def _layered(
    path: Path,
    form: str,
    layer: str,
    columns: Columns,
    file_crs: str,
    near: Callable[[str], Bounds | None],
) -> RawFile:
    import pyogrio
    from pyogrio.errors import DataLayerError, DataSourceError

    own = file_crs
    if not own:
        try:
            own = str(pyogrio.read_info(path, layer=layer or None)["crs"] or "")
        except (DataSourceError, DataLayerError, ValueError):
            own = ""  # reading it properly will say what is wrong
    within = near(own) if own else None
    return layers.read(path, form, layer=layer, encoding=columns.encoding, within=within)


def _near(site: Bounds | None, near_m: float | None, source: str, target: Any) -> Bounds | None:
    """Return the site's surroundings in a file's CRS, to read no more than needed."""
    if site is None or near_m is None:
        return None
    west, south, east, north = site
    box = (west - near_m, south - near_m, east + near_m, north + near_m)
    bounds = crs.way(target, crs.understood(source)).transform_bounds(*box)
    return tuple(map(float, bounds)) if np.isfinite(bounds).all() else None  # type: ignore[return-value]


def _settle_crs(found: RawFile, file_crs: str) -> None:
    if file_crs:
        if found.crs and found.format != "CSV":
            own = crs.named(crs.understood(found.crs))
            asked = crs.named(crs.understood(file_crs))
            if own != asked:
                found.notes.append(f"The file says {own}; as asked, {asked} was used.")
        found.crs = file_crs
    if not found.crs:
        raise crs.asked_for()


def _only_layer(found: RawFile, layer: str) -> None:
    names = list(dict.fromkeys(f.layer for f in found.features if f.layer))
    if layer and names and layer not in names:
        raise BadData(f"the file has no layer “{layer}”", remedy=f"It has: {', '.join(names)}.")
    if layer and len(names) > 1:
        found.features = [f for f in found.features if f.layer == layer]


def _transform(found: RawFile, source: Any, target: Any) -> None:
    """Bring every shape to the target CRS, without heights; skip what has no place there."""
    kept = []
    for feature in found.features:
        why = _trouble(feature.geometry, geographic=source.is_geographic)
        if why:
            found.skip(feature.place, why)
            continue
        shape: Any = feature.geometry
        if shape.geom_type == "Point" and shape.has_z and shape.z:
            feature.values.setdefault("z", float(shape.z))
        feature.geometry = shapely.force_2d(shape)
        kept.append(feature)
    transformer = crs.way(source, target)
    shapes = np.array([f.geometry for f in kept], object)

    def moved(points: Any) -> Any:
        return np.column_stack(transformer.transform(points[:, 0], points[:, 1]))

    if len(shapes):
        shapes = shapely.transform(shapes, moved)
    found.features = []
    for feature, shape in zip(kept, shapes, strict=True):
        if not np.isfinite(shapely.get_coordinates(shape)).all():
            found.skip(feature.place, f"it lies where {crs.named(target)} has no coordinates")
            continue
        feature.geometry = shape
        found.features.append(feature)
    if note := crs.note_on(transformer, source, target):
        found.notes.append(note)


def _trouble(shape: Any, *, geographic: bool) -> str:
    if shape.is_empty:
        return "its shape is empty"
    points = shapely.get_coordinates(shape)
    if not np.isfinite(points).all():
        return "a coordinate is not a number"
    if geographic and (np.abs(points[:, 1]) > 90).any():
        lat = points[np.argmax(np.abs(points[:, 1])), 1]
        swapped = " (are latitude and longitude swapped?)" if abs(lat) <= 180 else ""
        return f"its latitude is {lat:g}°{swapped}"
    return ""


def _distances(found: RawFile, site: Bounds) -> Any:
    return shapely.distance(np.array([f.geometry for f in found.features]), shapely.box(*site))


def _keep_near(found: RawFile, site: Bounds, near_m: float) -> None:
    if not found.features:
        return
    close = _distances(found, site) <= near_m
    left = int((~close).sum())
    found.features = [f for f, near in zip(found.features, close, strict=True) if near]
    if left:
        found.notes.append(f"{left} features farther than {near_m:g} m from the site: left out.")


def _note_places(found: RawFile, site: Bounds | None, target: Any) -> None:
    """Say when features lie where they can't be meant to."""
    if not found.features:
        return
    hint = "Check the CRS, and whether latitude and longitude are swapped."
    if site is not None:
        far = int((_distances(found, site) > FAR_M).sum())
        if far:
            found.notes.append(
                f"{far} of {len(found.features)} features lie more than 50 km from the site. {hint}"
            )
            return
    area = target.area_of_use
    if area is None:
        return
    back = crs.way(target, crs.understood(WGS84))
    middles = shapely.get_coordinates(shapely.centroid([f.geometry for f in found.features]))
    lon, lat = back.transform(middles[:, 0], middles[:, 1])
    inside = (lat >= area.south - 1) & (lat <= area.north + 1)
    span = (area.east - area.west) % 360
    inside &= ((lon - area.west + 1) % 360) <= span + 2
    outside = int((~inside).sum())
    if outside:
        found.notes.append(
            f"{outside} of {len(found.features)} features lie outside the area "
            f"{crs.named(target)} is made for ({area.name}). {hint}"
        )


def _answer(found: RawFile, source: Any, folder: Path) -> dict[str, Any]:
    blobs = [shapely.to_wkb(f.geometry) for f in found.features]
    (folder / "shapes.bin").write_bytes(b"".join(blobs))
    skipped = [(each.place, each.why) for each in found.skipped]
    if len(skipped) > MOST_SKIPPED:
        rest = len(skipped) - MOST_SKIPPED
        skipped = [*skipped[:MOST_SKIPPED], ("the rest", f"{rest} more were skipped")]
    fields: dict[str, None] = {}
    for feature in found.features:
        fields.update(dict.fromkeys(feature.values))
    return {
        "format": found.format,
        "crs": crs.named(source),
        "layers": _layers(found.features) + [list(each) for each in found.other_layers],
        "features": [
            [len(b), f.values, f.place] for b, f in zip(blobs, found.features, strict=True)
        ],
        "skipped": skipped,
        "notes": found.notes,
        "fields": list(fields),
    }


def _layers(features: list[RawFeature]) -> list[list[Any]]:
    groups: dict[str, list[RawFeature]] = {}
    for feature in features:
        groups.setdefault(feature.layer, []).append(feature)
    told = []
    for name, members in groups.items():
        kinds = {f.geometry.geom_type.removeprefix("Multi") for f in members}
        fields = dict.fromkeys(key for f in members for key in f.values)
        kind = kinds.pop() if len(kinds) == 1 else "mixed"
        told.append([name, kind, len(members), list(fields)])
    return told
