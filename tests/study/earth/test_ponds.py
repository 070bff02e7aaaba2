"""Dams, dug ponds and test pits through the study: against closed forms, and what they feed."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import LineString, Point, box

from canvas.base.grid import Grid
from canvas.ground.volumes import rectangular_basin_m3
from canvas.site.elements.building import Building
from canvas.site.elements.pits import TestPit
from canvas.site.elements.ponds import Dam, DugPond
from canvas.site.elements.vegetation import Tree
from canvas.site.records import changed
from canvas.study.earth.ponds import PondWork
from canvas.study.study import Study
from made import EAST, NORTH, study_of

SIDE, FALL, CELLS = 0.2, 0.05, 260


def valley(cell: float = 1.0, side: float = SIDE, fall: float = FALL) -> Grid:
    """A V-valley falling south, 100 m high in its middle, 130 m from each edge."""
    n = round(CELLS / cell)
    row, col = np.mgrid[0:n, 0:n]
    x, y = (col + 0.5) * cell - CELLS / 2, CELLS / 2 - (row + 0.5) * cell
    return Grid(100 + side * abs(x) + fall * y, EAST, NORTH + CELLS, cell)


def across(half: float = 50.0, north: float = 0.0) -> LineString:
    mid_x, mid_y = EAST + CELLS / 2, NORTH + CELLS / 2 + north
    return LineString([(mid_x - half, mid_y), (mid_x + half, mid_y)])


def values(study: Study, ident: str) -> dict[str, object]:
    return {fact.key: fact.value for fact in reversed(study.facts(ident))}


def made(item: Dam, grid: Grid) -> PondWork:
    work = study_of(item, grid=grid).work(item.id)
    assert work is not None
    assert not work.trouble, work.trouble
    assert isinstance(work.thing, PondWork)
    return work.thing


def fine_integral(crest: float, full: float, up: float, width: float) -> float:
    """Water behind the bank on a 5 cm grid of the same closed forms."""
    x, y = np.meshgrid(np.arange(-50, 50, 0.05) + 0.025, np.arange(0, 100, 0.05) + 0.025)
    bank = crest - np.maximum(y - width / 2, 0) / up
    return float(np.maximum(full - np.maximum(bank, 100 + SIDE * abs(x) + FALL * y), 0).sum()) / 400


@pytest.mark.parametrize("cell", [0.5, 1.0, 2.0])
def test_a_dam_across_a_v_valley_holds_its_closed_form(cell: float) -> None:
    dam = Dam(geometry=across(), crest_by="level", level_m=104.0)
    study = study_of(dam, grid=valley(cell))
    found = values(study, dam.id)
    assert found["holds_m3"] == pytest.approx(fine_integral(104, 103, 3.0, 3.0), rel=0.025)
    assert found["freeboard_m"] == pytest.approx(1.0)
    assert found["pool"] == "stays behind the dam"
    assert found["crest_m"] == 104.0
    # The crest comes out of the sides where they are 4 m up: 20 m to either side, to the cell.
    assert found["crest_length_m"] == pytest.approx(40.0, abs=2 * cell)


def test_a_thin_wall_holds_the_tetrahedron() -> None:
    """Behind a wall the water's section is h²/s and falls off evenly: volume h³ / (3 s f)."""
    dam = Dam(geometry=across(), crest_by="level", level_m=103.2, sill_below_m=0.2, upstream=0.5,
              downstream=0.5, width_m=0.5, trench_depth_m=0, spillway="none")  # fmt: skip
    storage = made(dam, valley(0.5)).storage
    for level in (102.0, 102.5, 103.0):
        whole = (level - 100) ** 3 / (3 * SIDE * FALL)
        # The bank's foot stands in it and takes its own share.
        less = fine_integral(103.2, level, 0.5, 0.5)
        assert storage.volume_at(level) == pytest.approx(less, rel=0.025)
        assert 0.88 * whole < storage.volume_at(level) < whole
    assert np.all(np.diff(storage.volume_m3) >= 0)
    assert np.all(np.diff(storage.area_m2) >= -1e-9)


