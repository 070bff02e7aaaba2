"""Rain on the land: losses, soaking in, books, gauges, overtopping, stopping."""

from __future__ import annotations

import numpy as np
import pytest

from canvas.base.errors import Cancelled, InputError
from canvas.base.grid import Grid
from canvas.ground.faces import Faces, Held, HeldLine, hold
from canvas.water.bed import EDGES, Bed
from canvas.water.gauges import LineGauge, PointGauge, faces_across
from canvas.water.rainland import Frame, LandKind, rain_on_land
from canvas.water.runoff import runoff_mm
from canvas.water.sections import Trapezoid
from canvas.water.shallow import Water
from canvas.water.soak import green_ampt_mm
from canvas.water.storms import synthetic, uniform

WALLED = frozenset(EDGES)


def valley(cell: float = 2.0, rows: int = 40, cols: int = 60) -> Grid:
    """A V-shaped valley that falls eastward."""
    base = Grid(np.zeros((rows, cols)), 1000.0, 5000.0, cell)
    x, y = np.meshgrid(base.x_m(), base.y_m())
    middle = y.mean()
    return base.like(100.0 - 0.05 * (x - 1000.0) + 0.2 * np.abs(y - middle))


def test_the_books_of_a_storm() -> None:
    ground = valley()
    kind = np.zeros(ground.shape, int)
    kind[:, :20] = 1
    kinds = [LandKind("pasture", 79.0), LandKind("roof", 98.0)]
    got = rain_on_land(Bed(ground, 0.05, kind=kind), kinds, synthetic(90.0, 2.0, "II"))
    cells = np.array([(kind == 0).sum(), (kind == 1).sum()]) * 4.0
    net = float(runoff_mm(90.0, 79.0)) * cells[0] + float(runoff_mm(90.0, 98.0)) * cells[1]
    assert got.books.rain == pytest.approx(0.090 * cells.sum())
    assert got.books.lost == pytest.approx(0.090 * cells.sum() - net / 1000.0)
    assert got.books.share < 1e-9
    assert got.books.ran_off + got.books.standing == pytest.approx(net / 1000.0)
    off = (np.diff(got.off_time_s) * got.off_m3s[1:]).sum()
    assert off == pytest.approx(got.books.ran_off)
    # Water gathers in the valley's bottom.
    assert got.peak_depth.z[19:21].mean() > 5 * got.peak_depth.z[2:4].mean()
    assert np.nanmin(got.arrival.z[19:21, 40:]) <= np.nanmin(got.arrival.z[2, 40:], initial=np.inf)


def test_what_leaves_passes_the_line_before_it() -> None:
    ground = valley()
    _, south, east, north = ground.bounds
    x = east - 4.0
    line = LineGauge("out", np.array([[x, north], [x, south]]))
    point = PointGauge("p", x, (north + south) / 2 + 1.0)
    got = rain_on_land(
        Bed(ground, 0.05, shut=WALLED - {"east"}), [LandKind("bare")], uniform(30.0, 1.0),
        length_s=3 * 3600.0, points=[point], lines=[line],
    )  # fmt: skip
    record = got.lines[0]
    # Drawn southward, west lies to the right: eastward flow counts from left to right as minus.
    upstream = got.books.rain * (1.0 - 2.0 / 60.0)
    assert -record.volume_m3 == pytest.approx(upstream, rel=0.02)
    staff = got.points[0]
    assert staff.depth_m.max() > 0.02
    assert staff.level_m - staff.depth_m == pytest.approx(staff.level_m[0])
    assert staff.speed_m_s.max() > 0.1
    turned = LineGauge("out", line.xy_m[::-1])
    assert (faces_across(ground, turned.xy_m)[:, 3] == 1).all()


def test_a_slanting_line_catches_all_of_the_flow() -> None:
    ground = valley()
    _, south, _, north = ground.bounds
    lines = [
        LineGauge("straight", np.array([[1060.0, south], [1060.0, north]])),
        LineGauge("slanting", np.array([[1050.0, south], [1070.0, north]])),
    ]
    got = rain_on_land(
        Bed(ground, 0.05, shut=WALLED - {"east"}), [LandKind("bare")], uniform(30.0, 1.0),
        length_s=3 * 3600.0, lines=lines,
    )  # fmt: skip
    one, other = (r.volume_m3 for r in got.lines)
    assert other == pytest.approx(one, rel=0.03)
    assert one > 0.0


def test_still_rain_soaks_in_at_a_steady_rate() -> None:
    flat = Grid(np.zeros((8, 8)), 0, 0, 1.0)
    water = Water(Bed(flat, 0.05, shut=WALLED), 0.05)
    water.rain[0] = 0.0, 10.0 / 3.6e6, 0.0
    water.advance(3600.0)
    assert water.depth() == pytest.approx(0.040, abs=1e-9)
    assert water.soaked() == pytest.approx(0.010, abs=1e-9)
    water.advance(6 * 3600.0)
    assert water.depth() == pytest.approx(0.0, abs=1e-12)
    assert water.soaked() == pytest.approx(0.050)
    assert abs(water.mass_error_m3) < 1e-9


def test_ponded_water_soaks_in_after_green_and_ampt() -> None:
    flat = Grid(np.zeros((8, 8)), 0, 0, 1.0)
    water = Water(Bed(flat, 0.05, shut=WALLED), 0.5)
    water.rain[0] = 0.0, 6.6 / 3.6e6, 0.1668 * 0.3
    for hours in (0.5, 1.0, 2.0):
        water.advance(3600.0 * hours)
        want = green_ampt_mm(6.6, 166.8, 0.3, hours) / 1000.0
        assert float(water.soaked().mean()) == pytest.approx(want, rel=0.03)


