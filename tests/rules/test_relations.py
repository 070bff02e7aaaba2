"""What each relation measures, where it says so, and what it leaves alone."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest
import shapely
from rules.conftest import Plane, check, make_subject, metres, rule_of
from rules.scenes import ring_with_gap
from shapely import LineString, Point, box

from canvas.rules.subject import Subject


def tree(ident: str, x: float, y: float = 0.0, radius: float = 1.0, **fields: object) -> Subject:
    stem = Point(x, y)
    crown = stem.buffer(radius)
    parts = {"stem": stem, "crown": crown, "crown_mature": crown}
    return make_subject("tree", ident, stem, parts, **fields)


HOUSE = make_subject("building", "house", box(-6, -5, 6, 5), {"wall": box(-6, -5, 6, 5)})
BELT = rule_of(
    relation="belt_around",
    a={"kind": "building", "part": "wall"},
    b={"kind": "firebreak", "part": "belt"},
    distance=metres(20),
    width=metres(3),
    limit=metres(1),
)


def firebreak(ident: str, belt) -> Subject:
    return make_subject("firebreak", ident, LineString([(0, 0), (1, 1)]), {"belt": belt})


class TestBelt:
    def test_a_whole_ring_is_enough(self) -> None:
        assert (
            check(BELT, HOUSE, firebreak("f", ring_with_gap(HOUSE.parts["wall"], 10, 4, 0))) == ()
        )

    def test_a_gap_is_measured_and_located(self) -> None:
        found = check(BELT, HOUSE, firebreak("f", ring_with_gap(HOUSE.parts["wall"], 10, 4, 5)))
        assert len(found) == 1
        assert found[0].measured == pytest.approx(5.0, abs=0.5)
        # The opening was cut due east, 10 m off the wall.
        middle = found[0].where.interpolate(0.5, normalized=True)
        assert middle.distance(Point(16, 0)) < 0.5

    def test_every_gap_is_told_of_the_widest_first(self) -> None:
        ring = ring_with_gap(HOUSE.parts["wall"], 10, 4, 5)
        ring = shapely.difference(ring, box(-20, -1.5, -10, 1.5))
        found = check(BELT, HOUSE, firebreak("f", ring))
        assert found[0].measured == pytest.approx(5.0, abs=0.5)
        lengths = sorted(part.length for part in found[0].where.geoms)
        assert lengths == pytest.approx([3.0, 5.0], abs=0.5)

    def test_a_neck_too_narrow_counts_as_a_gap(self) -> None:
        ring = ring_with_gap(HOUSE.parts["wall"], 10, 4, 0)
        found = check(BELT, HOUSE, firebreak("f", shapely.difference(ring, box(15, -4, 30, 4))))
        assert len(found) == 1
        assert found[0].measured > 5

    def test_two_elements_add_up(self) -> None:
        ring = ring_with_gap(HOUSE.parts["wall"], 10, 4, 0)
        west, east = (
            shapely.intersection(ring, box(-99, -99, 0, 99)),
            shapely.intersection(ring, box(-0.5, -99, 99, 99)),
        )
        assert check(BELT, HOUSE, firebreak("f", west), firebreak("g", east)) == ()
        assert check(BELT, HOUSE, firebreak("f", west))[0].measured > 30

    def test_ends_that_overlap_without_meeting_leak(self) -> None:
        wall = HOUSE.parts["wall"]
        near = shapely.intersection(ring_with_gap(wall, 8, 3.2, 0), box(-99, -99, 3, 99))
        far = shapely.intersection(ring_with_gap(wall, 14, 3.2, 0), box(-3, -99, 99, 99))
        found = check(BELT, HOUSE, firebreak("f", near), firebreak("g", far))
        # The inner edge of the far belt is 14 - 1.6 m off, the outer one of the near belt 8 + 1.6.
        assert [f.measured for f in found] == [pytest.approx(2.8, abs=0.05)]
        assert "way round" in found[0].caution

    def test_no_belt_at_all(self) -> None:
        found = check(BELT, HOUSE)
        assert "no belt" in found[0].caution
        assert found[0].measured > 60

    def test_a_neighbours_house_is_not_ours_to_ring(self) -> None:
        theirs = make_subject(
            "building", "n", box(0, 0, 9, 9), {"wall": box(0, 0, 9, 9)}, owner="neighbour"
        )
        assert check(BELT, theirs) == ()


SPACING = rule_of(
    relation="spacing",
    a={"kind": ["tree", "tree_row"], "part": "crown_mature"},
    limit=metres(3),
)


class TestSpacing:
    def test_measures_between_crowns_and_draws_the_gap(self) -> None:
        (found,) = check(SPACING, tree("a", 0, radius=1), tree("b", 5, radius=2))
        assert (found.measured, found.required) == (pytest.approx(2.0), 3.0)
        assert found.where.equals_exact(LineString([(1, 0), (3, 0)]), 1e-9)
        assert found.elements == ("a", "b")

    def test_overlapping_crowns_measure_nothing(self) -> None:
        (found,) = check(SPACING, tree("a", 0), tree("b", 1))
        assert found.measured == 0.0

    def test_a_stand_is_one_finding_with_the_worst_pair_first(self) -> None:
        stand = [tree(f"t{k}", 4.0 * k) for k in range(6)] + [tree("t9", 23.0)]
        far = [tree("z1", 100.0), tree("z2", 104.5)]
        found = check(SPACING, *stand, *far)
        assert len(found) == 2
        assert found[0].elements[:2] == ("t5", "t9")
        assert set(found[0].elements) == {s.id for s in stand}
        assert "7 trees" in found[0].message
        assert len(found[0].where.geoms) == 6

    def test_a_row_too_close_in_itself_is_one_element(self) -> None:
        line = LineString([(0, 0), (20, 0)])
        stems = [Point(4.0 * k, 0) for k in range(6)]
        crowns = shapely.multipolygons([stem.buffer(1) for stem in stems])
        row = make_subject(
            "tree_row", "row", line, {"plants": shapely.multipoints(stems), "crown_mature": crowns}
        )
        (found,) = check(SPACING, row)
        assert found.elements == ("row",)
        assert found.measured == pytest.approx(2.0)

    def test_overlapping_crowns_of_a_row_take_the_stated_diameter(self) -> None:
        line = LineString([(0, 0), (2, 0)])
        parts = {
            "plants": shapely.multipoints([(0, 0), (1, 0), (2, 0)]),
            "crown_mature": shapely.unary_union([Point(x, 0).buffer(1) for x in (0, 1, 2)]),
        }
        row = make_subject("tree_row", "row", line, parts, mature_crown_m=2.0)
        (found,) = check(SPACING, row, tree("t", 6.0))
        assert found.measured == 0.0
        assert found.elements[0] == "row"

    def test_a_waived_pair_leaves_its_stand(self) -> None:
        trees = [tree(f"t{k}", 4.5 * k) for k in range(3)]
        found = check(SPACING, *trees, waivers={"t.r:t0:t1": "pruned each year"})
        assert [(f.elements, f.waived) for f in found] == [
            (("t0", "t1"), "pruned each year"),
            (("t1", "t2"), ""),
        ]
        assert [f.failing for f in found] == [False, True]

    def test_neighbours_trees_among_themselves_are_left_alone(self) -> None:
        pair = [tree("a", 0, owner="neighbour"), tree("b", 3, owner="neighbour")]
        assert check(SPACING, *pair) == ()
        assert len(check(SPACING, pair[0], tree("b", 3))) == 1

    def test_the_steeper_stem_decides(self) -> None:
        rule = rule_of(
            relation="spacing",
            a={"kind": "tree", "part": "crown_mature"},
            limit={
                "steps": [
                    {"up_to": {"value": 20, "unit": "%"}, **metres(1)},
                    metres(5),
                ]
            },
        )
        pair = (tree("a", 0), tree("b", 5))
        assert check(rule, *pair, ground=Step(at_x=9)) == ()
        (found,) = check(rule, *pair, ground=Step(at_x=4))
        assert (found.measured, found.required) == (pytest.approx(3.0), 5.0)

    def test_unknown_slope_takes_the_flattest_and_says_so(self) -> None:
        rule = rule_of(
            relation="spacing",
            a={"kind": "tree", "part": "crown_mature"},
            limit={"steps": [{"up_to": {"value": 20, "unit": "%"}, **metres(4)}, metres(9)]},
        )
        (found,) = check(rule, tree("a", 0), tree("b", 5))
        assert found.required == 4.0
        assert "slope is not known" in found.caution


@dataclass(frozen=True)
class Step:
    """Flat ground that is steep (50 %) east of a line."""

    at_x: float
    slope: float = 0.5

    def slope_ratio_at(self, x_m, y_m):
        x = np.asarray(x_m, float)
        return np.where(x > self.at_x, self.slope, 0.0)

    def height_at(self, x_m, y_m):
        return np.maximum(np.asarray(x_m, float) - self.at_x, 0.0) * self.slope

    def mean_slope(self, geometry):
        west, _, east, _ = geometry.bounds
        return self.slope * min(max((east - self.at_x) / (east - west), 0.0), 1.0)

    def max_slope(self, geometry):
        return self.slope if geometry.bounds[2] > self.at_x else 0.0


NEAR = rule_of(
    relation="min_distance",
    says="{a}: near {b}.",
    a={"kind": "tree", "part": "crown_mature"},
    b={"kind": "building", "part": "wall"},
    limit=metres(3),
)


class TestDistance:
    def test_shortest_line_between_the_parts(self) -> None:
        (found,) = check(NEAR, HOUSE, tree("t", 9))
        assert found.measured == pytest.approx(2.0, abs=0.01)
        assert found.where.length == pytest.approx(2.0, abs=0.01)

    def test_overlap_is_drawn_as_area(self) -> None:
        (found,) = check(NEAR, HOUSE, tree("t", 6))
        assert found.measured == 0.0
        assert found.where.area == pytest.approx(math.pi / 2, rel=0.02)

    def test_many_plants_at_one_house_are_one_finding(self) -> None:
        trees = [tree("t1", 9.0), tree("t2", 8.0, 2), tree("t3", -9.5)]
        (found,) = check(NEAR, HOUSE, *trees, tree("far", 30.0))
        assert found.message == "3 trees: near Building."
        assert found.elements == ("t2", "house", "t1", "t3")
        assert found.measured == pytest.approx(1.0, abs=0.01)
        assert len(found.where.geoms) == 3

    def test_one_of_many_may_be_waived(self) -> None:
        trees = [tree("t1", 9.0), tree("t2", 8.0, 2)]
        found = check(NEAR, HOUSE, *trees, waivers={"t.r:t2:house": "old oak"})
        assert {f.elements: f.waived for f in found} == {
            ("t1", "house"): "",
            ("t2", "house"): "old oak",
        }

    def test_what_is_not_built_yet_is_named_first(self) -> None:
        old = tree("t", 9.0, status="existing")
        (found,) = check(NEAR, HOUSE, old)
        assert found.elements == ("house", "t")

    def test_trees_to_be_removed_do_not_count(self) -> None:
        assert check(NEAR, HOUSE, tree("t", 9.0, status="remove")) == ()

    def test_two_things_of_others_are_none_of_ours(self) -> None:
        theirs = make_subject(
            "building", "n", box(-6, -5, 6, 5), {"wall": box(-6, -5, 6, 5)}, owner="neighbour"
        )
        assert check(NEAR, theirs, tree("t", 9.0, owner="neighbour")) == ()
        assert len(check(NEAR, theirs, tree("t", 9.0))) == 1

    def test_the_limit_may_be_a_multiple_of_a_field(self) -> None:
        rule = rule_of(
            relation="min_distance",
            a={"kind": "tree", "part": "stem"},
            b={"kind": "building", "part": "wall"},
            limit={**metres(1.25), "times": "mature_height_m"},
        )
        (found,) = check(rule, HOUSE, tree("t", 20, mature_height_m=24.0))
        assert (found.measured, found.required) == (14.0, 30.0)
        assert check(rule, HOUSE, tree("t", 20)) == ()

    def test_species_give_the_height_nobody_typed(self) -> None:
        rule = rule_of(
            relation="min_distance",
            a={"kind": "tree", "part": "stem", "where": {"taxon": "Salix"}},
            b={"kind": "building", "part": "wall"},
            limit={**metres(1), "times": "mature_height_m"},
        )
        (found,) = check(rule, HOUSE, tree("t", 20, species="salix alba"))
        assert found.required == 22.0
        assert check(rule, HOUSE, tree("t", 20, species="Malus domestica")) == ()

    def test_reach_without_any(self) -> None:
        rule = rule_of(
            relation="within_reach", a={"kind": "building"}, b={"kind": "tank"}, limit=metres(60)
        )
        (found,) = check(rule, HOUSE)
        assert found.measured is None
        tank = make_subject("tank", "tank", Point(106, 0))
        (found,) = check(rule, HOUSE, tank)
        assert found.measured == 100.0
        assert found.elements == ("house",)

    def test_a_chain_of_hedges_is_a_fuse(self) -> None:
        rule = rule_of(
            relation="links",
            says="{a} leads to {b}.",
            a={"kind": "hedge"},
            b={"kind": "building"},
            c={"kind": "vegetation"},
            limit=metres(3),
            joined=metres(1),
        )
        near = make_subject("hedge", "h1", LineString([(7, 0), (30, 0)]))
        far = make_subject("hedge", "h2", LineString([(30.5, 0), (60, 0)]))
        wild = make_subject("vegetation", "wild", box(62, -20, 90, 20))
        (found,) = check(rule, HOUSE, near, far, wild)
        assert set(found.elements) == {"h1", "house", "h2"}
        assert check(rule, HOUSE, near, wild) == ()
        assert check(rule, HOUSE, near, far) == ()


class TestOverlay:
    def test_overlap_is_measured_in_area_or_length(self) -> None:
        rule = rule_of(
            relation="clear_of", a={"kind": ["fence", "building"]}, b={"kind": "easement"}
        )
        strip = make_subject("easement", "e", box(0, -50, 4, 50))
        fence = make_subject("fence", "f", LineString([(-5, 20), (20, 20)]))
        found = {f.elements: (f.measured, f.unit) for f in check(rule, strip, HOUSE, fence)}
        assert found == {("house", "e"): (40.0, "m2"), ("f", "e"): (4.0, "m")}

    def test_a_shared_edge_is_no_overlap(self) -> None:
        rule = rule_of(relation="clear_of", a={"kind": "building"}, b={"kind": "easement"})
        assert check(rule, HOUSE, make_subject("easement", "e", box(6, -5, 9, 5))) == ()

    def test_overlapping_crowns_within_one_row_do_not_trip_the_overlay(self) -> None:
        rule = rule_of(
            relation="clear_of",
            a={"kind": "tree_row", "part": "crown_mature"},
            b={"kind": "building"},
        )
        discs = [Point(x, 6).buffer(2) for x in (-2, 0, 2)]
        row = make_subject(
            "tree_row",
            "row",
            LineString([(-2, 6), (2, 6)]),
            {"crown_mature": shapely.multipolygons(discs)},
        )
        (found,) = check(rule, row, HOUSE)
        whole = shapely.union_all(discs)
        assert found.measured == pytest.approx(whole.intersection(HOUSE.parts["wall"]).area)

    def test_inside_tells_what_lies_beyond(self) -> None:
        rule = rule_of(relation="inside", a={"kind": "building"}, b={"kind": "site_boundary"})
        land = make_subject("site_boundary", "site", box(-100, -100, 4, 100))
        (found,) = check(rule, HOUSE, land)
        assert (found.measured, found.unit) == (20.0, "m2")
        assert found.where.equals(box(4, -5, 6, 5))
        assert check(rule, HOUSE) == ()

    def test_what_is_drawn_along_the_edge_lies_inside(self) -> None:
        rule = rule_of(relation="inside", a={"kind": "building"}, b={"kind": "site_boundary"})
        assert check(rule, HOUSE, make_subject("site_boundary", "site", box(-9, -9, 5.96, 9))) == ()

    def test_only_the_crossing_without_a_gate_is_told(self) -> None:
        rule = rule_of(
            relation="crossing_without",
            a={"kind": "fence"},
            b={"kind": "track"},
            c={"kind": "gate"},
            within=metres(4),
        )
        fence = make_subject("fence", "f", LineString([(0, 0), (100, 0)]))
        track = make_subject("track", "t", LineString([(20, -9), (20, 9), (80, 9), (80, -9)]))
        gate = make_subject("gate", "g", Point(20, 0))
        (found,) = check(rule, fence, track, gate)
        assert found.where.equals(Point(80, 0))


class TestGround:
    def test_the_steep_part_of_an_area_is_located(self) -> None:
        rule = rule_of(
            relation="max_slope", a={"kind": "septic_field"}, limit={"value": 20, "unit": "%"}
        )
        field = make_subject("septic_field", "s", box(0, 0, 20, 10))
        (found,) = check(rule, field, ground=Step(at_x=10))
        assert found.measured == pytest.approx(0.25)
        assert found.where.equals(box(10, 0, 20, 10))

    def test_the_steep_stretch_of_a_track_is_located(self) -> None:
        rule = rule_of(relation="max_grade", a={"kind": "track"}, limit={"value": 16, "unit": "%"})
        line = LineString([(0, 0), (40, 0), (100, 0)])
        track = make_subject("track", "t", line, facts={"max_grade": -0.5})
        (found,) = check(rule, track, ground=Step(at_x=60))
        assert found.measured == 0.5
        west, _, east, _ = found.where.bounds
        # A 4 m window reaches 16 % when a third of it lies on the 50 % ground.
        assert west == pytest.approx(60, abs=3)
        assert east == pytest.approx(100, abs=0.1)

    def test_without_ground_nothing_is_said_of_slopes(self) -> None:
        rule = rule_of(
            relation="max_slope", a={"kind": "septic_field"}, limit={"value": 20, "unit": "%"}
        )
        assert check(rule, make_subject("septic_field", "s", box(0, 0, 20, 10))) == ()

    def test_degrees_are_read_as_slopes(self) -> None:
        rule = rule_of(
            relation="max_slope", a={"kind": "septic_field"}, limit={"value": 10, "unit": "deg"}
        )
        assert rule.limit.amount.value == pytest.approx(math.tan(math.radians(10)))
        field = make_subject("septic_field", "s", box(0, 0, 20, 10))
        assert check(rule, field, ground=Plane(0.17)) == ()
        assert len(check(rule, field, ground=Plane(0.18))) == 1

    def test_each_tight_bend_is_located(self) -> None:
        rule = rule_of(relation="min_radius", a={"kind": "track"}, limit=metres(8))
        line = LineString([(0, 0), (50, 0), (50, 50), (100, 50)])
        (found,) = check(rule, make_subject("track", "t", line, width_m=3.5))
        assert {(p.x, p.y) for p in found.where.geoms} == {(50, 0), (50, 50)}
