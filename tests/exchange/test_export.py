"""Out, and back in again through our own readers and through GDAL's."""

from __future__ import annotations

import csv
from pathlib import Path

import attrs
import numpy as np
import pyogrio
import pytest
import rasterio
import shapely

from canvas.base.errors import BadData, StoreTrouble
from canvas.base.grid import Grid
from canvas.exchange.adopt import to_elements
from canvas.exchange.geotiff import open_grid, write_grid
from canvas.exchange.incoming import Columns
from canvas.exchange.names import column_of
from canvas.exchange.read import read_features
from canvas.exchange.write import export
from canvas.site.elements.access import Track
from canvas.site.elements.land import SiteBoundary, Zone
from canvas.site.elements.vegetation import Hedge, Tree, Vegetation
from canvas.site.elements.water import Tank
from canvas.site.fields import FieldType
from canvas.site.records import Element, element_kinds, kind_of, values_of

EAST, NORTH, SITE_CRS = 632_600.0, 5_848_600.0, "EPSG:7854"


def some() -> list[Element]:
    hole = shapely.box(EAST + 10, NORTH + 10, EAST + 20, NORTH + 20)
    return [
        Tree(
            geometry=shapely.Point(EAST, NORTH), name="Alte „Eiche“ & <Co>; usw", height_m=12.5,
            species="Quercus robur", status="existing", remark="two\nlines",
        ),
        Tree(geometry=shapely.Point(EAST + 30.25, NORTH - 7)),
        Tank(geometry=shapely.Point(EAST - 50, NORTH), volume_l=22_500.0),
        Track(
            geometry=shapely.LineString([(EAST, NORTH), (EAST + 90, NORTH + 5)]), fire_access=False
        ),
        Hedge(geometry=shapely.LineString([(EAST, NORTH), (EAST, NORTH + 40)]), rows=3),
        Zone(
            geometry=shapely.box(EAST, NORTH, EAST + 90, NORTH + 50).difference(hole),
            intensity="2",
        ),
        Vegetation(geometry=shapely.box(EAST, NORTH, EAST + 9, NORTH + 9), crown_cover=0.35),
    ]  # fmt: skip


def alike(a: Element, b: Element, within_m: float) -> None:
    assert kind_of(a).key == kind_of(b).key
    assert shapely.hausdorff_distance(a.geometry, b.geometry) <= within_m
    assert values_of(a) == values_of(b)


@pytest.mark.parametrize(("suffix", "within_m"), [(".geojson", 0.01), (".gpkg", 1e-9)])
def test_whole_elements_come_back(tmp_path: Path, suffix: str, within_m: float) -> None:
    items = some()
    written = export(tmp_path / f"all{suffix}", items, crs=SITE_CRS)
    assert written.count == len(items)
    for key in dict.fromkeys(kind_of(item).key for item in items):
        layer = key if suffix == ".gpkg" else ""
        found = read_features(written.path, target_crs=SITE_CRS, layer=layer)
        back = to_elements(found, key)
        assert not back.skipped
        own = [item for item in items if kind_of(item).key == key]
        for a, b in zip(own, back.elements, strict=True):
            alike(a, b, within_m)


@pytest.mark.parametrize("decimal", [".", ","])
@pytest.mark.parametrize("separator", [";", "\t", "|"])
def test_tables_of_any_locale_come_back(tmp_path: Path, separator: str, decimal: str) -> None:
    trees = [item for item in some() if isinstance(item, Tree)]
    path = tmp_path / "trees.csv"
    export(path, trees, crs=SITE_CRS, separator=separator, decimal=decimal)
    back = to_elements(read_features(path, target_crs=SITE_CRS), "tree")
    assert not back.skipped
    for a, b in zip(trees, back.elements, strict=True):
        alike(a, b, 0.02)


def test_a_table_of_areas_carries_wkt(tmp_path: Path) -> None:
    zones = [item for item in some() if isinstance(item, Zone)]
    path = tmp_path / "zones.csv"
    export(path, zones, crs=SITE_CRS)
    with pytest.raises(BadData, match="CRS"):
        read_features(path, target_crs=SITE_CRS)
    found = read_features(path, target_crs=SITE_CRS, file_crs=SITE_CRS)
    alike(zones[0], to_elements(found, "zone").elements[0], 1e-3)
    with path.open(encoding="utf-8-sig", newline="") as file:
        (row,) = csv.DictReader(file)
    assert row["intensity"] == "2"
    inside = shapely.Point(float(row["easting_m"]), float(row["northing_m"]))
    assert zones[0].geometry.contains(inside)


def test_grid_columns_alone(tmp_path: Path) -> None:
    path = tmp_path / "trees.csv"
    trees = [item for item in some() if isinstance(item, Tree)]
    export(path, trees, crs=SITE_CRS, positions=("grid",))
    found = read_features(
        path, target_crs=SITE_CRS, file_crs=SITE_CRS, columns=Columns(x="easting_m", y="northing_m")
    )
    assert found.features[1].geometry.equals(trees[1].geometry)


