"""Every kind has parts and facts, and the figures are those of hand calculation."""

from __future__ import annotations

import math

import pytest
from shapely import LineString, Point, Polygon

from canvas.site.elements.access import Path, Track
from canvas.site.elements.building import Building, Fence, Gate
from canvas.site.elements.land import SiteBoundary, SurveyMark, Zone
from canvas.site.elements.services import Firebreak, OverheadLine
from canvas.site.elements.vegetation import GardenBed, Hedge, Tree, TreeRow
from canvas.site.elements.water import SepticField, SepticTank, Tank, Watercourse, Well
from canvas.site.elements.writing import Dimension
from canvas.site.records import Element, element_kinds
from canvas.study import scene
from canvas.study.study import Study
from made import EAST, NORTH, plane, study_of


def at(x: float, y: float) -> tuple[float, float]:
    return EAST + x, NORTH + y


def line(*points: tuple[float, float]) -> LineString:
    return LineString([at(*p) for p in points])


def rectangle(x: float, y: float, w: float, h: float) -> Polygon:
    return Polygon([at(x, y), at(x + w, y), at(x + w, y + h), at(x, y + h)])


def values(study: Study, ident: str) -> dict[str, object]:
    return {fact.key: fact.value for fact in reversed(study.facts(ident))}


def one_of_each() -> list[Element]:
    shapes = {
        "Point": Point(at(50, 50)),
        "LineString": line((20, 20), (60, 40), (90, 90)),
        "Polygon": rectangle(30, 30, 12, 8),
    }
    return [kind.cls(geometry=shapes[kind.geometry]) for kind in element_kinds().values()]


def test_no_kind_lacks_parts_or_facts() -> None:
    assert scene.missing() == []


@pytest.mark.parametrize("grid", [None, plane()], ids=["no ground", "ground"])
def test_every_kind_answers_with_and_without_ground(grid: object) -> None:
    items = one_of_each()
    study = study_of(*items, grid=grid)
    for item in items:
        parts = study.parts(item.id)
        assert parts["shape"].equals(item.geometry)
        facts = study.facts(item.id)
        assert facts
        for fact in facts:
            assert fact.shown()
            assert isinstance(fact.value, str) or fact.unit


def test_lengths_on_grid_ground_and_ellipsoid() -> None:
    path = Path(geometry=line((50, 10), (50, 110)))
    study = study_of(path, grid=plane(slope_north=0.10))
    found = {(f.key, f.basis): f.value for f in study.facts(path.id)}
    assert found["length_m", "on the grid"] == pytest.approx(100.0, abs=1e-9)
    # 100 m at 10 %: 100 x sqrt(1.01), Pythagoras.
    assert found["length_ground_m", "along the ground"] == pytest.approx(100.4988, abs=1e-3)
    # 114 km west of the central meridian of zone 54 the scale factor is below one, so the
    # ellipsoid's length is the longer: 100 / k with k from the projection's own factors.
    assert found["length_geodesic_m", "on the ellipsoid"] == pytest.approx(
        100.0 / study.land.earth.scale, abs=1e-3
    )


def test_area_on_the_sloping_ground() -> None:
    bed = GardenBed(geometry=rectangle(40, 40, 20, 10), mulch_mm=75)
    study = study_of(bed, grid=plane(slope_north=0.10))
    found = values(study, bed.id)
    assert found["area_m2"] == pytest.approx(200.0)
    assert found["area_ground_m2"] == pytest.approx(200 * math.sqrt(1.01), rel=1e-6)
    assert found["mean_slope"] == pytest.approx(0.10, abs=1e-9)
    assert found["mulch_m3"] == pytest.approx(15.0)


def test_track_grade_on_a_plane() -> None:
    straight = Track(geometry=line((10, 10), (10, 110)))
    slant = Track(geometry=line((20, 10), (120, 110)))
    study = study_of(straight, slant, grid=plane(slope_north=0.12))
    assert values(study, straight.id)["max_grade"] == pytest.approx(0.12, abs=1e-9)
    # At 45 degrees to the fall line the grade is the slope times cos 45.
    assert values(study, slant.id)["sustained_grade"] == pytest.approx(
        0.12 * math.cos(math.pi / 4), abs=1e-6
    )


