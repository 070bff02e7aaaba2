"""GeoJSON read feature by feature, against GEOS's own reader and Python's JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import shapely

from canvas.base.errors import BadData
from canvas.exchange.readers import geojson

#: Every shape of RFC 7946, appendix A, with and without heights; coordinates invented.
SHAPES = {
    "point": {"type": "Point", "coordinates": [142.5, -37.5, 210]},
    "line": {"type": "LineString", "coordinates": [[142, -37], [142.5, -37.25], [143, -37]]},
    "line z": {"type": "LineString", "coordinates": [[142, -37, 5], [143, -37.5, 6.5]]},
    "area": {
        "type": "Polygon",
        "coordinates": [
            [[0, 0], [9, 0], [9, 9], [0, 9], [0, 0]],
            [[2, 2], [2, 4], [4, 4], [4, 2], [2, 2]],
        ],
    },
    "points": {"type": "MultiPoint", "coordinates": [[1, 2], [3, 4]]},
    "lines": {"type": "MultiLineString", "coordinates": [[[0, 0], [1, 1]], [[2, 2], [3, 4]]]},
    "areas": {
        "type": "MultiPolygon",
        "coordinates": [
            [[[0, 0], [9, 0], [9, 9], [0, 0]]],
            [[[20, 0], [29, 0], [29, 9], [20, 0]], [[25, 1], [26, 1], [26, 2], [25, 1]]],
        ],
    },
    "several": {
        "type": "GeometryCollection",
        "geometries": [
            {"type": "Point", "coordinates": [1, 2]},
            {"type": "LineString", "coordinates": [[0, 0], [5, 5]]},
        ],
    },
}


def feature(shape: object, **properties: object) -> dict[str, object]:
    return {"type": "Feature", "properties": properties, "geometry": shape}


def read(tmp_path: Path, text: str) -> geojson.RawFile:
    path = tmp_path / "some.geojson"
    path.write_text(text, encoding="utf-8")
    return geojson.read(path)


@pytest.mark.parametrize("name", SHAPES)
def test_every_shape_is_what_geos_reads(tmp_path: Path, name: str) -> None:
    text = json.dumps(SHAPES[name])
    for whole in (text, json.dumps(feature(SHAPES[name]))):
        found = read(tmp_path, whole)
        assert not found.skipped
        assert shapely.equals_exact(found.features[0].geometry, shapely.from_geojson(text))


@pytest.mark.parametrize("indent", [None, 1, "\t"])
def test_members_in_any_order_and_any_blanks(tmp_path: Path, indent: object) -> None:
    features = [feature(SHAPES["point"], n=k, deep={"list": [1, [2]], "{": "]"}) for k in range(3)]
    for keys in (("type", "features", "name"), ("name", "features", "type")):
        parts = {"type": "FeatureCollection", "features": features, "name": "a ] b } c"}
        text = json.dumps({key: parts[key] for key in keys}, indent=indent)  # type: ignore[arg-type]
        found = read(tmp_path, f" \r\n{text}\n\n")
        assert [f.values["n"] for f in found.features] == [0, 1, 2]
        assert [f.place for f in found.features] == ["feature 1", "feature 2", "feature 3"]


def test_of_two_lists_the_last_counts_as_in_any_json(tmp_path: Path) -> None:
    one, two = (json.dumps([feature(SHAPES["point"], n=n)]) for n in (1, 2))
    text = f'{{"type":"FeatureCollection","features":{one},"features":{two}}}'
    assert json.loads(text)["features"] == json.loads(two)
    assert [f.values["n"] for f in read(tmp_path, text).features] == [2]


def test_an_empty_collection_and_a_feature_a_line(tmp_path: Path) -> None:
    empty = read(tmp_path, '{"type": "FeatureCollection", "features": [ ]}')
    assert (empty.features, empty.skipped) == ([], [])
    lines = "\n".join(json.dumps(feature(SHAPES["point"], n=n)) for n in range(4))
    assert [f.values["n"] for f in read(tmp_path, lines).features] == [0, 1, 2, 3]


def test_positions_that_cannot_be_are_left_out_one_by_one(tmp_path: Path) -> None:
    bad = [
        [["a", "b"], ["c", "d"]],
        [[1, 2], [3]],
        [[1, None], [2, 2]],
        [[1, 2, 3, 4], [5, 6, 7, 8]],
    ]
    features = [feature({"type": "LineString", "coordinates": each}) for each in bad]
    features.append(feature(SHAPES["line"]))
    found = read(tmp_path, json.dumps({"type": "FeatureCollection", "features": features}))
    assert [f.place for f in found.features] == ["feature 5"]
    assert [s.place for s in found.skipped] == [f"feature {n}" for n in range(1, 5)]


@pytest.mark.parametrize(
    "text",
    [
        '{"type": "FeatureCollection", "features": [{"type": "Feature"',
        '{"type": "FeatureCollection", "features": [1 2]}',
        '{"type": "FeatureCollection", "features": [1,]}',
        '{"type": "FeatureCollection" "features": []}',
        '{"type": "FeatureCollection", "features": []',
        '{"type": "FeatureCollection", "features": []}}',
        "{1: 2}",
        "{",
    ],
)
def test_what_is_no_json_is_said_with_its_line(tmp_path: Path, text: str) -> None:
    with pytest.raises(json.JSONDecodeError):
        json.loads(text)
    with pytest.raises(BadData, match="not sound JSON") as caught:
        read(tmp_path, text)
    assert caught.value.where.startswith("line ")


@pytest.mark.parametrize(
    "text",
    [
        '{"type": "FeatureCollection"}',
        '{"type": "FeatureCollection", "features": {}}',
        '{"type": "Topology", "features": []}',
        "[]",
        "[1, 2]",
    ],
)
def test_json_that_is_no_geojson_is_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(BadData):
        read(tmp_path, text)
