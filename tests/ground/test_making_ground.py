"""Ground from scattered heights, contours and breaklines; a survey merged in; a level book."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
from shapely import LineString, MultiPoint, box

from canvas.base.errors import BadData
from canvas.base.grid import Grid
from canvas.ground.contours import contours
from canvas.ground.levelbook import Reading, Reduce, reduce
from canvas.ground.merge import datum_shift_m, merge
from canvas.ground.tin import Heights, Surface, Tin, cells_over, on_cells, triangulate
from made_ground import cone, ground, plane


def scattered(count: int, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).uniform(0, 100, (count, 2))


def heights_of(xy: np.ndarray, level: object) -> np.ndarray:
    return np.column_stack((xy, level(xy[:, 0], xy[:, 1])))  # type: ignore[operator]


def slanted(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    return 10 + 0.2 * x - 0.1 * y


def line_on(points: list[tuple[float, float]], level: object) -> np.ndarray:
    return heights_of(np.array(points), level)


def has_edge(tin: Tin, a: tuple[float, float], b: tuple[float, float]) -> bool:
    """Whether straight from a to b runs along edges of the triangles."""
    edges = tin.xy_m[tin.tri[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2)] + tin.origin_m
    pieces = shapely.linestrings(edges)
    way = LineString([a, b])
    on = shapely.covers(way.buffer(1e-3), pieces)
    return bool(shapely.union_all(pieces[on]).length == pytest.approx(way.length, abs=1e-2))


@pytest.mark.parametrize("surface", Surface)
def test_a_plane_comes_back_as_itself(surface: Surface) -> None:
    made = triangulate(Heights(heights_of(scattered(500), slanted)))
    cells = Grid(np.zeros((100, 100)), 0.0, 100.0, 1.0)
    out = on_cells(made, cells, surface)
    x, y = np.meshgrid(cells.x_m(), cells.y_m())
    known = ~np.isnan(out.z)
    assert known.mean() > 0.9
    assert out.z[known] == pytest.approx(slanted(x, y)[known], abs=1e-9)


def test_nothing_is_made_up_beyond_the_points() -> None:
    xy = scattered(300)
    made = triangulate(Heights(heights_of(xy, slanted)))
    cells = Grid(np.zeros((140, 140)), -20.0, 120.0, 1.0)
    out = on_cells(made, cells)
    x, y = np.meshgrid(cells.x_m(), cells.y_m())
    inside = shapely.contains_xy(MultiPoint(xy).convex_hull.buffer(1e-6), x, y)
    assert np.isnan(out.z[~inside]).all()
    assert not np.isnan(out.z[shapely.contains_xy(made.outline(), x, y)]).any()
    part = on_cells(made, cells, within=box(20, 20, 40, 40))
    assert np.isnan(part.z).sum() == 140 * 140 - 400


def test_long_edges_are_not_stretched_across_a_gap() -> None:
    """Two patches of points 60 m apart."""
    left, right = scattered(200) * (0.2, 1), scattered(200, 2) * (0.2, 1) + (80, 0)
    made = triangulate(Heights(heights_of(np.vstack((left, right)), slanted)), longest_edge_m=30)
    cells = cells_over(made, 1.0)
    out = on_cells(made, cells)
    middle = (cells.x_m() > 35) & (cells.x_m() < 65)
    assert np.isnan(out.z[:, middle]).all()
    assert not np.isnan(out.z[40:60, 3:14]).any()


def test_every_line_is_kept_as_edges() -> None:
    points = heights_of(scattered(800), slanted)
    ways = [[(5, 5), (50, 55), (95, 60)], [(5, 95), (95, 5)], [(20, 50), (80, 50)]]
    made = triangulate(Heights(points, breaklines=tuple(line_on(w, slanted) for w in ways)))
    assert made.lost_edges == 0
    assert not made.doubts
    for way in ways:
        for a, b in itertools.pairwise(way):
            assert has_edge(made, a, b)
    assert made.areas_m2().min() > -1e-9


@pytest.mark.parametrize("seed", range(8))
def test_many_crossing_lines_leave_a_whole_net(seed: int) -> None:
    rng = np.random.default_rng(seed)
    points = np.column_stack((np.round(rng.uniform(0, 50, (200, 2)), 1), rng.uniform(0, 1, 200)))
    lines = tuple(
        np.column_stack((np.round(rng.uniform(0, 50, (4, 2)), 1), np.zeros(4))) for _ in range(6)
    )
    made = triangulate(Heights(points, breaklines=lines))
    assert made.lost_edges == 0
    hull = MultiPoint(made.xy_m).convex_hull.area
    assert made.areas_m2().min() >= -1e-9
    assert made.areas_m2().sum() == pytest.approx(hull)
    for t, across in enumerate(made.across):
        for k, other in enumerate(across):
            if other >= 0:
                edge = {made.tri[t, (k + 1) % 3], made.tri[t, (k + 2) % 3]}
                assert t in made.across[other]
                assert edge <= set(made.tri[other])


def test_a_breakline_creases_the_smooth_surface_and_nothing_else() -> None:
    """A roof with its ridge at x = 50: flat sides stay flat right up to the ridge."""

    def roof(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 10 - 0.3 * abs(x - 50)

    points = heights_of(scattered(600), roof)
    ridge = line_on([(50, 0), (50, 100)], roof)
    cells = Grid(np.zeros((160, 160)), 10.0, 90.0, 0.5)
    x, y = np.meshgrid(cells.x_m(), cells.y_m())
    kept = on_cells(triangulate(Heights(points, breaklines=(ridge,))), cells, Surface.SMOOTH)
    assert np.abs(kept.z - roof(x, y)).max() < 1e-9
    loose = on_cells(triangulate(Heights(points)), cells, Surface.SMOOTH)
    assert np.abs(loose.z - roof(x, y)).max() > 0.05


def test_the_smooth_surface_is_smooth_and_nearer_to_a_hill() -> None:
    def hill(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 10 + 3 * np.sin(x / 12) * np.cos(y / 15)

    made = triangulate(Heights(heights_of(scattered(2000), hill)))
    cells = Grid(np.zeros((1200, 1200)), 40.0, 60.0, 1 / 60)
    x, y = np.meshgrid(cells.x_m(), cells.y_m())
    flat, smooth = on_cells(made, cells), on_cells(made, cells, Surface.SMOOTH)
    errors = [float(np.nanstd(s.z - hill(x, y))) for s in (flat, smooth)]
    assert errors[1] < errors[0] / 3
    # No crease: the change of slope from cell to cell shrinks with the cells; a crease's stays.
    bends = [np.abs(np.diff(s.z, 2, axis=1)) * 60 for s in (flat, smooth)]
    coarse = np.abs(np.diff(smooth.z[:, ::4], 2, axis=1)) * 15
    assert np.percentile(bends[1], 99.9) < np.percentile(bends[0], 99.9) / 5
    assert np.percentile(bends[1], 99.9) < np.percentile(coarse, 99.9) / 2.5


def test_ground_from_contours_says_where_it_is_flat_for_want_of_heights() -> None:
    hill = cone(100, 1, 0.3)
    lines = tuple(
        np.column_stack((xy, np.full(len(xy), level))) for level, xy in contours(hill, 2.0)
    )
    made = triangulate(Heights(np.zeros((0, 3)), contours=lines))
    assert made.lost_edges == 0
    assert 0 < made.flat_share < 0.05
    straight = on_cells(made, hill)
    smooth = on_cells(made, hill, Surface.SMOOTH)
    # The top is cut off flat by straight triangles, rounded by the smooth surface.
    assert np.nanmax(np.abs(straight.z - hill.z)) < 2.0
    assert np.nanmean(np.abs(smooth.z - hill.z)) < np.nanmean(np.abs(straight.z - hill.z)) / 2


def test_two_heights_at_one_place_are_told() -> None:
    points = np.array([[0, 0, 1.0], [10, 0, 1], [0, 10, 1], [10, 10, 1], [10, 10, 1.5]])
    (doubt,) = triangulate(Heights(points)).doubts
    assert (doubt.x_m, doubt.y_m, doubt.apart_m) == pytest.approx((10, 10, 0.5))
    crossing = (
        np.array([[2, 2, 1.0], [8, 8, 1]]),
        np.array([[2, 8, 2.0], [8, 2, 2]]),
    )
    doubts = triangulate(Heights(points[:4], contours=crossing)).doubts
    assert [(d.x_m, d.y_m) for d in doubts] == [pytest.approx((5, 5))]


@pytest.mark.parametrize(
    ("points", "says"),
    [
        (np.zeros((0, 3)), "no heights"),
        (np.array([[0, 0, 1.0], [1, 1, 1]]), "three places"),
        (np.array([[0, 0, 1.0], [1, 1, 1], [2, 2, 1]]), "one line"),
        (np.array([[0, 0, 1.0], [1, 1, np.nan], [2, 0, 1]]), "not numbers"),
    ],
)
def test_too_little_to_make_ground_of(points: np.ndarray, says: str) -> None:
    with pytest.raises(BadData, match=says):
        triangulate(Heights(points))


def test_far_coordinates_lose_nothing() -> None:
    xy = scattered(300)
    near = triangulate(Heights(heights_of(xy, slanted)))
    far_points = heights_of(xy, slanted) + np.array([500_000, 5_800_000, 0])
    far = triangulate(Heights(far_points))
    cells = Grid(np.zeros((80, 80)), 10.0, 90.0, 1.0)
    moved = Grid(np.zeros((80, 80)), 500_010.0, 5_800_090.0, 1.0)
    a, b = on_cells(near, cells), on_cells(far, moved)
    assert a.z == pytest.approx(b.z, abs=1e-6, nan_ok=True)


def test_a_survey_is_brought_to_the_grounds_datum_and_feathered_in() -> None:
    """A 1 m survey in 5 m ground, 1.7 m too high, with a new bank the ground doesn't know."""
    coarse = plane(400, 5, 0.1)
    fine = plane(400, 1, 0.1)
    part = Grid(fine.z[150:250, 150:250] + 1.7, 150.0, 250.0, 1.0)
    part.z[40:60, 40:60] += 3.0
    shift, spread = datum_shift_m(coarse, part)
    assert shift == pytest.approx(-1.7, abs=0.01)
    assert spread < 0.05
    made = merge(coarse, part, feather_m=10)
    assert made.grid.cell_m == 1.0
    assert made.shift_m == pytest.approx(-1.7, abs=0.01)
    truth = fine.z.copy()
    truth[190:210, 190:210] += 3.0
    # In the outer half cell a grid's edge value holds: the plane is cut off there.
    assert np.abs(made.grid.z - truth)[5:-5].max() < 0.06
    assert any("moved by -1.70 m" in note for note in made.notes)
    raw = merge(coarse, part, feather_m=10, shift_m=0.0)
    assert any("the edge will show a step" in note for note in raw.notes)
    # Even unshifted the edge is a ramp, not a cliff.
    steps = np.abs(np.diff(raw.grid.z, axis=1))[150:180]
    assert steps.max() < 0.35


