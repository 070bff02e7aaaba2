"""GPX 1.1 against its schema, read in gpx.xsd, and against gpxpy."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

import gpxpy
import pyproj
import pytest
import shapely
from published.ref import Ref

from canvas.exchange.write import export
from canvas.site.elements.access import Track
from canvas.site.elements.land import Zone
from canvas.site.elements.vegetation import Tree

SITE_CRS, EAST, NORTH = "EPSG:7854", 632_600.0, 5_848_600.0
SPACE = "{http://www.topografix.com/GPX/1/1}"

#: gpx.xsd: "elements must appear in this order" (wptType; trkType without its points).
ORDER = {
    "gpx": ["metadata", "wpt", "rte", "trk", "extensions"],
    "metadata": [
        "name", "desc", "author", "copyright", "link", "time", "keywords", "bounds", "extensions",
    ],
    "wpt": [
        "ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym",
        "type", "fix", "sat", "hdop", "vdop", "pdop", "ageofdgpsdata", "dgpsid", "extensions",
    ],
    "trk": ["name", "cmt", "desc", "src", "link", "number", "type", "extensions", "trkseg"],
    "trkseg": ["trkpt", "extensions"],
}  # fmt: skip


@pytest.fixture
def path(tmp_path: Path) -> Path:
    hole = shapely.box(EAST + 10, NORTH + 10, EAST + 20, NORTH + 20)
    items = [
        Track(geometry=shapely.LineString([(EAST, NORTH), (EAST + 90, NORTH + 5)]), name="Drive"),
        Tree(geometry=shapely.Point(EAST, NORTH), name="Oak <old> & big", height_m=12.0),
        Zone(geometry=shapely.box(EAST, NORTH, EAST + 90, NORTH + 50).difference(hole)),
    ]
    export(tmp_path / "out.gpx", items, crs=SITE_CRS)
    return tmp_path / "out.gpx"


def test_elements_stand_in_the_schema_s_order(path: Path) -> None:
    root = ElementTree.parse(path).getroot()
    assert root.tag == f"{SPACE}gpx"
    assert root.get("version") == "1.1"
    assert root.get("creator")
    for node in root.iter():
        order = ORDER.get(node.tag.removeprefix(SPACE))
        if order is None:
            continue
        places = [order.index(child.tag.removeprefix(SPACE)) for child in node]
        assert places == sorted(places), node.tag


def test_latitudes_and_longitudes_are_in_the_schema_s_range(path: Path) -> None:
    for node in ElementTree.parse(path).iter():
        if "lat" in node.attrib:
            assert -90 <= float(node.attrib["lat"]) <= 90  # latitudeType
            assert -180 <= float(node.attrib["lon"]) < 180  # longitudeType: 180 itself is out


def test_gpxpy_reads_it_as_we_meant_it(path: Path) -> None:
    document = gpxpy.parse(path.read_text(encoding="utf-8"))
    assert document.version == "1.1"
    assert document.time is not None
    (oak,) = document.waypoints
    assert (oak.name, oak.type) == ("Oak <old> & big", "tree")
    assert "Height now" in oak.description
    to = pyproj.Transformer.from_crs(SITE_CRS, "EPSG:4326", always_xy=True)
    lon, lat = to.transform(EAST, NORTH)
    Ref(lon, 0.6e-7, "pyproj").check(oak.longitude)
    Ref(lat, 0.6e-7, "pyproj").check(oak.latitude)
    drive, zone = document.tracks
    assert (drive.name, drive.type, len(drive.segments)) == ("Drive", "track", 1)
    # Reference: pyproj's geodesic on the ellipsoid of WGS 84; gpxpy's own length is a sphere's.
    lons, lats = to.transform([EAST, EAST + 90], [NORTH, NORTH + 5])
    long_m = pyproj.Geod(ellps="WGS84").line_length(lons, lats)
    Ref(long_m, long_m * 0.005, "pyproj, within the sphere's half percent").check(drive.length_2d())
    assert [len(s.points) for s in zone.segments] == [5, 5]
    for segment in zone.segments:
        first, last = segment.points[0], segment.points[-1]
        assert (first.latitude, first.longitude) == (last.latitude, last.longitude)
