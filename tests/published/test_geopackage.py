"""The site file against the OGC standard's own requirements, and read by an independent library.

The requirements were read in the standard's text (geopackage13: clauses 1.1 and 2.1, annexes F.3
and F.9, with their abstract tests); the independent library is GDAL's driver, by way of pyogrio.
"""

from __future__ import annotations

import math
import re
import sqlite3
import struct
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pyogrio
import pyogrio.raw
import pyproj
import pytest
import shapely
from published.ref import Ref
from shapely.geometry import LineString, Point, Polygon

from canvas.site.edits import add, put, remove
from canvas.site.elements.access import Track
from canvas.site.elements.land import Zone
from canvas.site.elements.vegetation import Tree
from canvas.site.facts import Phase, Site
from canvas.site.fields import FieldType
from canvas.site.records import changed, kinds
from canvas.site.session import Session

STANDARD = "geopackage13"
#: Requirement 2: "GPKG" in ASCII, and major, minor, patch as 1, 03, 00.
APPLICATION_ID = Ref(0x47504B47, 0, f"{STANDARD}, requirement 2")
USER_VERSION = Ref(10300, 0, f"{STANDARD}, requirement 2")
#: Table of column data types, requirement 5, with the core geometry types.
DATA_TYPES = {
    *("BOOLEAN", "TINYINT", "SMALLINT", "MEDIUMINT", "INT", "INTEGER", "FLOAT", "DOUBLE", "REAL"),
    *("TEXT", "BLOB", "DATE", "DATETIME"),
    *("POINT", "LINESTRING", "POLYGON", "MULTIPOINT", "MULTILINESTRING", "MULTIPOLYGON"),
    *("GEOMETRY", "GEOMETRYCOLLECTION"),
}
#: How GDAL names what our field types become.
OGR_TYPES = {
    FieldType.TEXT: ("OFTString", "OFSTNone"),
    FieldType.LONG_TEXT: ("OFTString", "OFSTNone"),
    FieldType.ROWS: ("OFTString", "OFSTNone"),
    FieldType.CHOICE: ("OFTString", "OFSTNone"),
    FieldType.NUMBER: ("OFTReal", "OFSTNone"),
    FieldType.INTEGER: ("OFTInteger64", "OFSTNone"),
    FieldType.FLAG: ("OFTInteger", "OFSTBoolean"),
    FieldType.DATE: ("OFTDate", "OFSTNone"),
}

TREES = [
    Tree(
        id=f"tree{i}",
        geometry=Point(614_000 + 10 * i + 1 / 3, 5_860_000 + i),
        name=f"Træ {i}",
        height_m=i + 0.5 if i else None,
    )
    for i in range(50)
]
RING = Polygon([(0, 0), (9, 0), (9, 9), (0, 9)], [[(1, 1), (2, 1), (2, 2)]])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A site that was written, moved about and closed."""
    folder = tmp_path_factory.mktemp("conforming")
    phase = Phase(id="first", name="First", place=2, starts="2026-03-31")
    with Session.start(folder, Site(name="Hill", crs="EPSG:7854"), [phase]) as session:
        session.apply(add("Plant", TREES))
        zone = Zone(id="zone", geometry=shapely.affinity.translate(RING, 614_000, 5_860_000))
        track = Track(geometry=LineString([(614_000, 5_860_000), (614_100, 5_860_050)]))
        session.apply(add("Draw", [zone, track]))
        far = changed(TREES[3], geometry=Point(613_000, 5_861_000))
        session.apply(put("Move", [(TREES[3], far)]))
        session.apply(remove("Fell", [TREES[49]]))
    return folder


@pytest.fixture
def con(folder: Path) -> Iterator[sqlite3.Connection]:
    made = sqlite3.connect(f"{(folder / 'site.gpkg').as_uri()}?mode=ro", uri=True)
    yield made
    made.close()


def test_the_header_says_geopackage(folder: Path, con: sqlite3.Connection) -> None:
    head = (folder / "site.gpkg").read_bytes()[:100]
    # Requirement 1: the first 16 bytes.
    assert head[:16] == b"SQLite format 3\0"
    # The fields' places are those of the SQLite file format: 60 and 68.
    USER_VERSION.check(struct.unpack_from(">I", head, 60)[0])
    APPLICATION_ID.check(struct.unpack_from(">I", head, 68)[0])
    # Requirements 6 and 7.
    assert con.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert con.execute("PRAGMA foreign_key_check").fetchall() == []


def test_columns_have_the_standards_types(con: sqlite3.Connection) -> None:
    """Requirement 5; `NUMERIC` is the standard's own exception (annex F.9)."""
    tables = [name for (name,) in con.execute("SELECT table_name FROM gpkg_contents")]
    assert set(tables) == set(kinds())
    for table in tables:
        for _, column, sql_type, *_ in con.execute(f'PRAGMA table_info("{table}")'):
            assert sql_type in DATA_TYPES, f"{table}.{column}"