def test_a_dug_pond_on_level_ground_holds_its_formula() -> None:
    """HEC-22 equation 8-7: bottom 26 × 13 m, sides 3 : 1, 2 m deep: 1240 m³."""
    flat = valley(1.0, 0.0, 0.0)
    pond = DugPond(geometry=box(EAST + 80, NORTH + 80, EAST + 118, NORTH + 105), level="set",
                   water_m=100.0, depth_m=2.0, freeboard_m=0.0, rim_m=0.0, strip_m=0.0,
                   outlet=False)  # fmt: skip
    found = values(study_of(pond, grid=flat), pond.id)
    form = rectangular_basin_m3(26, 13, 2, 3)
    assert form == pytest.approx(1240.0)
    assert found["holds_m3"] == pytest.approx(form, rel=0.002)
    assert found["cut_m3"] == pytest.approx(form, rel=0.002)


def test_a_dug_pond_digs_what_its_rim_takes_stripped_ground_and_all() -> None:
    pond = DugPond(geometry=box(EAST + 80, NORTH + 80, EAST + 118, NORTH + 105), depth_m=1.5)
    hill = valley(1.0, 0.0, 0.06)
    study = study_of(pond, grid=hill)
    found = values(study, pond.id)
    assert "trouble" not in found
    assert found["cut_m3"] * 0.9 == pytest.approx(found["fill_m3"], rel=0.01)
    # Its outlet lies on the low side, south.
    line = study.parts(pond.id)["spillway_line"]
    assert line.coords[-1][1] < line.coords[0][1]


@pytest.mark.parametrize("wanted", [150.0, 700.0, 2500.0])
def test_the_crest_for_a_volume_is_the_lowest_that_holds_it(wanted: float) -> None:
    grid = valley()
    dam = Dam(geometry=across(60), crest_by="volume", hold_m3=wanted)
    found = made(dam, grid)
    assert found.pond.water.volume_m3 == pytest.approx(wanted, rel=0.03)
    assert found.pond.water.volume_m3 >= wanted
    crest = found.dam.bank.crest_m
    lower = made(changed(dam, crest_by="level", level_m=crest - 0.02), grid)
    assert lower.pond.water.volume_m3 < wanted


def test_a_higher_crest_never_holds_less() -> None:
    grid = valley()
    held = [
        made(Dam(geometry=across(60), rise_m=rise), grid).pond.water.volume_m3
        for rise in np.arange(1.5, 7.0, 0.25)
    ]
    assert np.all(np.diff(held) > 0)


def test_earth_is_counted_by_material_and_settlement() -> None:
    dam = Dam(geometry=across(), rise_m=3.5, soil="clay")
    grid = valley()
    found = values(study_of(dam, grid=grid), dam.id)
    work = made(dam, grid)
    # Clay: 0.90 placed for each in the bank, 1.43 loose (resources/materials.toml).
    assert found["fill_bank_m3"] == pytest.approx(work.dam.placed_m3 / 0.90)
    assert found["borrow_loose_m3"] == pytest.approx(found["borrow_m3"] * 1.43)
    assert found["earth_m3"] == pytest.approx(work.dam.built_m3 + work.dam.trench_m3)
    more = values(study_of(changed(dam, settlement=0.10), grid=grid), dam.id)
    # 5 % more of the standing bank.
    assert more["earth_m3"] - found["earth_m3"] == pytest.approx(
        0.05 * work.dam.patch.change_m().sum() * work.dam.patch.levels.cell_m**2, rel=1e-6
    )
    assert found["water_to_earth"] == pytest.approx(found["holds_m3"] / found["earth_m3"])


