"""Foreign shapes and attributes become elements, and what can't is said."""

from __future__ import annotations

from pathlib import Path

import pytest
import shapely
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData
from canvas.exchange.adopt import guess_mapping, to_elements
from canvas.exchange.incoming import Feature, Incoming, Value

SQUARE = shapely.box(0, 0, 10, 10)


def incoming(*shapes: BaseGeometry, **values: Value) -> Incoming:
    features = tuple(Feature(shape, values, f"feature {i}") for i, shape in enumerate(shapes, 1))
    return Incoming(Path("f"), "GeoJSON", "", (), features)


def test_columns_are_matched_by_name_label_other_words_and_unit() -> None:
    found = incoming(
        shapely.Point(0, 0),
        **{"Botanical name": "Quercus ilex", "Height (ft)": "39,37", "DBH_in": 10, "Comments": "x"},
    )
    assert guess_mapping(found, "tree") == {
        "species": "Botanical name", "height_m": "Height (ft)", "stem_cm": "DBH_in",
        "remark": "Comments",
    }  # fmt: skip
    (tree,) = to_elements(found, "tree").elements
    assert tree.species == "Quercus ilex"  # type: ignore[attr-defined]
    # 39.37 ft x 0.3048 m/ft and 10 in x 2.54 cm/in, both exact by definition (NIST SP 811).
    assert tree.height_m == pytest.approx(11.999976, abs=1e-9)  # type: ignore[attr-defined]
    assert tree.stem_cm == pytest.approx(25.4)  # type: ignore[attr-defined]


def test_a_unit_that_does_not_fit_is_not_taken() -> None:
    found = incoming(shapely.Point(0, 0), height_kv="11")
    assert guess_mapping(found, "tree") == {}
    with pytest.raises(BadData, match="unit"):
        to_elements(found, "tree", {"height_m": "height_kv"})


@pytest.mark.parametrize(
    ("kind", "field", "column", "raw", "want"),
    [
        ("tree", "height_m", "height", "12.5 m", 12.5),
        ("tree", "height_m", "height_m", "40 ft", 12.192),
        ("tank", "volume_l", "volume_m3", "22,5", 22500.0),
        ("tank", "volume_l", "Capacity (gal)", 5000, 18927.05892),
        ("site_boundary", "deed_area_m2", "area_ha", "6.9", 69000.0),
        ("overhead_line", "voltage_kv", "voltage_v", "22000", 22.0),
        ("well", "yield_l_s", "yield (L/min)", "90", 1.5),
        ("vegetation", "crown_cover", "crown_cover_pct", "35", 0.35),
        ("vegetation", "crown_cover", "crown cover", "35", 0.35),
        ("vegetation", "crown_cover", "crown_cover_fraction", "0.35", 0.35),
        ("vegetation", "cover", "cover", "Woodland", "woodland"),
        ("track", "fire_access", "fire_access", "nein", False),
        ("track", "fire_access", "fire_access", True, True),
        ("hedge", "rows", "rows", "3.0", 3),
        ("tree", "status", "status", "Existing, to be removed", "remove"),
        ("zone", "intensity", "intensity", 2, "2"),
    ],
)
def test_values_become_what_the_field_wants(
    kind: str, field: str, column: str, raw: Value, want: object
) -> None:
    shape: BaseGeometry = {
        "tree": shapely.Point(0, 0), "tank": shapely.Point(0, 0), "well": shapely.Point(0, 0),
        "track": shapely.LineString([(0, 0), (9, 9)]),
        "hedge": shapely.LineString([(0, 0), (9, 9)]),
        "overhead_line": shapely.LineString([(0, 0), (9, 9)]),
    }.get(kind, SQUARE)  # fmt: skip
    made = to_elements(incoming(shape, **{column: raw}), kind, {field: column})
    assert not made.skipped
    assert getattr(made.elements[0], field) == pytest.approx(want)


def test_a_value_that_does_not_fit_is_left_out_and_named() -> None:
    found = incoming(shapely.Point(0, 0), height_m="tall", status="dreamt", crown_m=500)
    made = to_elements(found, "tree")
    assert len(made.elements) == 1
    assert made.elements[0].height_m is None  # type: ignore[attr-defined]
    assert made.elements[0].status == "proposed"
    why = sorted(s.why for s in made.skipped)
    assert len(why) == 3
    assert "“tall”" in why[2] or "“tall”" in why[1]


