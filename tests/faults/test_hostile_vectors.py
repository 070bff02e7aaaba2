"""Vector files made to harm, or broken: each ends in words, under 1 GiB and 20 s."""

from __future__ import annotations

import json
import os
import sqlite3
import stat
import struct
import zipfile
from pathlib import Path

import numpy as np
import pytest
import shapely
from faults.guarded import attempt, refused
from pyogrio.raw import write as write_layer

from canvas.base.errors import BadData
from canvas.exchange import child
from canvas.exchange.read import read_features

KML = '<kml xmlns="http://www.opengis.net/kml/2.2">{}</kml>'
SPOT = "<Placemark><Point><coordinates>142.5,-37.5</coordinates></Point></Placemark>"


def collection(*geometries: object) -> str:
    features = [{"type": "Feature", "properties": {}, "geometry": each} for each in geometries]
    return json.dumps({"type": "FeatureCollection", "features": features})


def test_entities_that_multiply_are_refused(tmp_path: Path) -> None:
    lines = ['<!ENTITY a0 "lol">'] + [
        f'<!ENTITY a{i} "{f"&a{i - 1};" * 10}">' for i in range(1, 12)
    ]
    for name, root in (("laughs.kml", "kml"), ("laughs.gpx", "gpx")):
        path = tmp_path / name
        path.write_text(
            f"<?xml version='1.0'?><!DOCTYPE x [{''.join(lines)}]><{root}>&a11;</{root}>"
        )
        assert "entities" in refused("vector", path)


def test_an_entity_from_another_file_is_refused(tmp_path: Path) -> None:
    secret = tmp_path / "secret.txt"
    secret.write_text("the combination is 1234")
    path = tmp_path / "outside.kml"
    path.write_text(
        f'<!DOCTYPE kml [<!ENTITY x SYSTEM "{secret.as_uri()}">]>'
        + KML.format(f"<Placemark><name>&x;</name>{SPOT[11:]}")
    )
    text = refused("vector", path)
    assert "entities" in text
    assert "1234" not in text


def test_xml_nested_a_million_deep_ends_in_words(tmp_path: Path) -> None:
    path = tmp_path / "deep.kml"
    path.write_text("<kml>" + "<Folder>" * 1_000_000)
    assert refused("vector", path)


def test_a_zip_bomb_is_not_opened(tmp_path: Path) -> None:
    path = tmp_path / "bomb.zip"
    with (
        zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive,
        archive.open("big.shp", "w") as member,
    ):
        for _ in range(300):
            member.write(bytes(1 << 20))
    assert path.stat().st_size < 1 << 20
    assert "swells" in refused("vector", path)


def test_a_bomb_that_lies_about_its_size_is_stopped(tmp_path: Path) -> None:
    path = tmp_path / "liar.kmz"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("doc.kml", KML.format(SPOT + " " * (30 << 20)))
    data = bytearray(path.read_bytes())
    # The directory's own record of the unpacked size: 24 bytes after its signature.
    at = data.rindex(b"PK\x01\x02") + 24
    data[at : at + 4] = struct.pack("<I", 1000)
    path.write_bytes(data)
    assert refused("vector", path)


@pytest.mark.parametrize(
    "name", ["../../escaped.shp", "/tmp_escaped.shp", "a/../../b.shp", "..\\up.shp", "C:/x.shp"]
)
def test_paths_that_climb_out_of_an_archive_are_refused(tmp_path: Path, name: str) -> None:
    inner = tmp_path / "in"
    inner.mkdir()
    path = inner / "climb.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr(name, b"\0\0\x27\x0a" + bytes(96))
    before = set(tmp_path.rglob("*"))
    assert "outside the folder" in refused("vector", path)
    assert set(tmp_path.rglob("*")) == before


def test_a_link_in_an_archive_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "link.zip"
    member = zipfile.ZipInfo("data.csv")
    member.create_system = 3
    member.external_attr = (stat.S_IFLNK | 0o777) << 16
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr(member, "/etc/passwd")
    assert "link" in refused("vector", path)