def test_a_survey_reaches_beyond_the_ground() -> None:
    coarse = plane(100, 5, 0.1)
    coarse.z[:, :10] = np.nan
    part = plane(100, 1, 0.1)
    made = merge(coarse, part, feather_m=8)
    assert not np.isnan(made.grid.z).any()
    assert made.survey_share > 0.5
    with pytest.raises(BadData, match="in common"):
        merge(plane(50, 5, 0.1), Grid(np.zeros((9, 9)), 900.0, 900.0, 1.0), 5)


def test_a_finer_survey_is_averaged_into_coarser_cells() -> None:
    coarse = plane(100, 2, 0.1)
    fine = ground(100, 0.5, lambda x, y: 100 + 0.1 * (y - 50) + 0.2 * np.sin(x * 6))
    made = merge(coarse, fine, feather_m=0, cell_m=2.0)
    assert made.grid.cell_m == 2.0
    assert np.abs(made.grid.z - coarse.z).max() < 0.15


BOOK = [
    Reading("A", back_m=1.5, distance_m=30, known_m=100.0),
    Reading("1", between_m=1.2),
    Reading("CP1", back_m=0.8, fore_m=1.1, distance_m=60),
    Reading("CP2", back_m=1.0, fore_m=1.9, distance_m=50),
    Reading("B", fore_m=0.306, distance_m=60, known_m=100.0),
]