@pytest.mark.parametrize(
    ("values_", "words"),
    [
        ({"crest_by": "level"}, "no crest level is given"),
        ({"crest_by": "volume"}, "no volume to hold is given"),
        ({"crest_by": "level", "level_m": 90.0}, "higher than the crest"),
        ({"rise_m": 1.0, "sill_below_m": 2.0}, "hold nothing"),
        ({"crest_by": "volume", "hold_m3": 9e6}, "holds that much|runs round"),
    ],
)
def test_dams_that_cannot_be_say_why_and_what_to_do(values_: dict, words: str) -> None:
    import re

    dam = Dam(geometry=across(), **values_)
    study = study_of(dam, grid=valley())
    told = str(values(study, dam.id)["trouble"])
    assert re.search(words, told)
    assert "\n" in told  # the remedy
    assert study.parts(dam.id)["crest"].equals(dam.geometry)


def test_without_a_ground_it_says_so() -> None:
    dam = Dam(geometry=across())
    assert "no ground" in str(values(study_of(dam), dam.id)["trouble"])


def test_water_that_runs_round_a_short_dam_is_told() -> None:
    dam = Dam(geometry=across(14), rise_m=4.0)
    study = study_of(dam, grid=valley(side=0.05))
    assert "runs round" in str(values(study, dam.id)["pool"])
    assert any(f.rule == "good_practice.dam_holds" for f in study.findings_of(dam.id))


def test_turned_ground_gives_the_same_dam() -> None:
    grid = valley()
    dam = Dam(geometry=across(), rise_m=4.0)
    turned = Grid(np.rot90(grid.z).copy(), grid.west_m, grid.north_m, grid.cell_m)
    mid = EAST + CELLS / 2, NORTH + CELLS / 2

    def turn(x: float, y: float) -> tuple[float, float]:
        return mid[0] - (y - mid[1]), mid[1] + (x - mid[0])

    line = LineString([turn(*xy) for xy in dam.geometry.coords])
    one = values(study_of(dam, grid=grid), dam.id)
    other_dam = changed(dam, geometry=line)
    other = values(study_of(other_dam, grid=turned), dam.id)
    for key in ("holds_m3", "earth_m3", "height_m", "cut_m3", "deepest_m"):
        assert other[key] == pytest.approx(one[key], rel=1e-6), key
    # Cells on the ridges go to one side or the other.
    assert other["catchment_m2"] == pytest.approx(one["catchment_m2"], rel=1e-3)


def test_the_spillway_is_held_against_the_flood() -> None:
    dam = Dam(geometry=across(), rise_m=4.0, spill_width_m=5.0, sill_below_m=0.6,
              design_flow_m3s=1.18)  # fmt: skip
    grid = valley()
    study = study_of(dam, grid=grid)
    found = values(study, dam.id)
    # 0.6 m less 0.3 m left dry: HEC-22 table 8-2 gives 1.18 m³/s for 5 m at 0.3 m.
    assert found["sill_capacity_m3s"] == pytest.approx(1.18, abs=0.001)
    assert found["flood_head_m"] == pytest.approx(0.30, abs=0.002)
    assert found["dry_freeboard_m"] == pytest.approx(0.30, abs=0.002)
    assert found["capacity_share"] == pytest.approx(1.0, abs=0.002)
    assert found["spillway_needed_m"] == pytest.approx(5.0, abs=0.01)
    worse = study.moved(study.plan.with_(changed(dam, design_flow_m3s=1.5)))
    assert any(f.rule == "good_practice.dam_capacity" for f in worse.findings_of(dam.id))
    # Between 1.41 m³/s at 6 m and 1.64 at 7 m.
    assert values(worse, dam.id)["spillway_needed_m"] == pytest.approx(6.39, abs=0.01)
    # The valley runs off the data: what drains to it is not known whole, and its flood only typed.
    assert found["catchment_at_least"] == "yes; the flow is typed"
    known = "good_practice.pond_catchment_known"
    assert not any(f.rule == known for f in study.findings_of(dam.id))
    loose = study.moved(study.plan.with_(changed(dam, design_flow_m3s=None)))
    assert any(f.rule == known for f in loose.findings_of(dam.id))


