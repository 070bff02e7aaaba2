"""The chain of stores on made-up ground: where water goes, how much, and that none is lost."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, Point, box

from canvas.base.grid import Grid
from canvas.site.elements.access import Track
from canvas.site.elements.building import Building
from canvas.site.elements.cover import GroundCover
from canvas.site.elements.crossings import Culvert
from canvas.site.elements.ponds import Dam, DugPond
from canvas.site.elements.swales import Drain, Swale
from canvas.site.elements.water import Tank
from canvas.site.records import Element, changed
from canvas.site.storms import DesignStorm
from canvas.study.storm.chain import Chain
from canvas.study.study import Study
from canvas.water.runoff import covers, runoff_mm
from made import EAST, NORTH, plane, study_of

STORM = DesignStorm(depth_mm=80.0, group="D", pattern="II")


def at(*points: tuple[float, float]) -> LineString:
    return LineString([(EAST + x, NORTH + y) for x, y in points])


def swale(name: str, y: float, **fields: object) -> Swale:
    """Return a level swale across a plane that falls south, from x 60 to 160."""
    made: Swale = Swale(id=name, name=name, geometry=at((60, y), (160, y)), **fields)  # type: ignore[arg-type]
    return made


def hill(*items: Element, storm: DesignStorm = STORM, cells: int = 260) -> Study:
    return study_of(storm, *items, grid=plane(0.0, 0.10, cells))


def spilled(chain: Chain, ident: str) -> float:
    found = chain.routed(ident)
    assert found is not None
    return found.spilled_m3


def test_nothing_to_fill_and_no_rain_say_what_to_do() -> None:
    assert "draw a swale" in hill().chain().trouble
    assert "rain table" in hill(swale("a", 120), storm=DesignStorm()).chain().trouble


def test_two_swales_on_a_plane_agree_with_hand_arithmetic() -> None:
    # Soil that hardly soaks, so that all is runoff, storage and spill.
    tight = {"soaks_mm_h": 0.0}
    study = hill(swale("upper", 200, **tight), swale("lower", 120, **tight))
    chain = study.chain()
    cn = 84.0  # pasture, fair, group D (TR-55 table 2-2c)
    depth = float(runoff_mm(80.0, cn)) / 1000
    by_hand = {}
    above = 0.0
    for ident in ("upper", "lower"):
        own, node = chain.network.own[ident], chain.node(ident)
        assert node is not None
        assert own.area_m2 * depth == pytest.approx(sum(
            p.area_m2 * float(runoff_mm(80.0, p.cn)) / 1000 for p in own.patches))  # fmt: skip
        above = max(own.area_m2 * depth + above - node.holds_m3, 0.0)
        by_hand[ident] = above
    # 100 m of swale under 60 m and 80 m of hill (and what its ends' banks gather).
    assert chain.network.own["upper"].area_m2 == pytest.approx(100 * 60, rel=0.12)
    assert chain.network.own["lower"].area_m2 == pytest.approx(100 * 80, rel=0.12)
    for ident, left in by_hand.items():
        # What stands over the sill when the routing ends has not left yet.
        assert spilled(chain, ident) == pytest.approx(left, rel=0.02)
    assert chain.run is not None
    assert chain.run.error <= 0.001
    assert chain.closed


def test_a_spill_goes_where_the_ground_leads() -> None:
    upper = swale("upper", 200, sill="end")
    # Below the line's end lies a pit, below its start nothing.
    pit = DugPond(id="pit", geometry=box(EAST + 140, NORTH + 120, EAST + 165, NORTH + 140),
                  level="set", water_m=111.5)  # fmt: skip
    study = hill(upper, pit)
    assert study.work("pit") is not None
    assert study.work("pit").trouble == ""  # type: ignore[union-attr]
    assert study.chain().network.paths["upper", "sill 1"].to == "pit"
    other = study.moved(study.plan.with_(changed(upper, sill="start")))
    path = other.chain().network.paths["upper", "sill 1"]
    assert path.to == ""
    assert path.line is not None
    assert path.line.bounds[2] < EAST + 80


def test_a_lowered_bank_is_found_where_the_ground_lets_water_out() -> None:
    # The swale's end is left open on falling ground: it holds only to the lip there.
    chain = hill(swale("a", 150, block_end=False)).chain()
    ways = {s.path.way.label: s for s in chain.spills("a")}
    assert ways["open end"].runs
    assert ways["open end"].over
    assert not ways["sill"].runs


def test_water_over_the_bank_is_told_apart_from_water_over_the_sill() -> None:
    storm = changed(STORM, depth_mm=400.0)
    chain = hill(swale("a", 100, sill_m=0.5), storm=storm).chain()
    ways = {s.path.way.label: s for s in chain.spills("a")}
    assert ways["sill"].over
    assert ways["over the bank"].runs
    assert ways["over the bank"].over
    facts = {f.key: f.value for f in hill(swale("a", 100, sill_m=0.5), storm=storm).facts("a")}
    assert facts["spill_load"] > 1.0  # type: ignore[operator]
    assert facts["loose_spill_l"] > 0.0  # type: ignore[operator]


@pytest.mark.parametrize("pattern", ["uniform", "triangular", "II", "IA"])
def test_the_books_close_for_every_pattern(pattern: str) -> None:
    chain = hill(swale("a", 200), swale("b", 120), storm=changed(STORM, pattern=pattern)).chain()
    assert chain.run is not None
    assert chain.run.error <= 0.001
    for found in chain.run.routed.values():
        assert abs(found.error_m3) <= 1e-6 * max(found.inflow_m3, 1.0)


def test_more_rain_never_spills_less() -> None:
    study = hill(swale("a", 200), swale("b", 120))
    last = {"a": 0.0, "b": 0.0}
    for depth in (20.0, 40.0, 60.0, 80.0, 120.0, 200.0):
        storm = changed(STORM, depth_mm=depth)
        chain = study.moved(study.plan.with_(storm)).chain()
        for ident, before in last.items():
            assert spilled(chain, ident) >= before - 1e-6
            last[ident] = spilled(chain, ident)
    assert last["a"] > 0.0


def test_a_store_spills_from_the_depth_said_to_fill_it() -> None:
    study = hill(swale("a", 150))
    fills = study.chain().fills_mm["a"]
    assert fills is not None
    for depth, spills in ((fills - 3.0, False), (fills + 3.0, True)):
        storm = changed(STORM, depth_mm=depth)
        chain = study.moved(study.plan.with_(storm)).chain()
        assert (spilled(chain, "a") > 0.05) is spills


def test_a_drain_leads_all_it_carries_to_its_low_end() -> None:
    drain = Drain(id="drain", geometry=at((60, 120), (160, 120)), lip_m=112.0, grade=0.01)
    chain = hill(drain).chain()
    paths = {s.path.way.key: s for s in chain.spills("drain")}
    assert paths["outlet"].path.line is not None
    assert paths["outlet"].path.line.coords[0][0] > EAST + 140
    assert paths["outlet"].passed.volume_m3 > 0


def valley(cells: int = 240) -> Grid:
    """Return a valley that falls south: sides at 12 %, floor at 4 %, its head within the data."""
    row, col = np.mgrid[0:cells, 0:cells]
    y = cells - row - 0.5
    head = np.where(y > 190, 100 + 0.04 * 190 - 0.08 * (y - 190), 100 + 0.04 * y)
    side = np.where(
        np.abs(col - 120) < 90, 0.12 * np.abs(col - 120), 0.12 * 90 - 0.1 * (np.abs(col - 120) - 90)
    )
    return Grid(head + side, EAST, NORTH + cells, 1.0)


def test_a_dam_spills_down_its_own_spillway() -> None:
    dam = Dam(id="dam", geometry=at((95, 80), (145, 80)), crest_by="height", rise_m=3.0)
    study = study_of(STORM, dam, grid=valley())
    work = study.work("dam")
    assert work is not None
    assert work.trouble == ""
    chain = study.chain()
    ways = {s.path.way.key: s for s in chain.spills("dam")}
    assert ways["spillway"].runs
    assert not ways["crest"].runs
    found = chain.routed("dam")
    assert found is not None
    # Full at the start: what comes goes on, less what still stands over the sill.
    assert found.spilled_m3 == pytest.approx(found.inflow_m3, rel=0.05)
    assert found.spill_peak_m3s < found.inflow_peak_m3s
    assert not chain.network.own["dam"].at_least


def test_a_catchment_cut_by_the_data_is_flagged_on_the_card() -> None:
    facts = {f.key: f for f in hill(swale("a", 120)).facts("a")}
    assert "at least" in facts["came_m3"].remark
    assert facts["catchment_at_least"].value == "yes"


def test_a_tank_is_no_store_of_the_chain() -> None:
    """No land drains to it: it only takes the place of its own ground."""
    tank = Tank(id="tank", geometry=Point(EAST + 100, NORTH + 150))
    study = hill(tank, swale("a", 120))
    assert list(study.chain().order) == ["a"]
    assert not {"fills_mm", "spill_load"} & {fact.key for fact in study.facts("tank")}
    alone = hill(tank)
    assert alone.chain().run is None


def test_a_hollow_of_the_ground_is_a_store_too() -> None:
    grid = plane(0.0, 0.10, 200)
    z = grid.z.copy()
    z[90:110, 80:120] -= 1.5
    study = study_of(STORM, swale("a", 140), grid=grid.like(z))
    chain = study.chain()
    hollows = [node for node in chain.network.nodes.values() if node.key == "hollow"]
    assert len(hollows) == 1
    assert chain.network.paths["a", "sill 1"].to in ("", hollows[0].ident)
    assert hollows[0].holds_m3 > 10.0


def test_cover_changes_the_chain_and_a_tree_does_not() -> None:
    from canvas.site.elements.vegetation import Tree

    study = hill(swale("a", 150))
    first = study.chain()
    planted = study.moved(study.plan.with_(Tree(geometry=Point(EAST + 20, NORTH + 20))))
    assert planted.chain() is first
    outline = box(EAST + 60, NORTH + 170, EAST + 160, NORTH + 230)
    wooded = study.moved(
        study.plan.with_(GroundCover(cover="woods", group="D", condition="good", geometry=outline))
    )
    assert spilled(wooded.chain(), "a") < spilled(first, "a")
    assert covers()["woods"].label


def test_a_drag_keeps_the_chain_it_began_with() -> None:
    one = swale("a", 150)
    study = hill(one)
    first = study.chain()
    moving = study.preview(study.plan.with_(changed(one, geometry=at((60, 140), (160, 140)))))
    assert moving.chain() is first
    facts = {f.key: f for f in moving.facts("a")}
    assert "before this move" in facts["came_m3"].remark


def test_a_spill_over_a_track_and_towards_a_house_is_found_at_the_place() -> None:
    track = Track(id="track", geometry=at((40, 100), (220, 100)))
    house = Building(id="house", geometry=box(EAST + 152, NORTH + 60, EAST + 162, NORTH + 70))
    study = hill(swale("a", 150, sill="end"), track, house)
    found = {f.rule: f for f in study.findings() if f.elements[0] == "a"}
    crossing = found["good_practice.spill_track"]
    assert crossing.elements == ("a", "track")
    assert crossing.where.distance(Point(EAST + 157, NORTH + 100)) < 3.0
    assert "good_practice.spill_building" in found
    # At the other end nothing is in its way, and the finding goes.
    moved = study.moved(study.plan.with_(swale("a", 150, sill="start"), changed(track, geometry=at(
        (100, 100), (220, 100)))))  # fmt: skip
    rules = {f.rule for f in moved.findings() if f.elements[0] == "a"}
    assert "good_practice.spill_track" not in rules
    assert "good_practice.spill_building" not in rules


def test_what_is_sized_on_part_of_its_catchment_fails_its_check() -> None:
    study = hill(swale("a", 150))
    known = "catchment_known"
    assert any(f.rule.endswith(known) and f.failing for f in study.findings())
    dam = Dam(id="dam", geometry=at((95, 80), (145, 80)), crest_by="height", rise_m=3.0)
    whole = study_of(STORM, dam, grid=valley())
    assert not any(f.rule.endswith(known) for f in whole.findings())


def test_a_sill_too_short_fails_its_check() -> None:
    study = hill(swale("a", 100, sill_m=0.5), storm=changed(STORM, depth_mm=400.0))
    rules = {f.rule for f in study.findings()}
    assert {"good_practice.spill_load", "good_practice.loose_spill"} <= rules


def test_findings_follow_the_rain_as_a_fresh_study_has_them() -> None:
    study = hill(swale("a", 150, sill_m=0.5), swale("b", 90, sill_m=0.5))
    study.findings()
    for depth in (30.0, 300.0, 500.0, 60.0):
        plan = study.plan.with_(changed(STORM, depth_mm=depth))
        study = study.moved(plan)
        fresh = Study(plan, study.land)
        mine, theirs = ({(f.key, f.measured) for f in s.findings()} for s in (study, fresh))
        assert mine == theirs
    assert not any("load" in f.rule for f in study.findings())


def test_a_culvert_passes_on_what_it_can_and_the_rest_goes_over_the_way() -> None:
    def chain(bore_m: float) -> Chain:
        culvert = Culvert(id="pipe", geometry=at((120.5, 76), (120.5, 64)), bore_m=bore_m)
        track = Track(id="track", geometry=at((90, 70), (150, 70)), forming="level",
                      profile="0;107.6\n60;107.6")  # fmt: skip
        study = study_of(STORM, track, culvert, grid=valley())
        work = study.work("pipe")
        assert work is not None
        assert work.trouble == ""
        return study.chain()

    wide, narrow = chain(1.2), chain(0.3)
    assert {s.path.way.label: s.over for s in wide.spills("pipe")} == {
        "pipe": False, "over the way": False,
    }  # fmt: skip
    over = {s.path.way.label: s for s in narrow.spills("pipe")}
    assert over["over the way"].over
    assert over["pipe"].passed.peak_m3s == pytest.approx(over["pipe"].path.way.capacity_m3s)
    for found in (wide, narrow):
        assert found.closed
        routed = found.routed("pipe")
        assert routed is not None
        assert routed.spilled_m3 == pytest.approx(routed.inflow_m3)
