"""What must hold for any earthwork on any ground: earth is kept, turning turns, order decides."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Polygon, box
from shapely.affinity import rotate

from canvas.base.errors import BadData
from canvas.base.grid import Grid
from canvas.ground.bank import Sill, Works
from canvas.ground.crosssection import BankSection, Batters, Parabola, Trapezoid
from canvas.ground.dam import Bank, behind, dam
from canvas.ground.designed import Designed
from canvas.ground.faces import Held, HeldLine, hold
from canvas.ground.levelbook import Reading, Reduce, reduce
from canvas.ground.levelline import Limits, level_line
from canvas.ground.platform import Pad, balanced, platform
from canvas.ground.pond import Basin, pool
from canvas.ground.swale import swale
from canvas.ground.tin import Heights, Surface, on_cells, triangulate
from made_ground import floods_to, ground

slopes = st.floats(0.02, 0.3)
turns = st.floats(0, 360)


def hill(slope: float, uphill_deg: float, wave_m: float = 0.0, cell: float = 1.0) -> Grid:
    east, north = math.sin(math.radians(uphill_deg)), math.cos(math.radians(uphill_deg))

    def level(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        across = (x - 60) * north - (y - 60) * east
        up = (x - 60) * east + (y - 60) * north
        return 100 + slope * up + wave_m * np.sin(across / 11)

    return ground(120, cell, level)


@given(slopes, turns, st.floats(0, 1), st.floats(-1, 1), st.sampled_from([1.0, 1.5, 2.0]))
@settings(max_examples=40, deadline=None)
def test_the_grounds_change_is_what_is_filled_less_what_is_cut(
    slope: float, turn: float, wave: float, lift: float, cell: float
) -> None:
    base = hill(slope, turn, wave, cell)
    made = platform(base, Pad(box(50, 52, 66, 64), Batters(1, 2)), 100 + lift)
    change = float(Designed.of(base, [made.patch]).change.z.sum()) * cell**2
    assert change == pytest.approx(made.earth.fill_m3 - made.earth.cut_m3, abs=1e-6)
    # Nothing outside batters and pad is touched, and no level lies beyond its batter.
    assert made.patch.levels.z[made.patch.core] == pytest.approx(100 + lift)


@given(slopes, turns, st.floats(0, 1), st.floats(0.8, 1.3), st.floats(0.5, 2), st.floats(1, 2.5))
@settings(max_examples=30, deadline=None)
def test_a_balanced_platform_balances(
    slope: float, turn: float, wave: float, ratio: float, cut: float, fill: float
) -> None:
    made = balanced(hill(slope, turn, wave), Pad(box(50, 52, 66, 64), Batters(cut, fill)), ratio)
    moved = made.earth.cut_m3 + made.earth.fill_m3
    assert made.earth.cut_m3 * ratio == pytest.approx(made.earth.fill_m3, abs=0.005 * moved + 0.5)


@given(slopes, turns, st.floats(0, 0.5))
@settings(max_examples=20, deadline=None)
def test_turning_the_ground_turns_the_platform(slope: float, turn: float, wave: float) -> None:
    outline = box(52, 54, 68, 66)
    turned = rotate(outline, -turn, origin=(60, 60))
    assert isinstance(turned, Polygon)
    one = balanced(hill(slope, 0, wave), Pad(outline, Batters(1, 2)), 0.9)
    two = balanced(hill(slope, turn, wave), Pad(turned, Batters(1, 2)), 0.9)
    assert two.level_m == pytest.approx(one.level_m, abs=0.02)
    assert two.earth.cut_m3 == pytest.approx(one.earth.cut_m3, rel=0.05, abs=0.5)


@given(st.floats(-1.5, 1.5), st.floats(0.05, 1.5))
@settings(max_examples=25, deadline=None)
def test_a_higher_platform_cuts_no_more_and_fills_no_less(level: float, more: float) -> None:
    base, pad = hill(0.15, 33, 0.4), Pad(box(50, 52, 66, 64), Batters(1, 2))
    low, high = platform(base, pad, 100 + level), platform(base, pad, 100 + level + more)
    assert high.earth.cut_m3 <= low.earth.cut_m3 + 1e-9
    assert high.earth.fill_m3 >= low.earth.fill_m3 - 1e-9


channels = st.one_of(
    st.builds(Trapezoid, st.floats(0.3, 1.0), st.floats(0.25, 0.6), st.floats(1, 2.5)),
    st.builds(Parabola, st.floats(1.5, 4), st.floats(0.25, 0.6)),
)


@given(channels, st.floats(0.05, 0.2), turns, st.sampled_from([1.0, 2.0]), st.floats(0.05, 0.3))
@settings(max_examples=25, deadline=None)
def test_any_swale_holds_its_section_times_its_length(
    channel: Trapezoid | Parabola, slope: float, turn: float, cell: float, sill: float
) -> None:
    """Within 5 % and what the rounded ends add, on the patch; the base grid holds the same."""
    base = hill(slope, turn, 0.0, cell)
    way = np.array([math.cos(math.radians(turn)), -math.sin(math.radians(turn))]) * 35
    line = LineString(60 + np.array([-way, way]))
    works = Works(channel, BankSection(0.6, 0.5, 2, 2), sills=(Sill(35, 4, sill),))
    made = swale(base, line, 100.0, works)
    ends = math.pi * works.crest_m * works.area_m2(hill_slope=slope) / 2
    assert made.holds_m3 >= 0.97 * made.by_section_m3
    assert made.holds_m3 <= 1.03 * made.by_section_m3 + ends
    designed = Designed.of(base, [made.patch])
    z, water = designed.flow_levels.z, 100 + works.full_m
    x, y = np.meshgrid(base.x_m(), base.y_m())
    near = np.hypot(x - 60, y - 60) < 2 * works.crest_m + 3 * cell
    start = np.unravel_index(np.argmin(np.where(near, z - base.z, np.inf)), z.shape)
    seen = floods_to(
        designed.flow_levels, designed.faces, (int(start[0]), int(start[1])), water - 1e-6
    )
    held = float(np.maximum(water - z, 0)[seen].sum()) * cell**2
    assert held == pytest.approx(made.holds_m3, rel=0.05)


@given(st.integers(0, 10_000), st.floats(0.05, 0.3))
@settings(max_examples=30, deadline=None)
def test_a_traced_line_is_level_simple_and_inside(seed: int, slope: float) -> None:
    rng = np.random.default_rng(seed)
    base = hill(slope, rng.uniform(0, 360), rng.uniform(0, 1.5))
    inside = box(25, 25, 95, 95)
    try:
        traced = level_line(base, 60, 60, Limits(60, slope=0.6, within=inside))
    except BadData:
        return
    assert traced.error_m <= 0.02
    assert traced.line.is_simple
    assert inside.buffer(1e-6).covers(traced.line)


@given(st.lists(st.tuples(st.floats(0, 20), st.floats(0, 20)), min_size=3, max_size=9))
@settings(max_examples=60, deadline=None)
def test_no_ring_of_crests_leaks(points: list[tuple[float, float]]) -> None:
    body = LineString(points).convex_hull.buffer(1.5)
    assert isinstance(body, Polygon)
    flat = ground(24, 1, lambda x, y: 0 * x)
    xy = np.asarray(body.exterior.coords) + 1.0
    faces = hold(flat, [HeldLine(Held.CREST, np.column_stack((xy, np.full(len(xy), 5.0))))])
    ring = Polygon(xy)
    inside = flat.cell_at(ring.representative_point().x, ring.representative_point().y)
    assert inside is not None
    seen = floods_to(flat, faces, inside, 4.9)
    x, y = np.meshgrid(flat.x_m(), flat.y_m())
    far = np.array([ring.exterior.distance(p) > 1e-3 for p in _points(x, y)]).reshape(x.shape)
    within = np.array([ring.covers(p) for p in _points(x, y)]).reshape(x.shape)
    start_within = within[inside]
    assert not seen[far & (within != start_within)].any()


def _points(x: np.ndarray, y: np.ndarray) -> list[object]:
    from shapely import points

    return list(np.asarray(points(x.ravel(), y.ravel())))


@given(st.floats(0.05, 0.3), st.floats(0.02, 0.1), st.floats(1, 4), st.floats(0.2, 0.9))
@settings(max_examples=25, deadline=None)
def test_water_behind_a_dam_rises_with_its_level(
    side: float, fall: float, height: float, share: float
) -> None:
    base = ground(240, 2, lambda x, y: 100 + side * abs(x - 120) + fall * (y - 120))
    reach = min(height / side + 10, 110)
    bank = Bank(LineString([(120 - reach, 120), (120 + reach, 120)]), 100 + height, 3, 3, 2.5)
    made, basin = dam(base, bank), Basin(base)
    low = behind(made, 100 + height * share * 0.9, basin)
    high = behind(made, 100 + height * share, basin)
    assert high.water.volume_m3 >= low.water.volume_m3
    assert high.water.area_m2 >= low.water.area_m2
    if high.holds and high.water.area_m2 > 0:
        curve = high.water.storage()
        assert curve.volume_m3[-1] == pytest.approx(high.water.volume_m3)
        assert np.all(np.diff(curve.area_m2) >= 0)
    # Filling again leaves no trace.
    assert behind(made, 100 + height * share, basin).water.volume_m3 == high.water.volume_m3


@given(st.integers(0, 10_000), st.floats(-2, 3))
@settings(max_examples=30, deadline=None)
def test_a_pool_is_all_that_hangs_together_below_its_level(seed: int, level: float) -> None:
    rng = np.random.default_rng(seed)
    rough = Grid(rng.normal(0, 1, (12, 14)), 0.0, 12.0, 1.0)
    seed_cell = (5, 6)
    found = pool(rough, (6.5, 6.5), level)
    from canvas.ground.faces import Faces

    want = floods_to(rough, Faces.none(rough.shape), seed_cell, level)
    assert found.area_m2 == want.sum()
    assert found.volume_m3 == pytest.approx(float((level - rough.z)[want].sum()))


@given(st.integers(0, 10_000), st.sampled_from(Surface))
@settings(max_examples=25, deadline=None)
def test_a_made_surface_passes_through_its_points(seed: int, surface: Surface) -> None:
    rng = np.random.default_rng(seed)
    # Points on cell centres, so that the grid shows the surface just there.
    cells = rng.choice(400, 60, replace=False)
    row, col = cells // 20, cells % 20
    z = rng.normal(0, 3, 60)
    grid = Grid(np.zeros((20, 20)), 0.0, 20.0, 1.0)
    points = np.column_stack((col + 0.5, 20 - row - 0.5, z))
    made = on_cells(triangulate(Heights(points)), grid, surface)
    got = made.z[row, col]
    known = ~np.isnan(got)
    assert known.mean() > 0.9
    assert got[known] == pytest.approx(z[known], abs=1e-9)
    if surface is Surface.STRAIGHT:
        assert np.nanmax(made.z) <= z.max() + 1e-9
        assert np.nanmin(made.z) >= z.min() - 1e-9


sights = st.floats(0.1, 3.9).map(lambda v: round(v, 3))


@given(st.lists(st.tuples(sights, sights, st.booleans()), min_size=1, max_size=8), st.floats(-1, 1))
@settings(max_examples=60, deadline=None)
def test_both_ways_of_reducing_a_book_agree(
    setups: list[tuple[float, float, bool]], off: float
) -> None:
    lines: list[Reading] = []
    fore = None
    for i, (back, sight, between) in enumerate(setups):
        lines.append(Reading(f"CP{i}", back, None, fore, None, 50.0 if i == 0 else None))
        if between:
            lines.append(Reading(f"i{i}", between_m=sight))
        fore = sight
    total = sum(back for back, _, _ in setups) - sum(sight for _, sight, _ in setups)
    lines.append(Reading("end", fore_m=fore, known_m=50.0 + total + off))
    one, two = (reduce(lines, how) for how in Reduce)
    heights = [[level.height_m for level in book.levels] for book in (one, two)]
    assert heights[0] == pytest.approx(heights[1])
    assert one.misclosure_m == pytest.approx(-off, abs=1e-9)
    assert one.arithmetic_error_m == pytest.approx(0, abs=1e-9)
    assert one.levels[-1].adjusted_m == pytest.approx(50.0 + total + off)
    assert one.levels[0].adjusted_m == 50.0