def test_a_locked_archive_and_an_unknown_packing_end_in_words(tmp_path: Path) -> None:
    path = tmp_path / "locked.kmz"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("doc.kml", KML.format(SPOT))
    plain = path.read_bytes()
    # In both headers: the flags stand before the method, 6 and 8 bytes from their start.
    for local, central, value, said in ((6, 8, 1, "password"), (8, 10, 77, "can't be opened")):
        data = bytearray(plain)
        data[plain.index(b"PK\x03\x04") + local] = value
        data[plain.index(b"PK\x01\x02") + central] = value
        path.write_bytes(data)
        assert said in refused("vector", path)


def test_an_archive_in_an_archive_without_end_is_not_followed(tmp_path: Path) -> None:
    path = tmp_path / "nest.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("inner.zip", b"PK\x03\x04")
    assert "no shapefile" in refused("vector", path)


def test_coordinates_that_are_not_numbers_are_skipped_with_their_place(tmp_path: Path) -> None:
    path = tmp_path / "nan.geojson"
    path.write_text(
        '{"type":"FeatureCollection","features":['
        '{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[NaN,-37.5]}},'
        '{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[1e999,0]}},'
        '{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":["a",0]}},'
        '{"type":"Feature","properties":{},"geometry":{"type":"Polygon","coordinates":[[[0,0]]]}},'
        '{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[142.5,-37.5]}}]}'
    )
    said = attempt("vector", path)
    assert said["ok"] == 1
    assert len(said["skipped"]) == 4  # type: ignore[arg-type]


def test_json_nested_a_million_deep_ends_in_words(tmp_path: Path) -> None:
    path = tmp_path / "deep.geojson"
    path.write_text('{"type":"Polygon","coordinates":' + "[" * 1_000_000)
    assert "nested too deeply" in refused("vector", path)


def test_collections_nested_deep_end_in_words(tmp_path: Path) -> None:
    path = tmp_path / "deep2.geojson"
    inner = '{"type":"Point","coordinates":[142,-37]}'
    for _ in range(5000):
        inner = '{"type":"GeometryCollection","geometries":[' + inner + "]}"
    path.write_text(inner)
    assert refused("vector", path)


def test_wkt_nested_deep_does_not_take_the_program_along(tmp_path: Path) -> None:
    path = tmp_path / "deep.csv"
    deep = "GEOMETRYCOLLECTION(" * 800_000
    path.write_text(f'name,wkt\na,"{deep}"\n')
    assert refused("vector", path, file_crs="EPSG:7854")


def test_more_points_than_a_site_can_have_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "huge.geojson"
    line = ",".join(["[142.5,-37.5]"] * 1000)
    with path.open("w") as file:
        file.write('{"type":"FeatureCollection","features":[')
        feature = (
            '{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":['
            + line
            + "]}}"
        )
        file.write(",".join([feature] * 6000))
        file.write("]}")
    assert "more than 5\u202f000\u202f000 points" in refused("vector", path)


def test_more_features_than_a_site_can_have_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "many.gpkg"
    count = 250_000
    points = shapely.to_wkb(shapely.points(np.full((count, 2), 142.5)))
    write_layer(
        path, points, [], [], layer="many", driver="GPKG", geometry_type="Point", crs="EPSG:4326",
        layer_options={"SPATIAL_INDEX": "NO"},
    )  # fmt: skip
    assert "Cut it down" in refused("vector", path)


@pytest.mark.parametrize("codec", ["utf-16", "cp1252", "utf-8-sig", "utf-16-le"])
def test_any_usual_encoding_of_a_table_is_read(tmp_path: Path, codec: str) -> None:
    path = tmp_path / "trees.csv"
    path.write_bytes("Baum,lat,lon\nHöhenbirke,-37.5,142.5\n".encode(codec))
    assert attempt("vector", path)["ok"] == 1


@pytest.mark.parametrize(
    "start",
    ["<?xml version='1.0' encoding='klingon'?>", "<?xml version='1.0' encoding='utf-16'?>"],
)
def test_xml_in_an_encoding_that_is_not_so_ends_in_words(tmp_path: Path, start: str) -> None:
    path = tmp_path / "wrong.kml"
    path.write_bytes((start + KML.format(SPOT)).encode("ascii"))
    assert refused("vector", path)


