"""KML against OGC 07-147r2 (KML 2.2.0) and against GDAL.

The example was read in the standard's text; the order of elements and the form of identities are
from memory of its schema.
"""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

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
SPACE = "{http://www.opengis.net/kml/2.2}"

#: OGC 07-147r2 §10.7.4, the example of kml:LineString: longitude, latitude, height.
EXAMPLE = "-122.364383,37.824664,0 -122.364152,37.824322,0"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    hole = shapely.box(EAST + 10, NORTH + 10, EAST + 20, NORTH + 20)
    items = [
        Tree(geometry=shapely.Point(EAST, NORTH), name="Oak <old> & big", height_m=12.0),
        Track(geometry=shapely.LineString([(EAST, NORTH), (EAST + 90, NORTH + 5)])),
        Zone(geometry=shapely.box(EAST, NORTH, EAST + 90, NORTH + 50).difference(hole)),
    ]
    export(tmp_path / "out.kml", items, crs=SITE_CRS)
    return tmp_path / "out.kml"


def test_the_standard_s_example_is_read(tmp_path: Path) -> None:
    path = tmp_path / "example.kml"
    path.write_text(
        f'<kml xmlns="{SPACE[1:-1]}"><Document><name>LineString.kml</name><open>1</open><Placemark>'
        "<name>unextruded</name><LineString><extrude>0</extrude><tessellate>1</tessellate>"
        f"<coordinates>{EXAMPLE}</coordinates></LineString></Placemark></Document></kml>"
    )
    (line,) = read_features(path, target_crs="EPSG:26910").features
    assert line.values["name"] == "unextruded"
    to = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:26910", always_xy=True)
    want = to.transform([-122.364383, -122.364152], [37.824664, 37.824322])
    got = shapely.get_coordinates(line.geometry)
    assert got == pytest.approx(np.column_stack(want), abs=1e-6)


def test_identities_are_names_xml_allows(path: Path) -> None:
    seen = set()
    for node in ElementTree.parse(path).iter(f"{SPACE}Placemark"):
        ident = node.attrib["id"]
        assert ident[0].isalpha()  # an NCName: no digit first, no colon
        assert ":" not in ident
        assert ident not in seen
        seen.add(ident)
    assert len(seen) == 3


def test_features_stand_in_the_schema_s_order(path: Path) -> None:
    # The feature's sequence, then the placemark's own geometry.
    order = ["name", "description", "ExtendedData", "Point", "LineString", "Polygon"]
    for node in ElementTree.parse(path).iter(f"{SPACE}Placemark"):
        places = [order.index(child.tag.removeprefix(SPACE)) for child in node]
        assert places == sorted(places)


def test_gdal_reads_it_as_we_meant_it(path: Path) -> None:
    assert [name for name, _ in pyogrio.list_layers(path)] == ["Trees", "Tracks", "Zones"]
    meta, _, shapes, columns = pyogrio.raw.read(path, layer="Trees")
    by_name = dict(zip(meta["fields"], columns, strict=True))
    assert by_name["Name"][0] == "Oak <old> & big"
    spot = shapely.from_wkb(shapes[0])
    lon, lat = pyproj.Transformer.from_crs(SITE_CRS, "EPSG:4326", always_xy=True).transform(
        EAST, NORTH
    )
    Ref(lon, 0.6e-7, "pyproj").check(spot.x)
    Ref(lat, 0.6e-7, "pyproj").check(spot.y)
    _, _, areas, _ = pyogrio.raw.read(path, layer="Zones")
    zone = shapely.from_wkb(areas[0])
    assert len(zone.interiors) == 1
    area = abs(pyproj.Geod(ellps="WGS84").geometry_area_perimeter(zone)[0])
    # 90 x 50 less 10 x 10 on the grid; the grid's scale here is within 0.1 % of the ground's.
    Ref(4400, 9, "the rectangle drawn").check(area)
