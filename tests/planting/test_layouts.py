"""Plants along lines, in hedges and in patterns. Geometry is computed; handbook checks are PF…"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial import cKDTree
from shapely import LineString, MultiPolygon, Point, Polygon, box

from canvas.base.errors import BadData, InputError
from canvas.planting.layouts import (
    Pattern,
    along_line,
    count_along,
    fill,
    hedge_lines,
    hedge_plants,
    plants_per_ha,
)


class TestAlongLines:
    def test_open_line_has_a_plant_at_its_start_and_each_full_spacing(self) -> None:
        xy = along_line(LineString([(0, 0), (6, 0), (6, 5)]), 4)
        assert xy.tolist() == [[0, 0], [4, 0], [6, 2]]

    def test_a_spacing_that_fits_reaches_the_end(self) -> None:
        # 12 / 0.4 is 29.999… in floating point; 31 plants stand on 12 m.
        assert len(along_line(LineString([(0, 0), (12, 0)]), 0.4)) == 31

    def test_a_line_shorter_than_the_spacing_has_one_plant(self) -> None:
        assert along_line(LineString([(0, 0), (1, 0)]), 5).tolist() == [[0, 0]]

    def test_a_closed_line_is_shared_out_evenly(self) -> None:
        ring = LineString([(0, 0), (10, 0), (10, 10), (0, 10), (0, 0)])
        xy = along_line(ring, 3)
        assert len(xy) == round(40 / 3) == 13
        gaps = np.diff([ring.project(Point(p)) for p in xy])
        assert gaps == pytest.approx(40 / 13)

    @given(st.floats(0.5, 500), st.floats(0.2, 20))
    def test_counts_never_pass_the_line(self, length: float, spacing: float) -> None:
        count = count_along(length, spacing)
        assert (count - 1) * spacing <= length + 1e-6 < count * spacing + 2e-6

    @pytest.mark.parametrize("spacing", [0.0, -1.0, math.nan, math.inf])
    def test_a_spacing_that_is_none_is_refused(self, spacing: float) -> None:
        with pytest.raises(InputError, match="spacing_m"):
            along_line(LineString([(0, 0), (9, 0)]), spacing)

    def test_a_slip_of_the_decimal_point_is_refused(self) -> None:
        with pytest.raises(BadData, match="Widen the spacing"):
            along_line(LineString([(0, 0), (30_000, 0)]), 0.1)


class TestHedges:
    LINE = LineString([(0, 0), (10, 0)])

    def test_rows_lie_even_about_the_middle_line(self) -> None:
        rows = hedge_lines(self.LINE, 3, 0.4)
        assert [row.coords[0][1] for row in rows] == pytest.approx([0.4, 0.0, -0.4])
        assert [row.coords[0][0] for row in rows] == [0, 0, 0]

    def test_staggered_plants_stand_in_the_gaps_of_the_row_before(self) -> None:
        xy = hedge_plants(self.LINE, rows=2, row_gap_m=0.4, spacing_m=0.5, staggered=True)
        left, right = xy[xy[:, 1] > 0], xy[xy[:, 1] < 0]
        assert (len(left), len(right)) == (21, 20)
        assert left[:20, 0] + 0.25 == pytest.approx(right[:, 0])
        # Nearest neighbour across: half a spacing along and a row gap over (Pythagoras).
        apart = cKDTree(left).query(right)[0]
        assert apart == pytest.approx(math.hypot(0.25, 0.4))

    def test_square_plants_stand_abreast(self) -> None:
        xy = hedge_plants(self.LINE, rows=2, row_gap_m=0.4, spacing_m=0.5, staggered=False)
        assert len(xy) == 42
        assert np.unique(np.round(xy[:, 0], 9)).size == 21

    def test_a_ring_hedge_has_rows_inside_and_out(self) -> None:
        ring = LineString(Point(0, 0).buffer(10, quad_segs=32).exterior.coords)
        for line in (ring, LineString(ring.coords[::-1])):
            rows = hedge_lines(line, 2, 1.0)
            radii = sorted(math.sqrt(Polygon(row.coords).area / math.pi) for row in rows)
            assert radii == pytest.approx([9.5, 10.5], abs=0.05)
        # Drawn clockwise, the left of the line is the outside.
        first = hedge_lines(ring, 2, 1.0)[0]
        assert Polygon(first.coords).area > Polygon(ring.coords).area

    def test_corners_keep_the_row_gap(self) -> None:
        corner = LineString([(0, 0), (10, 0), (10, 10)])
        for row in hedge_lines(corner, 2, 1.0):
            assert shapely.hausdorff_distance(row, corner) < 0.8
            assert row.distance(corner) == pytest.approx(0.5, abs=1e-9)


class TestPatterns:
    LAND = box(0, 0, 100, 60)

    def test_pf08_rows_on_the_edge(self) -> None:
        # 21 x 13 on 100 x 60 m at 5 m, plants on the edge.
        assert len(fill(self.LAND, Pattern.SQUARE, 5)) == 273

    def test_pf09_inset_by_half_a_spacing(self) -> None:
        # 20 x 12 = A / s² with a 2.5 m offset.
        assert len(fill(self.LAND, Pattern.SQUARE, 5, inset_m=2.5)) == 240

    def test_quincunx_counts_exactly(self) -> None:
        # n m + (n - 1)(m - 1) with n x m corners.
        xy = fill(self.LAND, Pattern.QUINCUNX, 10)
        assert len(xy) == 11 * 7 + 10 * 6

    @pytest.mark.parametrize(
        ("pattern", "nearest"),
        [
            (Pattern.SQUARE, 4.0),
            (Pattern.TRIANGULAR, 4.0),
            (Pattern.QUINCUNX, 4.0 / math.sqrt(2)),
        ],
    )
    def test_nearest_neighbours(self, pattern: Pattern, nearest: float) -> None:
        xy = fill(self.LAND, pattern, 4, bearing_deg=37)
        apart = cKDTree(xy).query(xy, k=2)[0][:, 1]
        assert apart == pytest.approx(nearest)

    def test_rectangular_rows_run_along_the_bearing(self) -> None:
        xy = fill(self.LAND, Pattern.RECTANGULAR, 3, row_m=6, bearing_deg=0, origin=(0, 0))
        assert set(np.round(xy[:, 0], 9)) == {6.0 * k for k in range(17)}
        assert set(np.round(xy[:, 1], 9)) == {3.0 * k for k in range(21)}

    @pytest.mark.parametrize("pattern", list(Pattern))
    @pytest.mark.parametrize("bearing", [0, 30, 90, 135])
    def test_large_areas_reach_the_density(self, pattern: Pattern, bearing: float) -> None:
        land = box(0, 0, 400, 400)
        xy = fill(land, pattern, 4, row_m=5, bearing_deg=bearing, inset_m=2)
        wanted = plants_per_ha(pattern, 4, 5) * shapely.area(land.buffer(-2)) / 1e4
        assert len(xy) == pytest.approx(wanted, rel=0.03)

    def test_every_plant_lies_inside_and_off_holes(self) -> None:
        land = Polygon(box(0, 0, 60, 60).exterior, [box(20, 20, 40, 40).exterior])
        xy = fill(land, Pattern.TRIANGULAR, 3, inset_m=1)
        inner = land.buffer(-0.99, join_style="mitre")
        assert shapely.intersects_xy(inner, xy[:, 0], xy[:, 1]).all()
        assert len(xy) > 250

    def test_parts_of_one_area_share_their_rows(self) -> None:
        parts = MultiPolygon([box(0, 0, 20, 20), box(30, 0, 50, 20)])
        xy = fill(parts, Pattern.SQUARE, 5, origin=(0, 0))
        assert len(xy) == 50
        assert set(np.round(xy[:, 0] % 5, 9)) == {0.0}

    def test_an_inset_that_eats_the_area_leaves_nothing(self) -> None:
        assert fill(box(0, 0, 4, 4), Pattern.SQUARE, 1, inset_m=3).shape == (0, 2)

    def test_rectangular_needs_its_row_distance(self) -> None:
        with pytest.raises(BadData, match="between rows"):
            fill(self.LAND, Pattern.RECTANGULAR, 3)

    def test_a_slip_of_the_decimal_point_is_refused(self) -> None:
        with pytest.raises(BadData, match="Widen the spacing"):
            fill(box(0, 0, 5000, 5000), Pattern.SQUARE, 0.5)