def test_a_dry_land_costs_nothing() -> None:
    water = Water(Bed(valley(1.0, 200, 200), 0.05))
    water.advance(86_400.0)
    assert water.stepped == 0
    assert water.time_s == 86_400.0


@pytest.mark.parametrize("cell", [1.0, 2.0])
def test_a_swale_on_coarse_cells_holds_what_it_should(cell: float) -> None:
    # 60 m of trapezoid, 0.6 m bottom, 2:1, 0.4 m deep: thinner than a cell. Its volume is laid
    # into the cells it crosses and its crest is held on the faces below them.
    length, section = 60.0, Trapezoid.even(0.6, 2.0)
    base = Grid(np.zeros((int(60 / cell), int(100 / cell))), 0.0, 60.0, cell)
    x, y = np.meshgrid(base.x_m(), base.y_m())
    z = 10.0 + 0.12 * y
    sill = float(10.0 + 0.12 * 30.0)
    row = round((60.0 - 30.0) / cell)
    inside = (x > 20.0) & (x < 80.0) & (np.arange(len(y))[:, None] == row - 1)
    z[inside] = sill - section.area_m2(0.4) / cell
    crest = HeldLine(
        Held.CREST,
        np.array([
            [20.0, 30.0 + cell, sill + 0.3], [20.0, 30.0, sill + 0.3], [20.0, 30.0, sill],
            [80.0, 30.0, sill], [80.0, 30.0, sill + 0.3], [80.0, 30.0 + cell, sill + 0.3],
        ]),
    )  # fmt: skip
    bed = Bed(base.like(z), 0.05, hold(base, [crest]))
    water = Water(bed)
    water.feed([(row - 1, int(50 / cell))], 0.01)
    volume = section.area_m2(0.4) * length
    spilt = None
    while spilt is None and water.time_s < 2 * volume / 0.01:
        water.advance(water.time_s + 20.0)
        if (np.abs(water.weir_flow()) > 1e-4).any():
            spilt = water.volume_m3
    assert spilt == pytest.approx(volume, rel=0.05)


def test_where_it_first_overtops() -> None:
    ground = valley()
    faces = Faces.none(ground.shape)
    # A dam across the valley, lower in one place.
    low = np.nanmin(ground.z[:, 29])
    faces.east_m[:, 29] = low + 0.9
    faces.east_m[19, 29] = low + 0.6
    got = rain_on_land(
        Bed(ground, 0.05, faces, shut=WALLED - {"east"}), [LandKind("bare")], uniform(60.0, 1.0),
        length_s=2 * 3600.0,
    )  # fmt: skip
    first = got.overtopping.first()
    assert first is not None
    assert tuple(got.overtopping.face[first]) == (19, 29, 0)
    assert 60.0 < got.overtopping.first_s[first] < 3600.0
    assert got.overtopping.peak_m2s[first] > 0.0
    held_back = got.books.rain / 2 - got.overtopping.volume_m3.sum()
    assert 0.0 < held_back < got.books.rain / 2
    assert got.books.share < 1e-9


def test_frames_come_when_asked() -> None:
    frames: list[Frame] = []
    rain_on_land(
        Bed(valley(), 0.05), [LandKind("bare")], uniform(20.0, 0.5),
        frame_s=300.0, on_frame=frames.append,
    )  # fmt: skip
    assert [f.time_s for f in frames] == pytest.approx([0, 300, 600, 900, 1200, 1500, 1800])
    assert frames[0].depth_m.max() == 0.0
    assert frames[-1].speed_m_s.max() > 0.1


def test_a_run_can_be_stopped_and_tells_how_far_it_is() -> None:
    told: list[float] = []

    def listen(fraction: float, note: str = "") -> None:
        told.append(fraction)
        if fraction > 0.0:
            raise Cancelled

    with pytest.raises(Cancelled):
        rain_on_land(Bed(valley(1.0, 200, 300), 0.05), [LandKind("bare")], uniform(60.0, 2.0),
                     progress=listen)  # fmt: skip
    assert told
    assert told[-1] < 1.0


def test_missing_ground_lets_water_out() -> None:
    ground = valley()
    z = ground.z.copy()
    z[15:25, 40:] = np.nan
    got = rain_on_land(
        Bed(ground.like(z), 0.05, shut=WALLED), [LandKind("bare")], uniform(20.0, 0.5),
        length_s=2 * 3600.0,
    )  # fmt: skip
    assert got.books.ran_off > 0.5 * got.books.rain
    assert np.isnan(got.peak_depth.z[20, 50])
    assert got.books.share < 1e-9


def test_what_no_water_can_run_over() -> None:
    ground = valley()
    with pytest.raises(InputError, match="Manning"):
        Bed(ground, 0.0)
    with pytest.raises(InputError, match="edges"):
        Bed(ground, 0.05, shut=frozenset({"top"}))
    with pytest.raises(InputError, match="heights"):
        Bed(ground.like(np.full(ground.shape, np.nan)), 0.05)
    with pytest.raises(InputError, match="faces"):
        Bed(ground, 0.05, Faces.none((3, 3)))
    with pytest.raises(InputError, match="negative"):
        Water(Bed(ground, 0.05), -1.0)
    with pytest.raises(InputError, match="kinds"):
        Water(Bed(ground, 0.05, kind=np.full(ground.shape, 3)))
    with pytest.raises(InputError, match="outside"):
        rain_on_land(Bed(ground, 0.05), [LandKind("bare")], uniform(5.0, 0.1),
                     points=[PointGauge("p", 0.0, 0.0)])  # fmt: skip
