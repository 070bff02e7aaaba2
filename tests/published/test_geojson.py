"""GeoJSON against RFC 7946 (August 2016) and against GDAL.

§§1.5, 3.1.1, 3.1.6, 3.1.9, 5 and 5.2 were read; §§4, 7.1 and 11.2 are from memory.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import pyproj
import pytest
import shapely
from published.ref import Ref

from canvas.exchange.read import read_features
from canvas.exchange.write import export
from canvas.site.elements.access import Track
from canvas.site.elements.land import Zone
from canvas.site.elements.vegetation import Tree

SITE_CRS, EAST, NORTH = "EPSG:7854", 632_600.0, 5_848_600.0
FIJI = "EPSG:32701"  # UTM 1 south, either side of the 180th meridian

#: RFC 7946 §1.5, the example collection: positions as printed there.
EXAMPLE = {
    "Point": [102.0, 0.5],
    "LineString": [[102.0, 0.0], [103.0, 1.0], [104.0, 0.0], [105.0, 1.0]],
    "Polygon": [[[100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0]]],
}


def written(folder: Path) -> dict[str, Any]:
    """Return what an export holds; rings handed over clockwise, so that they must be turned."""
    hole = shapely.box(EAST + 10, NORTH + 10, EAST + 20, NORTH + 20)
    zone = shapely.orient_polygons(
        shapely.box(EAST, NORTH, EAST + 90, NORTH + 50).difference(hole), exterior_cw=True
    )
    items = [
        Zone(geometry=zone, name="Küche"),
        Track(geometry=shapely.LineString([(EAST, NORTH), (EAST + 90, NORTH + 5)])),
        Tree(geometry=shapely.Point(EAST, NORTH)),
    ]
    export(folder / "out.geojson", items, crs=SITE_CRS)
    data: dict[str, Any] = json.loads((folder / "out.geojson").read_text(encoding="utf-8"))
    return data


def test_the_example_of_the_rfc_is_read(tmp_path: Path) -> None:
    path = tmp_path / "example.geojson"
    features = [
        {"type": "Feature", "geometry": {"type": kind, "coordinates": at}, "properties": {"p": "v"}}
        for kind, at in EXAMPLE.items()
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    found = read_features(path, target_crs="EPSG:32648")
    # Reference: pyproj, to UTM 48 north, which holds 102 to 108 degrees east.
    to = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:32648", always_xy=True)
    for feature, (kind, at) in zip(found.features, EXAMPLE.items(), strict=True):
        assert feature.geometry.geom_type == kind
        flat = np.array(at, float).reshape(-1, 2)
        want = np.column_stack(to.transform(flat[:, 0], flat[:, 1]))
        assert shapely.get_coordinates(feature.geometry) == pytest.approx(want, abs=1e-6)


def test_a_document_says_what_section_3_asks(tmp_path: Path) -> None:
    data = written(tmp_path)
    assert data["type"] == "FeatureCollection"
    assert "crs" not in data  # §4 and appendix B.1: the member is gone
    for feature in data["features"]:
        assert feature["type"] == "Feature"
        assert {"geometry", "properties", "id"} <= set(feature)  # §3.2
        assert set(feature["geometry"]) == {"type", "coordinates"}
        # §7.1: members of one type must not turn up in another.
        assert not {"coordinates", "geometries", "features"} & set(feature)


def test_rings_are_closed_and_follow_the_right_hand_rule(tmp_path: Path) -> None:
    outer, inner = written(tmp_path)["features"][0]["geometry"]["coordinates"]  # §3.1.6
    for ring in (outer, inner):
        assert len(ring) >= 4
        assert ring[0] == ring[-1]
    assert shapely.LinearRing(outer).is_ccw
    assert not shapely.LinearRing(inner).is_ccw


def test_positions_are_longitude_then_latitude_to_a_centimetre(tmp_path: Path) -> None:
    lon, lat = written(tmp_path)["features"][2]["geometry"]["coordinates"]  # §3.1.1, §4
    to = pyproj.Transformer.from_crs(SITE_CRS, "EPSG:4326", always_xy=True)
    want_lon, want_lat = to.transform(EAST, NORTH)
    # §11.2: six decimals are about 10 cm; ours are seven, so half a unit of the seventh.
    Ref(want_lon, 0.6e-7, "pyproj").check(lon)
    Ref(want_lat, 0.6e-7, "pyproj").check(lat)


def test_the_bounding_box_goes_west_south_east_north(tmp_path: Path) -> None:
    data = written(tmp_path)  # §5: all axes of the most southwesterly point, then northeasterly
    points = shapely.get_coordinates(
        [shapely.from_geojson(json.dumps(f["geometry"])) for f in data["features"]]
    )
    assert data["bbox"] == [*points.min(axis=0), *points.max(axis=0)]


def test_shapes_across_the_180th_meridian_are_cut(tmp_path: Path) -> None:
    to = pyproj.Transformer.from_crs("EPSG:4326", FIJI, always_xy=True)
    west, east = to.transform(179.99, -16.8), to.transform(-179.99, -16.9)
    items = [
        Zone(geometry=shapely.box(min(west[0], east[0]), east[1], max(west[0], east[0]), west[1])),
        Track(geometry=shapely.LineString([west, east])),
        Tree(geometry=shapely.Point(west)),
    ]
    export(tmp_path / "fiji.geojson", items, crs=FIJI)
    data = json.loads((tmp_path / "fiji.geojson").read_text())
    # §3.1.9: cut in two so that neither part crosses.
    kinds = [f["geometry"]["type"] for f in data["features"]]
    assert kinds == ["MultiPolygon", "MultiLineString", "Point"]
    for feature in data["features"]:
        for part in getattr(shapely.from_geojson(json.dumps(feature["geometry"])), "geoms", []):
            assert part.bounds[2] - part.bounds[0] < 1
            assert -180 <= part.bounds[0] <= part.bounds[2] <= 180
    # §5.2, by the example of the Fiji islands: then the eastern edge is the smaller number.
    assert data["bbox"][0] > 179
    assert data["bbox"][2] < -179
    assert data["bbox"][1] < data["bbox"][3]
    back = read_features(tmp_path / "fiji.geojson", target_crs=FIJI)
    assert back.features[0].geometry.area == pytest.approx(items[0].geometry.area, rel=1e-4)


def test_gdal_reads_it_as_we_meant_it(tmp_path: Path) -> None:
    written(tmp_path)
    path = tmp_path / "out.geojson"
    info = pyogrio.read_info(path)
    assert info["crs"] == "EPSG:4326"
    assert info["features"] == 3
    meta, _, shapes, columns = pyogrio.raw.read(path)
    by_name = dict(zip(meta["fields"], columns, strict=True))
    assert list(by_name["kind"]) == ["zone", "track", "tree"]
    assert by_name["name"][0] == "Küche"
    assert by_name["width_m"][1] == 3.5
    assert [shapely.from_wkb(s).geom_type for s in shapes] == ["Polygon", "LineString", "Point"]