def test_many_become_one_each() -> None:
    many = shapely.MultiPolygon([SQUARE, shapely.box(20, 0, 30, 10)])
    made = to_elements(incoming(many, name="Block"), "zone")
    assert [e.name for e in made.elements] == ["Block", "Block"]
    mixed = shapely.GeometryCollection([shapely.Point(1, 1), SQUARE])
    made = to_elements(incoming(mixed), "zone")
    assert len(made.elements) == 1
    assert made.skipped[0].why == "an area is needed, this is a point"


def test_heights_are_dropped() -> None:
    made = to_elements(incoming(shapely.Point(1, 2, 300)), "tree")
    assert not made.elements[0].geometry.has_z


def test_lines_are_closed_and_said_to_be() -> None:
    line = shapely.LineString([(0, 0), (100, 0), (100, 80), (0, 80)])
    made = to_elements(incoming(line), "site_boundary")
    assert made.elements[0].geometry.area == 8000
    assert "closed over a gap of 80.00 m" in made.notes[0]
    closed = shapely.LineString([*line.coords, (0, 0)])
    assert not to_elements(incoming(closed), "site_boundary").notes


def test_edges_of_areas_serve_as_lines() -> None:
    hole = shapely.Polygon(SQUARE.exterior, [shapely.box(2, 2, 4, 4).exterior])
    made = to_elements(incoming(hole), "fence")
    assert [round(e.geometry.length) for e in made.elements] == [40, 8]
    assert made.notes


def test_corners_listed_as_points_are_joined() -> None:
    corners = [shapely.Point(*c) for c in ((0, 0), (100, 0), (100, 80), (0, 80))]
    made = to_elements(incoming(*corners, lot="12"), "site_boundary")
    assert made.elements[0].geometry.area == 8000
    assert made.notes == ("4 points were joined in the file’s order",)
    assert len(to_elements(incoming(*corners), "tree").elements) == 4
    assert not to_elements(incoming(corners[0]), "track").elements


def test_an_edge_that_crosses_itself_is_left_out_with_its_place() -> None:
    bow = shapely.Polygon([(0, 0), (100, 100), (100, 0), (0, 100)])
    made = to_elements(incoming(bow), "zone")
    assert not made.elements
    assert made.skipped[0].why == "its edge crosses itself (crossing near 50.0 E, 50.0 N)"


def test_an_edge_with_a_spike_is_mended_and_said_to_be() -> None:
    spike = shapely.Polygon(
        [(0, 0), (100, 0), (100, 50), (160, 50), (100, 50), (100, 100), (0, 100)]
    )
    assert not spike.is_valid
    made = to_elements(incoming(spike), "zone")
    assert made.elements[0].geometry.equals(shapely.box(0, 0, 100, 100))
    assert "mended" in made.notes[0]


@pytest.mark.filterwarnings("ignore:invalid value:RuntimeWarning")
def test_shapes_that_are_nothing_are_named() -> None:
    flat = shapely.Polygon([(0, 0), (10, 10), (20, 20)])
    nan = shapely.LineString([(0, 0), (float("nan"), 1)])
    still = shapely.LineString([(5, 5), (5, 5)])
    assert "flat" in to_elements(incoming(flat), "zone").skipped[0].why
    assert "not a number" in to_elements(incoming(nan), "track").skipped[0].why
    assert "no length" in to_elements(incoming(still), "track").skipped[0].why
    assert "empty" in to_elements(incoming(shapely.Point()), "tree").skipped[0].why


def test_a_mapping_that_names_nothing_is_refused() -> None:
    found = incoming(shapely.Point(0, 0), a="1")
    with pytest.raises(BadData, match="no field"):
        to_elements(found, "tree", {"girth": "a"})
    with pytest.raises(BadData, match="no column"):
        to_elements(found, "tree", {"species": "b"})
    with pytest.raises(BadData, match="no place"):
        to_elements(found, "phase")
    with pytest.raises(BadData, match="no kind"):
        to_elements(found, "volcano")


def test_dates() -> None:
    from canvas.exchange.convert import Unusable, value_of
    from canvas.site.facts import Phase
    from canvas.site.records import kind

    spec = kind(Phase.kind_key).spec("starts")  # type: ignore[attr-defined]
    for text in ("2026-03-05", "20260305", "2026/03/05", "2026-03-05T10:00:00Z", "05.03.2026"):
        assert value_of(spec, text, 1.0) == "2026-03-05"
    # Day or month first? Nobody can tell, so nobody guesses.
    for text in ("5/3/2026", "2026-13-01", "soon"):
        with pytest.raises(Unusable, match="not a date"):
            value_of(spec, text, 1.0)