def test_a_catchment_known_whole_is_no_finding() -> None:
    """A bowl-shaped head of a valley: the ridge lies within the data."""
    grid = valley()
    x, y = grid.x_m()[None, :] - EAST - 130, grid.y_m()[:, None] - NORTH - 130
    head = grid.like(grid.z - 40 * np.maximum((np.hypot(x, y) - 100) / 100, 0.0))
    dam = Dam(geometry=across(40), rise_m=3.5)
    study = study_of(dam, grid=head)
    assert values(study, dam.id)["catchment_at_least"] == "no"
    assert not any(f.rule.endswith("pond_catchment_known") for f in study.findings_of(dam.id))


def test_the_way_below_follows_the_valley_and_finds_the_house() -> None:
    house = Building(geometry=box(EAST + 120, NORTH + 40, EAST + 135, NORTH + 50), use="dwelling")
    dam = Dam(geometry=across(), rise_m=3.0, breach_width_m=20.0)
    study = study_of(dam, house, grid=valley())
    parts = study.parts(dam.id)
    way = np.array(parts["breach_line"].coords)
    assert np.all(abs(way[:, 0] - EAST - 130) < 3)
    assert way[-1, 1] == pytest.approx(NORTH, abs=2)
    assert parts["breach_path"].area == pytest.approx(20 * parts["breach_line"].length, rel=0.1)
    found = values(study, dam.id)
    assert str(found["breach_below"]).startswith("dwelling")
    assert "people live or pass below" in str(found["engineer"])
    # Froehlich's formula, from memory: 0.607 V^0.295 h^1.24.
    assert found["breach_peak_m3s"] == pytest.approx(
        0.607 * found["holds_m3"] ** 0.295 * found["height_m"] ** 1.24
    )
    assert any(f.rule == "good_practice.dwelling_below_dam" for f in study.findings())
    away = study.moved(study.plan.with_(changed(house, geometry=box(
        EAST + 220, NORTH + 40, EAST + 235, NORTH + 50))))  # fmt: skip
    assert not any(f.rule == "good_practice.dwelling_below_dam" for f in away.findings())
    assert values(away, dam.id)["breach_below"] == "nothing drawn"


def test_trees_on_the_bank_are_found() -> None:
    dam = Dam(geometry=across(), rise_m=4.0)
    tree = Tree(geometry=Point(EAST + 130, NORTH + 126))
    study = study_of(dam, tree, grid=valley())
    assert any(f.rule == "good_practice.trees_on_dam" for f in study.findings_of(tree.id))


def test_a_pit_speaks_for_the_dam_beside_it_and_no_further() -> None:
    dam = Dam(geometry=across(), rise_m=4.0)
    pit = TestPit(geometry=Point(EAST + 130, NORTH + 160), name="Pit 3", jar_sand_mm=20,
                  jar_silt_mm=30, jar_clay_mm=50, crumb="4")  # fmt: skip
    study = study_of(dam, pit, grid=valley())
    found = values(study, dam.id)
    assert found["clay_share"] == pytest.approx(0.5)
    assert found["crumb_class"] == 4
    assert str(found["pond_soil"]).startswith("Unfit: its clay is dispersive")
    assert any(f.rule == "good_practice.pond_dispersive" for f in study.findings_of(dam.id))
    far = study.moved(study.plan.with_(changed(pit, geometry=Point(EAST + 130, NORTH + 259))))
    assert "no test pit" in str(values(far, dam.id)["pond_soil"])
    assert not any(f.rule == "good_practice.pond_dispersive" for f in far.findings_of(dam.id))


def test_a_pit_without_sense_says_so_and_is_passed_over() -> None:
    pit = TestPit(geometry=Point(EAST + 130, NORTH + 140), percolation="10;200\n5;180")
    dam = Dam(geometry=across(), rise_m=4.0)
    study = study_of(dam, pit, grid=valley())
    assert "must rise" in str(values(study, pit.id)["trouble"])
    assert "no test pit" in str(values(study, dam.id)["pond_soil"])


def test_the_designed_ground_holds_the_water_to_the_sill() -> None:
    dam = Dam(geometry=across(), rise_m=4.0)
    study = study_of(dam, grid=valley())
    flow = study.flow(designed=True)
    assert flow is not None
    full = values(study, dam.id)["full_m"]
    cell = flow.ground.cell_at(EAST + 130, NORTH + 142)
    assert flow.filled.z[cell] == pytest.approx(full, abs=0.03)