@pytest.mark.parametrize("how", Reduce)
def test_a_level_book_closes_and_is_shared_out(how: Reduce) -> None:
    book = reduce(BOOK, how)
    assert [level.height_m for level in book.levels] == pytest.approx(
        [100, 100.3, 100.4, 99.3, 99.994]
    )
    assert book.misclosure_m == pytest.approx(-0.006)
    assert book.length_m == pytest.approx(200)
    assert book.allowed_m == pytest.approx(0.012 * 0.2**0.5)
    assert book.closes is False
    assert book.arithmetic_error_m == pytest.approx(0, abs=1e-9)
    assert book.setups == 3
    # By length of sights: 60 and 110 of 170 m from the first point on.
    shares = [(level.adjusted_m - level.height_m) / 0.006 for level in book.levels]
    assert shares == pytest.approx([0, 0, 60 / 170, 110 / 170, 1], abs=1e-6)
    assert book.levels[-1].adjusted_m == pytest.approx(100.0)
    rough = reduce(BOOK, how, allowed_mm_per_root_km=24)
    assert rough.closes


def test_without_lengths_the_error_is_shared_by_setups() -> None:
    bare = [Reading(r.point, r.back_m, r.between_m, r.fore_m, None, r.known_m) for r in BOOK]
    book = reduce(bare)
    assert book.closes is None
    shares = [(level.adjusted_m - level.height_m) / 0.006 for level in book.levels]
    assert shares == pytest.approx([0, 1 / 3, 1 / 3, 2 / 3, 1], abs=1e-6)
    as_read = reduce(bare, adjust=False)
    assert as_read.levels[-1].adjusted_m == as_read.levels[-1].height_m


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        (BOOK[:1], "at least two"),
        ([Reading("A", between_m=1.0, known_m=1.0), *BOOK[1:]], "open with a backsight"),
        ([*BOOK[:2], Reading("2", back_m=1.0), BOOK[-1]], "without a foresight"),
        ([*BOOK[:2], Reading("2", fore_m=1.0), BOOK[-1]], "no backsight opens"),
        (BOOK[:3], "close with a foresight"),
        ([*BOOK[:1], Reading("1"), *BOOK[2:]], "no reading"),
        ([*BOOK[:1], Reading("1", between_m=1.0, fore_m=1.0), *BOOK[2:]], "stands alone"),
        ([*BOOK[:1], Reading("1", between_m=float("nan")), *BOOK[2:]], "not a number"),
        ([Reading("A", back_m=1.0), Reading("B", fore_m=1.0)], "known height"),
    ],
)
def test_books_that_cannot_be_read_name_the_line(lines: list[Reading], says: str) -> None:
    with pytest.raises(BadData, match=says):
        reduce(lines)