def whole_files(folder: Path) -> list[Path]:
    """Make one sound file of each format."""
    points = shapely.to_wkb(shapely.points([[142.5, -37.5], [142.6, -37.4]]))
    names = [np.array(["a", "b"], object)]
    made = []
    for suffix, driver in ((".gpkg", "GPKG"), (".shp", "ESRI Shapefile"), (".geojson", "GeoJSON")):
        path = folder / f"sound{suffix}"
        write_layer(
            path, points, names, ["name"], layer="sound", driver=driver, geometry_type="Point",
            crs="EPSG:4326",
        )  # fmt: skip
        made.append(path)
    kml = folder / "sound.kml"
    kml.write_text(KML.format(f"<Document>{SPOT}</Document>"))
    gpx = folder / "sound.gpx"
    gpx.write_text('<gpx version="1.1"><wpt lat="-37.5" lon="142.5"><name>a</name></wpt></gpx>')
    kmz = folder / "sound.kmz"
    with zipfile.ZipFile(kmz, "w") as archive:
        archive.write(kml, "doc.kml")
    return [*made, kml, gpx, kmz]


@pytest.mark.parametrize("index", range(6))
def test_a_file_cut_short_ends_in_words(tmp_path: Path, index: int) -> None:
    path = whole_files(tmp_path)[index]
    assert attempt("vector", path)["ok"] in (1, 2)
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * 0.6)])
    said = attempt("vector", path)
    # Two of them may still give up their sound first part; none may crash or hang.
    assert "bad" in said or said["skipped"] or path.suffix in (".shp", ".gpkg"), said


@pytest.mark.parametrize(
    "name", ["a.gpkg", "a.zip", "a.kmz", "a.shp", "a.kml", "a.gpx", "a.geojson", "a.csv", "a.xyz9"]
)
def test_an_empty_file_and_a_file_of_noise_end_in_words(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_bytes(b"")
    with pytest.raises(BadData, match="empty"):
        read_features(path, target_crs="EPSG:7854")
    path.write_bytes(b"\x01\x02" + bytes(range(256)) * 20)
    assert refused("vector", path)


def test_a_folder_and_a_file_that_is_not_there_end_in_words(tmp_path: Path) -> None:
    folder = tmp_path / "folder.gpkg"
    folder.mkdir()
    assert "folder" in refused("vector", folder)
    assert "no such file" in refused("vector", tmp_path / "gone.gpkg")


def test_a_pipe_is_not_waited_on(tmp_path: Path) -> None:
    path = tmp_path / "pipe.geojson"
    os.mkfifo(path)
    assert "no such file" in refused("vector", path)


def test_what_a_file_is_counts_more_than_its_name(tmp_path: Path) -> None:
    path = tmp_path / "really.kml"
    path.write_text(collection({"type": "Point", "coordinates": [142.5, -37.5]}))
    assert attempt("vector", path)["ok"] == 1


def test_a_view_that_never_ends_is_cut_off(tmp_path: Path) -> None:
    path = tmp_path / "endless.gpkg"
    write_layer(
        path, shapely.to_wkb(shapely.points([[142.5, -37.5]])), [], [], layer="a", driver="GPKG",
        geometry_type="Point", crs="EPSG:4326",
    )  # fmt: skip
    with sqlite3.connect(path) as db:
        db.execute(
            "CREATE VIEW loop AS WITH RECURSIVE c(fid) AS (SELECT 1 UNION ALL SELECT fid + 1 "
            "FROM c) SELECT fid, (SELECT geom FROM a) AS geom FROM c"
        )
        db.execute(
            "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) "
            "VALUES ('loop', 'features', 'loop', 4326)"
        )
        db.execute("INSERT INTO gpkg_geometry_columns VALUES ('loop', 'geom', 'POINT', 4326, 0, 0)")
    db.close()
    with pytest.raises(BadData, match="longer than 3 seconds"):
        read_features(path, target_crs="EPSG:7854", limits=child.Limits(seconds=3))