def test_dams_have_a_section_a_spillway_and_storage_curves() -> None:
    from canvas.drawing.details.registry import details
    from canvas.drawing.entries import Text

    dam = Dam(geometry=across(), rise_m=4.0, design_flow_m3s=1.0, name="Top dam")
    pond = DugPond(geometry=box(EAST + 122, NORTH + 40, EAST + 138, NORTH + 60), depth_m=1.5)
    pit = TestPit(
        geometry=Point(EAST + 10, NORTH + 10), horizons="0;0.3;loam;brown;5\n0.3;1.5;clay"
    )
    study = study_of(dam, pond, pit, grid=valley())
    drawn = details(dam, study)
    assert len(drawn) == 5
    words = [e.words for each in drawn for e in each.entries if isinstance(e, Text)]
    plain = [w.replace("\xa0", " ") for w in words]
    # Crest and trench as typed, freeboard, both faces.
    for wanted in ("3.00 m", "2.40 m", "0.90 m", "freeboard 1.00 m", "3 : 1", "2.5 : 1"):
        assert wanted in plain, wanted
    assert len(details(pond, study)) == 3
    (wall,) = details(pit, study)
    assert wall.scale == "1:20"
    assert "loam, brown, 5 % stones" in [e.words for e in wall.entries if isinstance(e, Text)]
    # At 1:20 the pit's 1.5 m are 75 mm.
    assert wall.height_mm == pytest.approx(75 + 11, abs=0.5)
    assert math.isfinite(drawn[0].width_mm)


def test_a_swale_takes_the_rate_of_the_pit_beside_it() -> None:
    from canvas.site.elements.swales import Swale

    hill = valley(1.0, 0.0, 0.08)
    swale = Swale(geometry=LineString([(EAST + 60, NORTH + 130), (EAST + 160, NORTH + 130)]))
    pit = TestPit(geometry=Point(EAST + 100, NORTH + 150), name="Pit 1",
                  percolation="0;300\n30;280\n60;262")  # fmt: skip
    study = study_of(swale, pit, grid=hill)
    found = {f.key: f for f in reversed(study.facts(swale.id))}
    soaks = values(study, pit.id)["soaks_mm_h"]
    assert found["soaks_mm_h"].value == pytest.approx(soaks / 2)
    assert "Pit 1, 20 m off" in found["soaks_mm_h"].basis
    # Its own measured rate comes first; without either the texture tells.
    own = study.moved(study.plan.with_(changed(swale, soaks_mm_h=30.0)))
    assert values(own, swale.id)["soaks_mm_h"] == pytest.approx(15.0)
    gone = study.moved(study.plan.without(pit.id))
    basis = next(f.basis for f in gone.facts(swale.id) if f.key == "soaks_mm_h")
    assert "not measured" in basis


def test_ground_cover_takes_the_soil_group_of_the_nearest_pit() -> None:
    from canvas.site.elements.cover import GroundCover

    shape = box(EAST + 60, NORTH + 60, EAST + 100, NORTH + 100)
    cover = GroundCover(geometry=shape, cover="pasture", group="pit", condition="fair")
    pit = TestPit(geometry=Point(EAST + 80, NORTH + 80), jar_sand_mm=20, jar_silt_mm=30,
                  jar_clay_mm=50)  # fmt: skip
    study = study_of(cover, pit, grid=valley())
    # Clay is group D (TR-55); pasture in fair condition on it has curve number 84.
    assert values(study, cover.id)["curve_number"] == pytest.approx(84)
    ground = study.cover()
    assert ground is not None
    assert any("soil group D" in label for label in ground.share)
    sandy = study.moved(study.plan.with_(changed(pit, jar_sand_mm=90.0, jar_silt_mm=5.0,
                                                 jar_clay_mm=5.0)))  # fmt: skip
    # Sand is A: 49.
    assert values(sandy, cover.id)["curve_number"] == pytest.approx(49)
