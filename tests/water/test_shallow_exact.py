"""Shallow water against exact solutions.

Stoker (1957) and Ritter (1892) for dam breaks, the kinematic wave on a plane, Manning's normal
depth, a jump between two level reaches (momentum function), flow over a hump with a jump
(Goutal & Maurel 1997 test), a weir's own formula. Solutions are worked out here.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from canvas.base.grid import Grid
from canvas.ground.faces import Faces
from canvas.water.bed import EDGES, Bed
from canvas.water.kernels import GRAVITY as G
from canvas.water.kernels import WEIR
from canvas.water.shallow import Water

WALLED = frozenset(EDGES)


def test_a_lake_stays_at_rest_with_its_shore() -> None:
    rng = np.random.default_rng(1)
    z = 200.0 + 3.0 * rng.random((70, 90))
    z[30:33, 40:44] = np.nan
    water = Water(Bed(Grid(z, 0, 0, 2.0), 0.03, shut=WALLED), np.fmax(201.7 - z, 0.0))
    # Water stands against the missing ground: wall it in by islands of its own.
    z[29:34, 39:45] = np.where(np.isnan(z[29:34, 39:45]), np.nan, 203.0)
    water = Water(Bed(Grid(z, 0, 0, 2.0), 0.03, shut=WALLED), np.fmax(201.7 - z, 0.0))
    before = water.depth()
    water.advance(600.0)
    assert np.nanmax(water.speed()) == 0.0
    assert np.array_equal(water.depth(), before, equal_nan=True)


def test_lakes_at_their_own_levels_rest_among_sills_and_islands() -> None:
    # Three pools parted by held crests thinner than a cell, dry islands, rough ground, a hole.
    rng = np.random.default_rng(5)
    z = 80.0 + 1.5 * rng.random((40, 96))
    z[10:14, 20:26] = 83.0
    z[25:31, 70:79] = 84.0
    z[27:29, 73:76] = np.nan
    faces = Faces.none(z.shape)
    faces.east_m[:, 31] = 82.2
    faces.east_m[:, 63] = 82.6
    levels = np.select([np.arange(96) < 32, np.arange(96) < 64], [82.2, 81.4], 82.59)
    water = Water(Bed(Grid(z, 0, 0, 1.0), 0.02, faces, shut=WALLED), np.fmax(levels - z, 0.0))
    before = water.depth()
    water.advance(900.0)
    # Levels are sums of bed and depth: they agree to the rounding of that sum, no more.
    assert np.nanmax(np.abs(water.depth() - before)) < 1e-9
    assert np.nanmax(water.speed()) < 1e-9
    assert abs(water.mass_error_m3) < 1e-9


def test_still_water_behind_a_held_crest_stays() -> None:
    z = np.zeros((5, 40))
    faces = Faces.none(z.shape)
    faces.east_m[:, 19] = 1.0
    depth = np.where(np.arange(40) < 20, 0.999, 0.3)
    water = Water(Bed(Grid(z, 0, 0, 2.0), 0.03, faces, shut=WALLED), depth)
    water.advance(300.0)
    assert np.nanmax(water.speed()) == 0.0


def test_ritter_front_over_dry_ground(strip) -> None:  # type: ignore[no-untyped-def]
    n, time = 800, 20.0
    x = np.arange(n) + 0.5 - n / 2
    water = Water(strip(np.zeros(n)), np.where(x < 0, 1.0, 0.0))
    water.advance(time)
    c = np.sqrt(G)
    exact = np.where(
        x < -c * time, 1.0, np.where(x > 2 * c * time, 0.0, (2 * c - x / time) ** 2 / 9 / G)
    )
    got = water.depth()[0]
    assert np.abs(got - exact).mean() / exact.mean() < 0.005
    assert np.abs(got - exact).max() < 0.03
    # The dam's section keeps 4/9 of the depth and runs at 2/3 of the wave's speed.
    assert got[n // 2 - 1 : n // 2 + 1].mean() == pytest.approx(4 / 9, rel=0.01)
    assert water.speed()[0, n // 2] == pytest.approx(2 / 3 * c, rel=0.02)
    # The thin tip of a first-order scheme is blunt: it stands within 5 % of where 2 cm should.
    assert x[got > 0.02].max() == pytest.approx(x[exact > 0.02].max(), rel=0.05)
    assert abs(water.mass_error_m3) < 1e-9


def stoker(left: float, right: float) -> tuple[float, float, float]:
    """Middle depth, its speed, and the speed of the bore."""
    c = np.sqrt(G * left)

    def off(middle: float) -> float:
        bore = np.sqrt(G * middle * (middle + right) / (2 * right))
        return float(bore * (1 - right / middle) - 2 * (c - np.sqrt(G * middle)))

    middle = brentq(off, right * 1.0001, left * 0.9999)
    return middle, 2 * (c - np.sqrt(G * middle)), float(
        np.sqrt(G * middle * (middle + right) / (2 * right))
    )  # fmt: skip


@pytest.mark.parametrize("right", [0.5, 0.2, 0.05])
def test_stoker_dam_break(strip, right: float) -> None:  # type: ignore[no-untyped-def]
    n, time = 800, 20.0
    x = np.arange(n) + 0.5 - n / 2
    water = Water(strip(np.zeros(n)), np.where(x < 0, 1.0, right))
    water.advance(time)
    middle, speed, bore = stoker(1.0, right)
    got = water.depth()[0]
    flat = (x > time * (speed - np.sqrt(G * middle)) + 10) & (x < bore * time - 12)
    assert np.median(got[flat]) == pytest.approx(middle, rel=0.01)
    assert np.median(water.speed()[0][flat]) == pytest.approx(speed, rel=0.02)
    front = x[np.flatnonzero(got > 0.5 * (middle + right))[-1]]
    assert front == pytest.approx(bore * time, abs=2.0)


def stoker_depth(x: np.ndarray, time: float, left: float, right: float) -> np.ndarray:
    """The exact depths of a dam break at x = 0 over a wet bed."""
    middle, speed, bore = stoker(left, right)
    c = np.sqrt(G * left)
    fan = (2 * c - x / time) ** 2 / 9 / G
    parts = [x < -c * time, x < (speed - np.sqrt(G * middle)) * time, x < bore * time]
    return np.select(parts, [np.full(x.shape, left), fan, np.full(x.shape, middle)], right)


@pytest.mark.parametrize("right", [0.5, 0.2, 0.05])
def test_stoker_profile_comes_closer_with_the_cell(strip, right: float) -> None:  # type: ignore[no-untyped-def]
    off = []
    for cell in (1.0, 0.25):
        x = (np.arange(round(400 / cell)) + 0.5) * cell - 200.0
        water = Water(strip(np.zeros(len(x)), cell=cell, n=1e-6), np.where(x < 0, 1.0, right))
        water.advance(20.0)
        exact = stoker_depth(x, 20.0, 1.0, right)
        off.append(float(np.abs(water.depth()[0] - exact).mean() / exact.mean()))
    # The mean error (L1) with its bore: first order.
    assert off[0] < 0.012
    assert off[1] < 0.6 * off[0]


@pytest.mark.parametrize("slope", [0.05, 0.1])
def test_a_dam_breaks_on_a_slope_as_it_falls(slope: float) -> None:
    # Without friction a plane is level ground seen while falling: Stoker's profile, moved by
    # g s t²/2. At the end the water is 7 and 12 times as fast as its waves.
    cell, time = 0.25, 8.0
    x = (np.arange(round(400 / cell)) + 0.5) * cell
    z = -slope * x
    bed = Bed(Grid(z[None, :], 0, cell, cell), 1e-6, shut=WALLED - {"east"})
    water = Water(bed, np.where(x < 150.0, 0.3, 0.1))
    water.advance(time)
    moved = 0.5 * G * slope * time**2
    exact = stoker_depth(x - 150.0 - moved, time, 0.3, 0.1)
    seen = (x > 90.0 + moved) & (x < 350.0)
    got = water.depth()[0]
    assert np.abs(got - exact)[seen].mean() / exact[seen].mean() < 0.02
    bore = x[seen & (got > 0.5 * (0.1 + stoker(0.3, 0.1)[0]))].max()
    assert bore == pytest.approx(150.0 + moved + stoker(0.3, 0.1)[2] * time, abs=1.5)
    fast = water.velocity()[0][0][seen]
    assert fast.mean() > 2.5 * np.sqrt(G * 0.2)


def test_water_swings_in_a_bowl() -> None:
    # Thacker (1981), worked out here: in a round bowl z = d0 (r²/a² - 1) a dome of water at rest
    # sinks and rises again, its shore running out over dry ground and back, w² = 8 g d0/a².
    d0, a, swing, cell, half = 1.0, 20.0, 0.2, 0.25, 26.0
    at = (np.arange(round(2 * half / cell)) + 0.5) * cell - half
    r2 = (at[None, :] ** 2 + at[:, None] ** 2) / a**2
    omega = np.sqrt(8 * G * d0) / a

    def exact(time: float) -> np.ndarray:
        turn = 1.0 - swing * np.cos(omega * time)
        root = np.sqrt(1.0 - swing**2)
        level = d0 * (root / turn - 1.0 - r2 * ((1.0 - swing**2) / turn**2 - 1.0))
        return np.maximum(level - d0 * (r2 - 1.0), 0.0)

    bed = Bed(Grid(d0 * (r2 - 1.0), -half, half, cell), 1e-6, shut=WALLED)
    water = Water(bed, exact(0.0))
    for share, within in ((0.25, 0.008), (0.5, 0.01), (1.0, 0.025)):
        time = share * 2 * np.pi / omega
        water.advance(time)
        want = exact(time)
        # Mean error (L1) as a share of the water: first order takes some of the swing.
        assert np.abs(water.depth() - want).sum() / want.sum() < within
    assert abs(water.mass_error_m3) < 1e-9 * water.start_m3


@pytest.mark.parametrize("slope", [0.02, 0.20, 0.40])
@pytest.mark.parametrize("n", [0.02, 0.10])
def test_sheets_run_at_mannings_depth(slope: float, n: float) -> None:
    # Thin, steep, and partly faster than its own waves (n 0.02: Froude number up to 3.4).
    count, cell, rain = 150, 2.0, 40.0 / 3.6e6
    z = np.repeat(100.0 - slope * cell * np.arange(count)[None, :], 3, axis=0)
    shut = frozenset({"north", "south", "west"})
    water = Water(Bed(Grid(z, 0, 0, cell), n, shut=shut))
    water.rain[0, 0] = rain
    water.advance(3600.0)
    flow = rain * cell * (np.arange(count) + 1)
    normal = (flow * n / np.sqrt(slope)) ** 0.6
    got = water.depth()[1]
    # Away from the divide, and on the mild slope from the free edge that draws it down.
    inner = slice(10, -6)
    assert np.abs(got[inner] / normal[inner] - 1).max() < 0.003
    assert water.flow()[0][1][inner] == pytest.approx(flow[inner], rel=1e-3)


def test_a_sheet_down_the_diagonal_is_no_slower() -> None:
    # Friction must see the whole speed, not each part of it.
    size, cell, slope, n, rain = 60, 2.0, 0.2, 0.05, 40.0 / 3.6e6
    row, col = np.mgrid[0:size, 0:size]
    z = 100.0 - slope / np.sqrt(2.0) * cell * (row + col)
    water = Water(Bed(Grid(z, 0, 0, cell), n, shut=frozenset({"north", "west"})))
    water.rain[0, 0] = rain
    water.advance(2400.0)
    # Far from the edges, on the diagonal: depth rain t at first, then flow = rain x distance.
    i = 40
    u, v = water.velocity()
    depth = water.depth()[i, i]
    speed = float(np.hypot(u[i, i], v[i, i]))
    assert u[i, i] == pytest.approx(v[i, i], rel=1e-3)
    assert speed == pytest.approx(depth ** (2 / 3) * np.sqrt(slope) / n, rel=0.03)


def test_kinematic_hydrograph_of_a_plane() -> None:
    length, cell, slope, n, rain, stop = 100.0, 2.0, 0.10, 0.10, 60.0 / 3.6e6, 1200.0
    count = int(length / cell)
    z = np.repeat(50.0 - slope * cell * np.arange(count)[None, :], 2, axis=0)
    water = Water(Bed(Grid(z, 0, 0, cell), n, shut=frozenset({"north", "south", "west"})))
    alpha = np.sqrt(slope) / n
    reach = (length / (alpha * rain ** (2 / 3))) ** 0.6
    assert reach < stop
    got, exact, last = [], [], 0.0
    for time in np.arange(30.0, 3000.0, 30.0):
        water.rain[0, 0] = rain if time <= stop else 0.0
        water.advance(time)
        got.append((water.ran_off_m3 - last) / 30.0 / (2 * cell))
        last = water.ran_off_m3
        exact.append(_kinematic(time - 15.0, length, alpha, rain, reach, stop))
    got_, exact_ = np.array(got), np.array(exact)
    full = rain * length
    assert np.abs(got_ - exact_).max() < 0.04 * full
    assert np.abs(got_ - exact_).mean() < 0.01 * full
    assert got_[int(stop / 30) - 2] == pytest.approx(full, rel=1e-3)
    assert abs(water.mass_error_m3) < 1e-9 * water.rained_m3


def _kinematic(
    time: float, length: float, alpha: float, rain: float, reach: float, stop: float
) -> float:
    """Unit flow at the foot of a plane: rise, level, fall (q = alpha h^5/3)."""
    if time <= reach:
        return float(alpha * (rain * time) ** (5 / 3))
    if time <= stop:
        return rain * length

    def off(h: float) -> float:
        return float(
            alpha * h ** (5 / 3) / rain + 5 / 3 * alpha * h ** (2 / 3) * (time - stop) - length
        )

    h = brentq(off, 0.0, (rain * length / alpha) ** 0.6)
    return float(alpha * h ** (5 / 3))


def test_jump_below_a_steep_reach(strip) -> None:  # type: ignore[no-untyped-def]
    # Shooting flow from a steep reach meets standing water held by a weir on a level one.
    q, cell, n = 0.5, 0.5, 400
    x = (np.arange(n) + 0.5) * cell
    z = np.where(x < 60.0, 0.08 * (60.0 - x), 0.0)
    rough = 0.02
    faces = Faces.none((1, n))
    faces.east_m[0, n - 3] = 0.5
    bed = Bed(Grid(z[None, :], 0, cell, cell), rough, faces, shut=WALLED - {"east"})
    water = Water(bed)
    water.feed([(0, 0)], q * cell)
    water.advance(900.0)
    h, u = water.depth()[0], water.velocity()[0][0]
    froude = u / np.sqrt(G * h)
    normal = (q * rough / np.sqrt(0.08)) ** 0.6
    steep = (x > 30) & (x < 50)
    assert h[steep] == pytest.approx(normal, rel=0.005)
    assert (froude[steep] > 1.5).all()
    # Over the weir its own depth passes its own flow.
    assert h[n - 3] == pytest.approx(0.5 + (q / WEIR) ** (2 / 3), rel=0.01)
    # Across the jump the momentum function agrees within what friction takes over its length.
    jump = int(np.argmax(np.diff((froude < 1.0).astype(int)) * (x[1:] > 50)))
    before, after = jump - 3, jump + 8
    force = q**2 / (G * h) + h**2 / 2
    assert froude[before] > 1.2
    assert froude[after] < 0.8
    span = slice(before, after)
    friction = (rough**2 * u**2 / h ** (1 / 3))[span].sum() * cell
    downhill = (np.where(x < 60.0, 0.08, 0.0) * h)[span].sum() * cell
    assert force[after] == pytest.approx(force[before] + downhill - friction, rel=0.05)


@pytest.mark.parametrize(("cell", "within"), [(0.1, 0.02), (0.05, 0.01)])
def test_flow_over_a_hump_with_a_jump(cell: float, within: float) -> None:
    q, n = 0.18, round(28.0 / cell)
    x = (np.arange(n) + 0.5) * cell
    hump = np.where(np.abs(x - 10.0) < 2.0, 0.2 - 0.05 * (x - 10.0) ** 2, 0.0)
    # A weir at 25 m holds 0.33 m before it and falls free.
    hump[x > 25.0] = -1.0
    faces = Faces.none((1, n))
    faces.east_m[0, round(25.0 / cell) - 1] = 0.33 - (q / WEIR) ** (2 / 3)
    bed = Bed(Grid(hump[None, :], 0, cell, cell), 1e-4, faces, shut=WALLED - {"east"})
    water = Water(bed, np.where(x < 25.0, np.maximum(0.33 - hump, 0.0), 0.0)[None, :])
    water.feed([(0, 0)], q * cell)
    water.advance(240.0)
    h = water.depth()[0]
    critical = (q * q / G) ** (1 / 3)
    energy = 0.2 + 1.5 * critical
    upstream = brentq(lambda d: d + q * q / (2 * G * d * d) - energy, critical, 1.0)
    # First order: the error halves with the cell.
    assert h[(x > 2) & (x < 7)] == pytest.approx(upstream, rel=within)
    assert h[(x > 13) & (x < 24)] == pytest.approx(0.33, rel=within)
    shoots = x[(x > 10.0) & (h < critical)]
    assert shoots.max() == pytest.approx(_hump_jump(q, critical, energy), abs=3 * cell)
    assert water.flow()[0][0][(x > 2) & (x < 24)] == pytest.approx(q, rel=0.005)


def _hump_jump(q: float, critical: float, energy: float) -> float:
    """Where the jump below the hump stands: both sides have the same momentum function."""
    below = 0.33 + q * q / (2 * G * 0.33**2)

    def off(x: float) -> float:
        z = max(0.2 - 0.05 * (x - 10.0) ** 2, 0.0)

        def head(d: float) -> float:
            return d + q * q / (2 * G * d * d) + z

        fast = brentq(lambda d: head(d) - energy, 0.01, critical)
        slow = brentq(lambda d: head(d) - below, critical, 1.0)
        return float(q * q / G / fast + fast**2 / 2 - q * q / G / slow - slow**2 / 2)

    return float(brentq(off, 11.26, 11.99))


@pytest.mark.parametrize("cell", [1.0, 2.0])
@pytest.mark.parametrize("share", [1.0, 0.5])
def test_a_sill_passes_what_its_length_allows(cell: float, share: float) -> None:
    # A pool fed at an even rate rises to the weir's head, at any cell size.
    rows, cols = 4, 24
    faces = Faces.none((rows, cols))
    faces.east_m[:, 11] = 1.0
    open_share = np.full((rows, cols - 1), share)
    bed = Bed(
        Grid(np.zeros((rows, cols)), 0, 0, cell), 0.03, faces, share_east=open_share,
        shut=WALLED - {"east"},
    )  # fmt: skip
    water = Water(bed, np.where(np.arange(cols) < 12, 1.0, 0.0))
    flow = 0.4
    water.feed([(r, 0) for r in range(rows)], flow / rows)
    water.advance(1800.0)
    head = (flow / (WEIR * share * rows * cell)) ** (2 / 3)
    assert water.depth()[:, 8] == pytest.approx(1.0 + head, abs=0.003)
    assert water.weir_flow().sum() * cell == pytest.approx(flow, rel=1e-3)