def test_track_end_that_meets_the_road_is_no_dead_end() -> None:
    from canvas.site.elements.access import PublicRoad

    road = PublicRoad(geometry=line((0, 0), (200, 0)))
    track = Track(geometry=line((50, 0.5), (50, 80)))
    study = study_of(road, track)
    assert values(study, track.id)["dead_ends"] == 1
    loop = Track(geometry=line((50, 80), (120, 80), (120, 1)))
    assert values(study.moved(study.plan.with_(loop)), track.id)["dead_ends"] == 0


def test_boundary_against_its_deed_and_title_legs() -> None:
    boundary = SiteBoundary(
        geometry=rectangle(0, 0, 100, 100),
        deed_area_m2=10_100.0,
        title_legs="90 100\n0 100\n270 100\n180 99.5",
    )
    study = study_of(boundary)
    found = values(study, boundary.id)
    combined = study.combined_factor
    assert found["deed_difference_m2"] == pytest.approx(10_000 / combined**2 - 10_100, abs=0.01)
    # Three legs of 100 m and one of 99.5 m round a square leave half a metre.
    assert found["misclosure_m"] == pytest.approx(0.5, abs=1e-9)
    assert found["closing_ratio"] == "1 in 799"


def test_mistyped_title_legs_are_said_not_raised() -> None:
    boundary = SiteBoundary(geometry=rectangle(0, 0, 9, 9), title_legs="north-ish 100")
    assert "north-ish" in str(values(study_of(boundary), boundary.id)["title_legs"])


def test_survey_mark_against_the_ground_model() -> None:
    mark = SurveyMark(geometry=Point(at(50, 50)), height_m=104.7, accuracy_m=0.02)
    study = study_of(mark, grid=plane(slope_north=0.10))
    assert values(study, mark.id)["ground_difference_m"] == pytest.approx(0.3, abs=1e-6)


def test_zone_share_of_the_site() -> None:
    boundary = SiteBoundary(geometry=rectangle(0, 0, 100, 100))
    zone = Zone(geometry=rectangle(90, 0, 20, 100))
    # Half of it hangs over the boundary and does not count.
    assert values(study_of(boundary, zone), zone.id)["site_share"] == pytest.approx(0.10)


def test_levels_carry_the_survey_s_accuracy() -> None:
    well = Well(geometry=Point(at(50, 50)), water_level_m=12.0)
    study = study_of(well, grid=plane(slope_north=0.10))
    level = next(f for f in study.facts(well.id) if f.key == "water_m")
    assert level.value == pytest.approx(93.0, abs=1e-6)
    assert level.plus_minus == 0.15
    assert level.remark == "indicative: level on site"
    assert level.basis == "AHD"


def test_tank_head_at_the_dwelling() -> None:
    house = Building(geometry=rectangle(40, 20, 12, 8), use="dwelling")
    tank = Tank(geometry=Point(at(46, 124)))
    study = study_of(house, tank, grid=plane(slope_north=0.10))
    # 100 m uphill at 10 %; one metre of water is 9.80665 kPa (density 1000 kg/m3).
    assert values(study, tank.id)["head_m"] == pytest.approx(10.0, abs=1e-6)
    assert values(study, tank.id)["head_kpa"] == pytest.approx(98.0665, abs=1e-3)


def test_building_floor_against_the_ground() -> None:
    house = Building(geometry=rectangle(40, 40, 12, 8), floor_level_m=104.4)
    study = study_of(house, grid=plane(slope_north=0.10))
    found = values(study, house.id)
    # Cells at least half inside reach from 40.5 to 47.5 m north: 104.05 to 104.75 m.
    assert found["ground_fall_m"] == pytest.approx(0.7, abs=1e-6)
    assert found["floor_below_m"] == pytest.approx(0.35, abs=1e-6)
    assert found["floor_above_m"] == pytest.approx(0.35, abs=1e-6)