def test_kml_and_gpx_come_back_as_far_as_they_can(tmp_path: Path) -> None:
    kml = export(tmp_path / "all.kml", some(), crs=SITE_CRS)
    trees = to_elements(read_features(kml.path, target_crs=SITE_CRS), "tree").elements
    assert [t.height_m for t in trees] == [12.5, None]  # type: ignore[attr-defined]
    assert trees[0].name == "Alte „Eiche“ & <Co>; usw"
    tracks = to_elements(read_features(kml.path, target_crs=SITE_CRS), "track").elements
    assert tracks[0].fire_access is False  # type: ignore[attr-defined]
    gpx = export(tmp_path / "all.gpx", some(), crs=SITE_CRS)
    assert "2 were written as closed tracks" in gpx.notes[0]
    found = read_features(gpx.path, target_crs=SITE_CRS)
    assert [layer.name for layer in found.layers] == ["waypoints", "tracks"]
    assert sum(layer.count for layer in found.layers) == len(some())


def test_every_kind_and_field_is_written_and_typed(tmp_path: Path) -> None:
    shapes = {
        "Point": shapely.Point(EAST, NORTH),
        "LineString": shapely.LineString([(EAST, NORTH), (EAST + 9, NORTH)]),
        "Polygon": shapely.box(EAST, NORTH, EAST + 9, NORTH + 9),
    }
    items = [k.cls(geometry=shapes[k.geometry]) for k in element_kinds().values()]  # type: ignore[call-arg]
    path = tmp_path / "kinds.gpkg"
    export(path, items, crs=SITE_CRS)  # type: ignore[arg-type]
    assert {name for name, _ in pyogrio.list_layers(path)} == set(element_kinds())
    wanted = {
        FieldType.NUMBER: "float64", FieldType.INTEGER: "int64", FieldType.FLAG: "bool",
        FieldType.TEXT: "object", FieldType.LONG_TEXT: "object", FieldType.ROWS: "object",
        FieldType.CHOICE: "object",
        FieldType.DATE: "datetime64[D]",
    }  # fmt: skip
    for key, kind in element_kinds().items():
        info = pyogrio.read_info(path, layer=key)
        assert info["crs"] == SITE_CRS
        assert info["geometry_type"] == kind.geometry
        types = dict(zip(info["fields"], info["dtypes"], strict=True))
        assert set(types) == {"id", *(column_of(spec) for spec in kind.specs)}
        for spec in kind.specs:
            assert types[column_of(spec)] == wanted[spec.type], (key, spec.name)


def test_a_file_there_is_replaced_only_by_a_whole_one(tmp_path: Path) -> None:
    path = tmp_path / "all.geojson"
    path.write_text("old")
    with pytest.raises(BadData, match="nothing to write"):
        export(path, [], crs=SITE_CRS)
    assert path.read_text() == "old"
    export(path, some(), crs=SITE_CRS)
    assert path.read_text() != "old"
    assert [p.name for p in tmp_path.iterdir()] == ["all.geojson"]


def test_what_cannot_be_written_is_said(tmp_path: Path) -> None:
    with pytest.raises(BadData, match="not a format"):
        export(tmp_path / "all.docx", some(), crs=SITE_CRS)
    with pytest.raises(StoreTrouble, match="could not be written"):
        export(tmp_path / "nowhere" / "all.geojson", some(), crs=SITE_CRS)
    (tmp_path / "site.gpkg").write_bytes(b"a site")
    with pytest.raises(BadData, match="own file"):
        export(tmp_path / "site.gpkg", some(), crs=SITE_CRS)
    assert (tmp_path / "site.gpkg").read_bytes() == b"a site"


def test_text_xml_cannot_hold_is_left_out(tmp_path: Path) -> None:
    tree = attrs.evolve(some()[0], name="a\x00b\x1bc")
    for suffix in (".kml", ".gpx"):
        path = tmp_path / f"t{suffix}"
        export(path, [tree], crs=SITE_CRS)
        found = read_features(path, target_crs=SITE_CRS)
        assert found.features[0].values["name"] == "abc"


def test_maps_are_geotiffs_others_can_read(tmp_path: Path) -> None:
    z = np.random.default_rng(2).normal(200, 50, (300, 410))
    z[4:9, 7] = np.nan
    grid = Grid(z, EAST, NORTH, 0.5)
    path = tmp_path / "slope.tif"
    write_grid(path, grid, SITE_CRS, description="Slope", unit="ratio")
    with rasterio.open(path) as data:
        assert data.crs.to_epsg() == 7854
        assert data.bounds == (EAST, NORTH - 150, EAST + 205, NORTH)
        assert data.descriptions == ("Slope",)
        assert data.units == ("ratio",)
        np.testing.assert_array_equal(data.read(1), z.astype(np.float32))
    np.testing.assert_array_equal(open_grid(path).z, z.astype(np.float32))
    with pytest.raises(StoreTrouble):
        write_grid(tmp_path / "no" / "slope.tif", grid, SITE_CRS)
    assert [p.name for p in tmp_path.iterdir()] == ["slope.tif"]


def test_the_boundary_goes_out_and_comes_in_as_a_boundary(tmp_path: Path) -> None:
    lot = SiteBoundary(geometry=shapely.box(EAST, NORTH, EAST + 250, NORTH + 280), deed_area_m2=7e4)
    for suffix in (".geojson", ".gpkg", ".kml", ".gpx"):
        path = tmp_path / f"lot{suffix}"
        export(path, [lot], crs=SITE_CRS)
        found = read_features(path, target_crs=SITE_CRS)
        (back,) = to_elements(found, "site_boundary").elements
        assert back.geometry.area == pytest.approx(70_000, abs=6)
