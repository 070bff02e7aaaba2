"""Every vector format, written by GDAL or gpxpy, lands where pyproj says it should."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Callable
from pathlib import Path

import gpxpy.gpx
import numpy as np
import pyproj
import pytest
import shapely

from canvas.base.errors import BadData
from canvas.exchange.incoming import Columns
from canvas.exchange.read import read_features

EAST, NORTH, SITE_CRS = 632_600.0, 5_848_600.0, "EPSG:7854"
Maker = Callable[..., Path]
#: Coordinates in degrees carry at least 7 decimals (11 mm) in the files GDAL writes by default.
DEGREE_FILE_M = 0.02

LOT = shapely.Polygon(
    [(EAST, NORTH), (EAST + 250, NORTH + 20), (EAST + 230, NORTH + 280), (EAST - 10, NORTH + 260)],
    [[(EAST + 50, NORTH + 60), (EAST + 50, NORTH + 90), (EAST + 90, NORTH + 90)]],
)


def in_degrees(shape: shapely.Geometry, crs: str = SITE_CRS) -> shapely.Geometry:
    to = pyproj.Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    return shapely.transform(shape, lambda p: np.column_stack(to.transform(p[:, 0], p[:, 1])))


def apart(a: shapely.Geometry, b: shapely.Geometry) -> float:
    return float(shapely.hausdorff_distance(a, b))


@pytest.mark.parametrize("name", ["lot.gpkg", "lot.shp", "lot.geojson", "lot.kml"])
def test_an_area_with_a_hole_comes_in(gdal_file: Maker, name: str) -> None:
    degrees = name.endswith((".kml", ".geojson"))
    shape = in_degrees(LOT) if degrees else LOT
    crs = "EPSG:4326" if degrees else SITE_CRS
    path = gdal_file(name, [shape], crs, name=["Lot 12"])
    found = read_features(path, target_crs=SITE_CRS)
    assert not found.skipped
    assert len(found.features) == 1
    assert apart(found.features[0].geometry, LOT) < (DEGREE_FILE_M if degrees else 1e-3)
    assert len(found.features[0].geometry.interiors) == 1
    text = {key.lower(): value for key, value in found.features[0].values.items()}
    assert text["name"] == "Lot 12"


@pytest.mark.parametrize(
    ("crs", "x", "y"),
    [
        ("EPSG:32719", 345_000.0, 6_300_000.0),  # UTM 19 south, Chile
        ("EPSG:3763", -30_000.0, 120_000.0),  # Portugal TM06
        ("EPSG:2193", 1_750_000.0, 5_430_000.0),  # New Zealand TM
        ("EPSG:26910", 550_000.0, 4_180_000.0),  # UTM 10 north, California
        ("EPSG:2154", 700_000.0, 6_400_000.0),  # Lambert-93, conic
    ],
)
def test_any_projected_crs_on_either_hemisphere(
    gdal_file: Maker, crs: str, x: float, y: float
) -> None:
    line = shapely.LineString([(x, y), (x + 120, y + 40), (x + 200, y - 60)])
    geographic = gdal_file("way.geojson", [in_degrees(line, crs)], "EPSG:4326", no=[1])
    found = read_features(geographic, target_crs=crs)
    assert apart(found.features[0].geometry, line) < DEGREE_FILE_M
    grid = gdal_file("way.gpkg", [line], crs, no=[1])
    same = read_features(grid, target_crs=crs)
    assert apart(same.features[0].geometry, line) < 1e-6
    assert same.crs_of_file == crs


def test_a_zipped_shapefile_in_another_datum(gdal_file: Maker, tmp_path: Path) -> None:
    # GDA94 against GDA2020: the plates moved about 1.8 m between the two epochs.
    gdal_file("fence.shp", [shapely.Point(EAST, NORTH)], "EPSG:28354", Zaun=["Höhe"])
    archive = tmp_path / "fence.zip"
    with zipfile.ZipFile(archive, "w") as out:
        for member in tmp_path.glob("fence.*"):
            if member.suffix in (".shp", ".shx", ".dbf", ".prj", ".cpg"):
                out.write(member, f"export/{member.name}")
    found = read_features(archive, target_crs=SITE_CRS)
    want = pyproj.Transformer.from_crs("EPSG:28354", SITE_CRS, always_xy=True)
    x, y = want.transform(EAST, NORTH)
    assert 1.0 < np.hypot(x - EAST, y - NORTH) < 2.5
    got = found.features[0].geometry
    assert np.hypot(got.x - x, got.y - y) < 1e-3
    assert found.features[0].values["Zaun"] == "Höhe"
    assert found.crs_of_file == "EPSG:28354"


def test_a_shapefile_without_prj_asks_for_its_crs(gdal_file: Maker) -> None:
    path = gdal_file("bare.shp", [shapely.Point(EAST, NORTH)], no=[1])
    path.with_suffix(".prj").unlink()
    path.with_suffix(".shx").unlink()
    with pytest.raises(BadData, match="EPSG"):
        read_features(path, target_crs=SITE_CRS)
    found = read_features(path, target_crs=SITE_CRS, file_crs=SITE_CRS)
    assert found.features[0].geometry.equals(shapely.Point(EAST, NORTH))
    assert not path.with_suffix(".shx").exists(), "nothing may be written beside a foreign file"


def test_layers_of_a_geopackage(gdal_file: Maker) -> None:
    path = gdal_file("two.gpkg", [LOT], layer="lots", name=["a"])
    points = [shapely.Point(EAST, NORTH), shapely.Point(EAST + 5, NORTH)]
    gdal_file("two.gpkg", points, layer="trees", append=True, name=["b", "c"])
    first = read_features(path, target_crs=SITE_CRS)
    assert len(first.features) == 2
    assert {layer.name: layer.count for layer in first.layers} == {"lots": 1, "trees": 2}
    assert any("lots" in note for note in first.notes)
    lots = read_features(path, target_crs=SITE_CRS, layer="lots")
    assert lots.features[0].geometry.equals(LOT)
    with pytest.raises(BadData, match="no layer"):
        read_features(path, target_crs=SITE_CRS, layer="shrubs")


def gpx_file(path: Path) -> Path:
    """Write waypoints, a route and a track of two runs through gpxpy."""
    document = gpxpy.gpx.GPX()
    document.waypoints.append(
        gpxpy.gpx.GPXWaypoint(-37.5, 142.5, elevation=312.5, name="Spring & well")
    )
    route = gpxpy.gpx.GPXRoute(name="Drive")
    route.points += [gpxpy.gpx.GPXRoutePoint(-37.5, 142.5), gpxpy.gpx.GPXRoutePoint(-37.51, 142.5)]
    document.routes.append(route)
    track = gpxpy.gpx.GPXTrack(name="Walk")
    for start in (142.5, 142.6):
        segment = gpxpy.gpx.GPXTrackSegment()
        segment.points += [
            gpxpy.gpx.GPXTrackPoint(-37.5, start),
            gpxpy.gpx.GPXTrackPoint(-37.501, start),
        ]
        track.segments.append(segment)
    document.tracks.append(track)
    path.write_text(document.to_xml(), encoding="utf-8")
    return path


def test_gpx_waypoints_routes_and_tracks(tmp_path: Path) -> None:
    path = gpx_file(tmp_path / "walk.gpx")
    found = read_features(path, target_crs=SITE_CRS)
    kinds = [feature.geometry.geom_type for feature in found.features]
    assert kinds == ["Point", "LineString", "MultiLineString"]
    assert found.features[0].values == {"name": "Spring & well", "ele": "312.5"}
    assert [layer.name for layer in found.layers] == ["waypoints", "routes", "tracks"]
    to = pyproj.Transformer.from_crs("EPSG:4326", SITE_CRS, always_xy=True)
    x, y = to.transform(142.5, -37.5)
    assert np.hypot(found.features[0].geometry.x - x, found.features[0].geometry.y - y) < 1e-6
    only = read_features(path, target_crs=SITE_CRS, layer="tracks")
    assert [feature.place for feature in only.features] == ["track 1"]


def test_kmz_with_folders_data_and_several_shapes(tmp_path: Path) -> None:
    ring = "142.5,-37.5,0 142.501,-37.5,0 142.501,-37.499,0 142.5,-37.5,0"
    polygon = (
        f"<Polygon><outerBoundaryIs><LinearRing><coordinates>{ring}</coordinates></LinearRing>"
        "</outerBoundaryIs></Polygon>"
    )
    body = (
        '<kml xmlns="http://www.opengis.net/kml/2.2"><Document><name>Plan</name>'
        "<Folder><name>Fields</name><Placemark><name>Upper</name><ExtendedData>"
        '<Data name="crop"><displayName>Crop</displayName><value>Oats</value></Data>'
        '<SchemaData schemaUrl="#s"><SimpleData name="ha">1.5</SimpleData></SchemaData>'
        f"</ExtendedData><MultiGeometry>{polygon}{polygon}</MultiGeometry></Placemark></Folder>"
        "<Placemark><name>Nowhere</name></Placemark>"
        "<NetworkLink><Link><href>http://example.org/x.kml</href></Link></NetworkLink>"
        "</Document></kml>"
    )
    path = tmp_path / "plan.kmz"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("doc.kml", body)
    found = read_features(path, target_crs=SITE_CRS)
    assert found.format == "KMZ"
    (field,) = found.features
    assert field.geometry.geom_type == "MultiPolygon"
    assert field.values == {"name": "Upper", "folder": "Fields", "crop": "Oats", "ha": "1.5"}
    assert [(s.place, s.why) for s in found.skipped] == [("placemark 2", "it has no shape")]
    assert any("links" in note for note in found.notes)


def test_geojson_that_names_its_own_crs(tmp_path: Path) -> None:
    path = tmp_path / "old.geojson"
    shape = {"type": "Point", "coordinates": [EAST, NORTH]}
    feature = {"type": "Feature", "properties": {"n": 3}, "geometry": shape}
    document: dict[str, object] = {"type": "FeatureCollection", "features": [feature]}
    path.write_text(json.dumps(document))
    with pytest.raises(BadData, match="CRS"):
        read_features(path, target_crs=SITE_CRS)  # metres where degrees belong
    name = {"name": "urn:ogc:def:crs:EPSG::7854"}
    path.write_text(json.dumps(document | {"crs": {"type": "name", "properties": name}}))
    found = read_features(path, target_crs=SITE_CRS)
    assert found.features[0].geometry.equals(shapely.Point(EAST, NORTH))
    assert any("names its own CRS" in note for note in found.notes)


def test_swapped_latitude_and_longitude_are_noticed(tmp_path: Path) -> None:
    path = tmp_path / "swapped.csv"
    path.write_text("name,lat,lon\na,142.5,-37.5\nb,-37.5,142.5\n")
    found = read_features(path, target_crs=SITE_CRS)
    assert len(found.features) == 1
    assert "swapped" in found.skipped[0].why
    far = tmp_path / "far.csv"
    far.write_text("name,lat,lon\na,42.5,-7.5\n")
    assert any("outside the area" in n for n in read_features(far, target_crs=SITE_CRS).notes)
    site = (EAST, NORTH, EAST + 300, NORTH + 300)
    near = tmp_path / "near.csv"
    near.write_text("name,lat,lon\na,-37.5,142.5\nb,-37.5,144.5\n")
    told = read_features(near, target_crs=SITE_CRS, site=site)
    assert any("1 of 2 features lie more than 50 km" in note for note in told.notes)
    kept = read_features(near, target_crs=SITE_CRS, site=site, near_m=2000)
    assert len(kept.features) == 1


def test_a_district_is_read_only_around_the_site(gdal_file: Maker) -> None:
    lots = [
        shapely.box(EAST + i * 500, NORTH, EAST + i * 500 + 400, NORTH + 400) for i in range(50)
    ]
    path = gdal_file("district.gpkg", lots, no=list(range(50)))
    site = (EAST, NORTH, EAST + 300, NORTH + 300)
    found = read_features(path, target_crs=SITE_CRS, site=site, near_m=600)
    assert sorted(f.values["no"] for f in found.features) == [0, 1]


def test_the_file_crs_a_person_gives_wins(gdal_file: Maker) -> None:
    path = gdal_file("said.gpkg", [shapely.Point(EAST, NORTH)], "EPSG:28354", no=[1])
    found = read_features(path, target_crs=SITE_CRS, file_crs=SITE_CRS)
    assert found.features[0].geometry.equals(shapely.Point(EAST, NORTH))
    assert any("as asked" in note for note in found.notes)
    with pytest.raises(BadData, match="not one that is known"):
        read_features(path, target_crs=SITE_CRS, file_crs="EPSG:999999")


def test_a_shapefile_in_an_old_code_page(gdal_file: Maker, tmp_path: Path) -> None:
    path = gdal_file("alt.shp", [shapely.Point(EAST, NORTH)], name=["Mühle"])
    path.with_suffix(".cpg").unlink()
    dbf = path.with_suffix(".dbf")
    data = dbf.read_bytes().replace("Mühle".encode(), "Mühle".encode("cp437") + b" ")
    dbf.write_bytes(data)
    found = read_features(path, target_crs=SITE_CRS, columns=Columns(encoding="cp437"))
    assert found.features[0].values["name"] == "Mühle"