def test_coordinate_systems_are_listed(con: sqlite3.Connection) -> None:
    """Requirements 11 and 12."""
    rows = {
        srs_id: (organization.upper(), code, definition)
        for srs_id, organization, code, definition in con.execute(
            "SELECT srs_id, organization, organization_coordsys_id, definition "
            "FROM gpkg_spatial_ref_sys"
        )
    }
    assert rows[4326][:2] == ("EPSG", 4326)
    assert pyproj.CRS(rows[4326][2]) == pyproj.CRS("EPSG:4326")
    assert rows[-1] == ("NONE", -1, "undefined")
    assert rows[0] == ("NONE", 0, "undefined")
    assert rows[7854][:2] == ("EPSG", 7854)
    assert pyproj.CRS(rows[7854][2]) == pyproj.CRS("EPSG:7854")


def test_contents_and_geometry_columns_agree(con: sqlite3.Connection) -> None:
    """Requirements 13 to 33 as far as they speak of tables."""
    contents = {
        row[0]: row[1:]
        for row in con.execute(
            "SELECT table_name, data_type, srs_id, last_change, identifier FROM gpkg_contents"
        )
    }
    columns = {
        row[0]: row[1:] for row in con.execute("SELECT * FROM gpkg_geometry_columns").fetchall()
    }
    for key, kind in kinds().items():
        data_type, srs_id, last_change, identifier = contents[key]
        assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", last_change)
        assert identifier == kind.plural
        if not kind.geometry:
            assert (data_type, key in columns) == ("attributes", False)
            continue
        assert (data_type, srs_id) == ("features", 7854)
        column, name, srs, z, m = columns[key]
        assert (name, srs, z, m) == (kind.geometry.upper(), 7854, 0, 0)
        declared = {row[1]: row[2] for row in con.execute(f'PRAGMA table_info("{key}")')}
        assert declared[column] == name


def test_geometries_lie_in_their_header_and_tables_extent(con: sqlite3.Connection) -> None:
    """Requirements 19, 33 and 148: the blob's header, its envelope, the table's extent."""
    rows = con.execute(
        "SELECT t.geom, c.min_x, c.max_x, c.min_y, c.max_y FROM tree t, gpkg_contents c "
        "WHERE c.table_name='tree'"
    ).fetchall()
    assert len(rows) == 49
    for blob, *extent in rows:
        magic, version, flags, srs_id = struct.unpack_from("<2sBBi", blob)
        assert (magic, version, flags, srs_id) == (b"GP", 0, 0b0000_0011, 7854)
        envelope = struct.unpack_from("<4d", blob, 8)
        shape = shapely.from_wkb(blob[40:])
        assert envelope == (shape.x, shape.x, shape.y, shape.y)
        assert extent[0] <= shape.x <= extent[1]
        assert extent[2] <= shape.y <= extent[3]
    # True, not only wide enough: the moved tree made it wider, the felled one narrower.
    assert extent == [613_000, 614_000 + 480 + 1 / 3, 5_860_000, 5_861_000]
    empty = con.execute("SELECT min_x, max_y FROM gpkg_contents WHERE table_name='fence'")
    assert empty.fetchone() == (None, None)