def test_gate_lies_along_its_fence_and_across_its_track() -> None:
    fence = Fence(geometry=line((0, 50), (100, 50)))
    gate = Gate(geometry=Point(at(30, 50.4)))
    study = study_of(fence, gate)
    assert values(study, gate.id)["bearing_deg"] == pytest.approx(90.0)
    assert values(study, fence.id)["gates"] == 1
    track = Track(geometry=line((60, 0), (60, 100)))
    lone = Gate(geometry=Point(at(60, 90)))
    assert values(study_of(track, lone), lone.id)["bearing_deg"] == pytest.approx(90.0)


def test_rows_and_hedges_count_their_plants() -> None:
    row = TreeRow(geometry=line((0, 0), (50, 0)), spacing_m=5.0, mature_crown_m=4.0)
    hedge = Hedge(geometry=line((0, 20), (10, 20)), rows=2, spacing_m=0.5, staggered=True)
    study = study_of(row, hedge)
    # floor(50 / 5) + 1.
    assert values(study, row.id)["plants"] == 11
    # 21 in the first row; the second starts a quarter metre in and takes 20.
    assert values(study, hedge.id)["plants"] == 41
    assert study.parts(row.id)["crown_mature"].area == pytest.approx(11 * math.pi * 4, rel=0.01)


def test_crown_grows_with_the_year_looked_at() -> None:
    tree = Tree(geometry=Point(at(50, 50)), mature_crown_m=8.0, years_to_mature=20.0)
    kept = Tree(geometry=Point(at(20, 20)), crown_m=9.0, mature_crown_m=9.0, status="existing")
    crowns = [
        study_of(tree, kept, year=year).parts(tree.id)["crown"].area for year in (1, 10, 20, 60)
    ]
    assert crowns == sorted(crowns)
    # At the age of maturity nine tenths of the diameter are reached, by definition.
    assert math.sqrt(crowns[2] / math.pi) * 2 == pytest.approx(7.2, rel=0.01)
    assert values(study_of(kept, year=30), kept.id)["crown_m"] == 9.0


def test_firebreak_says_whether_it_closes() -> None:
    ring = Firebreak(geometry=line((0, 0), (50, 0), (50, 50), (0, 50), (0, 0)), width_m=4.0)
    study = study_of(ring)
    assert values(study, ring.id)["closed"] == "closed"
    # A frame 4 m wide on the middle line of a 50 m square, with rounded outer corners.
    assert values(study, ring.id)["belt_m2"] == pytest.approx(200 * 4, rel=0.01)


def test_watercourse_drawn_uphill_is_noticed() -> None:
    up = Watercourse(geometry=line((50, 10), (50, 110)))
    study = study_of(up, grid=plane(slope_north=0.05))
    assert "uphill" in str(values(study, up.id)["direction"])


def test_overhead_line_spans() -> None:
    wire = OverheadLine(geometry=line((0, 0), (60, 0), (60, 80)))
    found = values(study_of(wire), wire.id)
    assert (found["poles"], found["longest_span_m"]) == (3, 80.0)


def test_septic_field_below_its_tank() -> None:
    tank = SepticTank(geometry=Point(at(50, 100)), people=4)
    field = SepticField(geometry=rectangle(40, 60, 20, 10))
    found = values(study_of(tank, field, grid=plane(slope_north=0.10)), field.id)
    assert found["area_each_m2"] == pytest.approx(50.0)
    # Highest cell centre of the field 69.5 m north, the tank 100 m: 3.05 m.
    assert found["below_tank_m"] == pytest.approx(3.05, abs=1e-6)


def test_dimension_writes_the_length_it_is_asked_for() -> None:
    flat = Dimension(geometry=line((50, 10), (50, 60)))
    sloping = Dimension(geometry=line((50, 10), (50, 60)), basis="ground")
    study = study_of(flat, sloping, grid=plane(slope_north=0.20))
    assert values(study, flat.id)["written_m"] == pytest.approx(50.0)
    assert values(study, sloping.id)["written_m"] == pytest.approx(50 * math.sqrt(1.04), abs=1e-3)
