"""Earthworks over what stands: buildings, tanks, ways, wires, trees: each told once."""

from __future__ import annotations

import pytest
import shapely
from shapely import LineString, Point, box

from canvas.base.finding import Finding
from canvas.base.grid import Grid
from canvas.site.elements.access import PublicRoad, Track
from canvas.site.elements.building import Building
from canvas.site.elements.crossings import Culvert
from canvas.site.elements.earthworks import BorrowPit, Heap, Platform
from canvas.site.elements.land import SiteBoundary
from canvas.site.elements.ponds import Dam, DugPond
from canvas.site.elements.services import OverheadLine
from canvas.site.elements.swales import Drain, Swale
from canvas.site.elements.vegetation import Tree, TreeRow, Vegetation
from canvas.site.elements.water import Tank, Well
from canvas.site.records import Element, changed
from made import EAST, NORTH, plane, study_of


def line(*points: tuple[float, float]) -> LineString:
    return LineString([(EAST + x, NORTH + y) for x, y in points])


def area(west: float, south: float, east: float, north: float) -> shapely.Polygon:
    return box(EAST + west, NORTH + south, EAST + east, NORTH + north)


def spot(x: float, y: float) -> Point:
    return Point(EAST + x, NORTH + y)


def valley() -> Grid:
    ground = plane(slope_north=0.04)
    x = ground.x_m()[None, :] - EAST
    return ground.like(ground.z + 0.15 * abs(x - 100))


def found(*items: Element, grid: Grid | None = None) -> dict[str, list[Finding]]:
    """Return the findings that name two of the elements or reach out of the land, by rule."""
    told: dict[str, list[Finding]] = {}
    for each in study_of(*items, grid=grid or plane(slope_north=0.08)).findings():
        told.setdefault(each.rule.removeprefix("good_practice."), []).append(each)
    return told


SWALE = Swale(geometry=line((20, 60), (120, 60)))
HEAP = Heap(geometry=area(40, 40, 60, 55))
POND = DugPond(geometry=area(40, 60, 60, 75))
DAM = Dam(geometry=line((70, 100), (130, 100)))
SHED = {"use": "shed"}

OVER = [
    (SWALE, Building(geometry=area(60, 58, 66, 64), **SHED), "works_over_building"),
    (HEAP, Building(geometry=area(55, 45, 70, 52), **SHED), "works_over_building"),
    (POND, Building(geometry=area(50, 65, 55, 70), **SHED), "pit_under_building"),
    (SWALE, Tank(geometry=spot(60, 60)), "works_over_tank"),
    (HEAP, Well(geometry=spot(50, 48)), "works_over_well"),
    (POND, Tank(geometry=spot(50, 67)), "pond_over_tank"),
    (HEAP, Track(geometry=line((30, 48), (70, 48)), forming="none"), "works_over_track"),
    (SWALE, Track(geometry=line((60, 40), (60, 80)), forming="none"), "channel_across_track"),
    (HEAP, PublicRoad(geometry=line((30, 48), (70, 48))), "works_over_road"),
    (HEAP, OverheadLine(geometry=line((30, 48), (70, 48))), "heap_under_line"),
    (POND, Tree(geometry=spot(50, 67), status="proposed"), "plants_in_pond"),
]


@pytest.mark.parametrize(("work", "other", "rule"), OVER)
def test_a_work_over_what_stands_is_told_once(work: Element, other: Element, rule: str) -> None:
    told = found(work, other)
    (finding,) = told[rule]
    assert set(finding.elements) == {work.id, other.id}
    assert finding.where.intersects(other.geometry.buffer(5.0))
    both = [each for some in told.values() for each in some if len(each.elements) > 1]
    assert both == [finding]


@pytest.mark.parametrize(("work", "other", "rule"), OVER)
def test_a_work_aside_is_not(work: Element, other: Element, rule: str) -> None:
    away = changed(other, geometry=shapely.affinity.translate(other.geometry, 0.0, 90.0))
    assert rule not in found(work, away)


def test_fill_over_a_house_that_stands_is_told_and_the_pad_of_a_new_one_is_not() -> None:
    pad = Platform(geometry=area(40, 40, 70, 60), level="set", level_m=107.0)
    house = Building(geometry=area(50, 45, 60, 53), status="existing", **SHED)
    assert "fill_over_building" in found(pad, house)
    assert "fill_over_building" not in found(pad, changed(house, status="proposed"))


def test_a_culvert_settles_a_drain_across_a_track() -> None:
    track = Track(geometry=line((60, 40), (60, 80)), forming="none")
    drain = Drain(geometry=line((20, 60), (100, 59)))
    assert "channel_across_track" in found(drain, track)
    pipe = Culvert(geometry=line((56, 59.6), (64, 59.5)))
    assert "channel_across_track" not in found(drain, track, pipe)


def test_what_the_dams_water_drowns_is_told() -> None:
    tree = Tree(geometry=spot(100, 110), status="existing")
    shed = Building(geometry=area(98, 106, 102, 109), **SHED)
    way = Track(geometry=line((80, 112), (120, 112)), forming="none")
    told = found(DAM, tree, shed, way, grid=valley())
    assert told["dam_water_over"][0].failing
    assert told["dam_water_over_way"][0].failing
    assert not told["plants_to_drown"][0].failing
    new = found(DAM, changed(tree, status="proposed"), grid=valley())
    assert new["plants_in_pond"][0].failing


def test_scrub_where_a_bank_goes_is_told_and_grass_is_not() -> None:
    patch = Vegetation(geometry=area(90, 90, 110, 105), cover="scrub")
    assert "growth_on_dam" in found(DAM, patch, grid=valley())
    grass = changed(patch, cover="grass")
    assert "growth_on_dam" not in found(DAM, grass, grid=valley())


def test_a_row_that_stays_keeps_its_roots() -> None:
    """Half the crown of 6 m, from every stem."""
    row = TreeRow(
        geometry=line((30, 48), (80, 48)), status="existing", mature_crown_m=6.0, spacing_m=5.0
    )
    study = study_of(row, HEAP, grid=plane(slope_north=0.08))
    zone = study.parts(row.id)["root_zone"]
    assert zone.is_valid
    assert zone.covers(spot(30, 45.1))
    assert not zone.covers(spot(30, 44.9))
    assert {"good_practice.roots_left_alone"} <= {f.rule for f in study.findings_of(row.id)}
    planned = changed(row, status="proposed")
    assert "root_zone" not in study_of(planned, grid=plane()).parts(row.id)


def test_a_track_may_reach_the_road_it_joins_but_nothing_else() -> None:
    land = SiteBoundary(geometry=area(10, 10, 150, 150))
    track = Track(geometry=line((60, 5), (60, 60)), forming="level")
    assert "track_inside_boundary" in found(land, track)
    road = PublicRoad(geometry=line((0, 5), (160, 5)), width_m=14.0)
    assert "track_inside_boundary" not in found(land, track, road)
    assert "track_inside_boundary" not in found(track, road)


def test_a_pit_dug_beside_a_house_is_held_against_its_depth() -> None:
    house = Building(geometry=area(61, 62, 70, 70), status="existing", **SHED)
    assert "cut_by_building" in found(POND, house)
    pit = BorrowPit(geometry=area(40, 60, 60, 75), depth_m=2.0)
    assert "cut_by_building" in found(pit, house)