#: Annex F.3, requirement 77, as it stands in 1.3 (update1 and update3 were renamed in 1.4).
TRIGGERS = {
    "insert": """AFTER INSERT ON <t> WHEN (NEW.<c> NOT NULL AND NOT ST_IsEmpty(NEW.<c>)) BEGIN
        INSERT OR REPLACE INTO <r> VALUES (NEW.<i>, <box>); END""",
    "update1": """AFTER UPDATE OF <c> ON <t> WHEN OLD.<i> = NEW.<i> AND
        (NEW.<c> NOTNULL AND NOT ST_IsEmpty(NEW.<c>)) BEGIN
        INSERT OR REPLACE INTO <r> VALUES (NEW.<i>, <box>); END""",
    "update2": """AFTER UPDATE OF <c> ON <t> WHEN OLD.<i> = NEW.<i> AND
        (NEW.<c> ISNULL OR ST_IsEmpty(NEW.<c>)) BEGIN
        DELETE FROM <r> WHERE id = OLD.<i>; END""",
    "update3": """AFTER UPDATE ON <t> WHEN OLD.<i> != NEW.<i> AND
        (NEW.<c> NOTNULL AND NOT ST_IsEmpty(NEW.<c>)) BEGIN
        DELETE FROM <r> WHERE id = OLD.<i>;
        INSERT OR REPLACE INTO <r> VALUES (NEW.<i>, <box>); END""",
    "update4": """AFTER UPDATE ON <t> WHEN OLD.<i> != NEW.<i> AND
        (NEW.<c> ISNULL OR ST_IsEmpty(NEW.<c>)) BEGIN
        DELETE FROM <r> WHERE id IN (OLD.<i>, NEW.<i>); END""",
    "delete": """AFTER DELETE ON <t> WHEN OLD.<c> NOT NULL BEGIN
        DELETE FROM <r> WHERE id = OLD.<i>; END""",
}
BOX = "ST_MinX(NEW.<c>), ST_MaxX(NEW.<c>), ST_MinY(NEW.<c>), ST_MaxY(NEW.<c>)"


def plain(sql: str) -> str:
    return " ".join(sql.replace('"', "").split())


@pytest.mark.parametrize("table", ["tree", "track", "zone"])
def test_the_r_tree_is_the_standards(con: sqlite3.Connection, table: str) -> None:
    """Requirements 75 to 77."""
    rtree = f"rtree_{table}_geom"
    (sql,) = con.execute("SELECT sql FROM sqlite_master WHERE name=?", (rtree,)).fetchone()
    assert plain(sql) == f"CREATE VIRTUAL TABLE {rtree} USING rtree(id, minx, maxx, miny, maxy)"
    found = {
        name.removeprefix(f"{rtree}_"): plain(sql)
        for name, sql in con.execute(
            "SELECT name, sql FROM sqlite_master WHERE type='trigger' AND tbl_name=?", (table,)
        )
    }
    for name, template in TRIGGERS.items():
        wanted = template.replace("<box>", BOX)
        for word, value in (("<t>", table), ("<c>", "geom"), ("<i>", "fid"), ("<r>", rtree)):
            wanted = wanted.replace(word, value)
        assert found.pop(name) == plain(f"CREATE TRIGGER {rtree}_{name} {wanted}")
    assert found == {}
    row = con.execute(
        "SELECT column_name, scope FROM gpkg_extensions "
        "WHERE table_name=? AND extension_name='gpkg_rtree_index'",
        (table,),
    ).fetchall()
    assert row == [("geom", "write-only")]


def test_columns_are_described(con: sqlite3.Connection) -> None:
    """Requirements 103 to 114 and 141."""
    assert con.execute(
        "SELECT table_name, column_name, scope FROM gpkg_extensions "
        "WHERE extension_name='gpkg_schema' ORDER BY table_name"
    ).fetchall() == [
        ("gpkg_data_column_constraints", None, "read-write"),
        ("gpkg_data_columns", None, "read-write"),
    ]
    constraints = con.execute(
        "SELECT constraint_name, constraint_type, value, min, min_is_inclusive, max, "
        "max_is_inclusive FROM gpkg_data_column_constraints"
    ).fetchall()
    for name, kind, value, low, low_in, high, high_in in constraints:
        assert name == name.lower()
        if kind == "range":
            assert value is None
            assert low < high
            assert {low_in, high_in} <= {0, 1}
        else:
            assert kind == "enum"
            assert value is not None
            assert (low, low_in, high, high_in) == (None, None, None, None)
    names = {row[0] for row in constraints}
    for table, column, limits in con.execute(
        "SELECT table_name, column_name, constraint_name FROM gpkg_data_columns"
    ):
        assert column in {spec.name for spec in kinds()[table].specs}
        assert limits is None or limits in names


def test_our_own_tables_are_registered(con: sqlite3.Connection) -> None:
    """Requirement 4: what is not of the core is registered as an extension."""
    ours = con.execute("SELECT name FROM sqlite_master WHERE name LIKE 'hillwright_%'").fetchall()
    registered = con.execute(
        "SELECT table_name FROM gpkg_extensions WHERE extension_name='hillwright_store'"
    ).fetchall()
    assert set(ours) == set(registered)
    assert len(ours) == 7


def test_gdal_reads_names_types_and_crs(folder: Path) -> None:
    file = folder / "site.gpkg"
    layers = dict(pyogrio.list_layers(file))
    assert layers == {key: kind.geometry or None for key, kind in kinds().items()}
    for key, kind in kinds().items():
        info = pyogrio.read_info(file, layer=key)
        assert list(info["fields"]) == ["id", *(spec.name for spec in kind.specs)]
        assert info["fid_column"] == "fid"
        types = list(zip(info["ogr_types"], info["ogr_subtypes"], strict=True))
        assert types[1:] == [OGR_TYPES[spec.type] for spec in kind.specs]
        if kind.geometry:
            assert (info["crs"], info["geometry_name"]) == ("EPSG:7854", "geom")
            assert info["capabilities"]["fast_spatial_filter"]


def test_gdal_reads_every_value(folder: Path) -> None:
    file = folder / "site.gpkg"
    meta, fids, shapes, values = pyogrio.raw.read(file, layer="tree", return_fids=True)
    read = dict(zip(meta["fields"], values, strict=True))
    assert list(fids) == list(range(1, 50))
    assert list(read["id"]) == [f"tree{i}" for i in range(49)]
    assert read["name"][7] == "Træ 7"
    assert math.isnan(read["height_m"][0])
    assert list(read["height_m"][1:3]) == [1.5, 2.5]
    assert shapely.from_wkb(shapes[7]) == TREES[7].geometry
    meta, _, _, values = pyogrio.raw.read(file, layer="phase")
    read = dict(zip(meta["fields"], values, strict=True))
    assert (read["name"][0], read["place"][0]) == ("First", 2)
    assert read["starts"][0] == np.datetime64("2026-03-31")
    _, _, shapes, _ = pyogrio.raw.read(file, layer="zone")
    zone = shapely.from_wkb(shapes[0])
    assert (zone.is_valid, len(zone.interiors), zone.area) == (True, 1, 81 - 0.5)


def test_gdal_finds_by_place_through_the_index(folder: Path) -> None:
    file = folder / "site.gpkg"
    box = (614_095.0, 5_859_000.0, 614_125.0, 5_860_100.0)
    fids, _ = pyogrio.read_bounds(file, layer="tree", bbox=box)
    assert sorted(fids) == [11, 12, 13]
    fids, _ = pyogrio.read_bounds(file, layer="tree", bbox=(612_000, 5_860_500, 613_500, 5_862_000))
    assert list(fids) == [4]
    bounds = pyogrio.read_info(file, layer="tree")["total_bounds"]
    assert bounds == (613_000.0, 5_860_000.0, 614_000 + 480 + 1 / 3, 5_861_000.0)


@pytest.mark.parametrize(
    "crs",
    [
        "EPSG:32629",
        "EPSG:3763",
        "EPSG:2193",
        "+proj=tmerc +lat_0=-37 +lon_0=142.5 +k=0.9999 +x_0=50000 +y_0=90000 +ellps=GRS80 +units=m",
    ],
)
def test_any_projected_crs_in_metres_is_read_back(tmp_path: Path, crs: str) -> None:
    """UTM 29 north, Portugal's and New Zealand's national grids, and one of the site's own."""
    with Session.start(tmp_path, Site(crs=crs), [Tree(geometry=Point(1, 2))]):
        pass
    read = pyproj.CRS(pyogrio.read_info(tmp_path / "site.gpkg", layer="tree")["crs"])
    wanted = pyproj.CRS(crs)
    there = pyproj.Transformer.from_crs(wanted, read, always_xy=True).transform(60_000, 100_000)
    assert there == pytest.approx((60_000, 100_000), abs=1e-6)
    assert read.name == wanted.name or crs.startswith("+")
