"""Tracks the whole way: element to earth to facts, parts and findings, by hand calculation."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point

from canvas.base.grid import Grid
from canvas.base.quantity import UnitSystem
from canvas.ground.gradeline import GradeLine, Knee
from canvas.ground.volumes import even_slope_bench
from canvas.site.elements.access import PublicRoad, Track
from canvas.site.elements.building import Building
from canvas.site.elements.crossings import PassingBay, TurningHead
from canvas.site.records import changed
from canvas.study.earth.ways import knees_of, profile_text
from canvas.study.live import live_words
from canvas.study.longsection import suggested, track_profile, two_grounds
from canvas.study.study import Study
from made import EAST, NORTH, plane, study_of

#: Bare earth and nothing laid: what the handbook's sections reckon with.
BARE = {"crossfall": 0.0, "aggregate_m": 0.0, "strip_m": 0.0, "respread_m": 0.0}


def line(*points: tuple[float, float]) -> LineString:
    return LineString([(EAST + x, NORTH + y) for x, y in points])


def values(study: Study, ident: str) -> dict[str, object]:
    return {fact.key: fact.value for fact in reversed(study.facts(ident))}


def valley(cells: int = 200) -> Grid:
    """A valley that falls 5 % to the south, its sides 15 %."""
    row, col = np.mgrid[0:cells, 0:cells]
    x, y = col + 0.5, cells - row - 0.5
    return Grid(100 + 0.05 * y + 0.15 * abs(x - 100), EAST, NORTH + cells, 1.0)


def level_profile(level_m: float, length_m: float) -> str:
    return profile_text(GradeLine((Knee(0, level_m), Knee(length_m, level_m))))


def test_a_track_along_the_ground_moves_no_earth() -> None:
    track = Track(geometry=line((20, 50), (180, 50)))
    study = study_of(track, grid=plane(slope_north=0.2))
    assert track.forming == "none"
    assert study.work(track.id).patches == ()
    assert set(study.parts(track.id)) == {"shape", "centre_line", "edge", "clear_way"}
    assert "cut_m3" not in values(study, track.id)


def test_grade_and_earth_stand_beside_the_pointer_of_a_track() -> None:
    plain = Track(geometry=line((20, 50), (180, 50)))
    shaped = Track(geometry=line((20, 120), (180, 120)), forming="out")
    study = study_of(plain, shaped, grid=plane(slope_north=0.2))
    told = {
        t.id: live_words("track", study.facts(t.id), UnitSystem.METRIC)
        for t in study.of_kind("track")
    }
    assert [words.split("\xa0")[0] for words in told[plain.id]] == ["Steepest held grade 0.0"]
    assert [words.split()[0] for words in told[shaped.id][:3]] == ["Steepest", "Cut", "Fill"]
    cut = values(study, shaped.id)["cut_m3"]
    assert told[shaped.id][1].startswith(f"Cut {cut:.1f}")


def test_earth_of_a_level_track_is_the_handbooks_even_slope() -> None:
    """Handbook 5.4, third row: W 4, s 0.30, cut 3/4:1, fill 1.5:1: 0.957 and 0.861 m³ a metre."""
    form = even_slope_bench(4, 0.30, 0.75, 1.5, 0.9)
    assert (form.cut_m2, form.fill_m2) == pytest.approx((0.957, 0.861), abs=0.002)
    # The line runs where the pad's own line lies: cut width from the upper edge.
    centre = NORTH + 100
    level = 100 + 0.30 * (100 + 2 - form.cut_width_m)
    track = Track(
        geometry=LineString([(EAST + 20, centre), (EAST + 180, centre)]), forming="level",
        width_m=4.0, cut_batter=0.75, fill_batter=1.5, profile=level_profile(level, 160), **BARE,
    )  # fmt: skip
    found = values(study_of(track, grid=plane(slope_north=0.30)), track.id)
    assert found["cut_m3"] == pytest.approx(160 * form.cut_m2, rel=0.02)
    assert found["fill_m3"] == pytest.approx(160 * form.fill_m2, rel=0.02)
    # Compacted 0.9 of the bank's volume: cut makes fill.
    assert found["left_over_m3"] == pytest.approx(0, abs=0.03 * 160 * form.cut_m2)


def test_a_full_bench_is_the_handbooks_two_cubic_metres() -> None:
    """Handbook 5.4: full-bench road, W 4, s 0.2, zc 1: hc 1.0 m, cut 2.0 m³ a metre."""
    level = 100 + 0.2 * (100 - 2)
    track = Track(
        geometry=line((20, 100), (180, 100)), forming="level", width_m=4.0, cut_batter=1.0,
        full_bench=True, profile=level_profile(level, 160), **BARE,
    )  # fmt: skip
    study = study_of(track, grid=plane(slope_north=0.2))
    found = values(study, track.id)
    assert found["cut_m3"] / 160 == pytest.approx(2.0, rel=0.02)
    assert found["fill_m3"] == 0
    # At the hill side's edge, half a cell within it: W s = 0.8 m; the batter's top is at 1.0 m.
    assert found["cut_depth_m"] == pytest.approx(0.8, abs=0.05)
    assert found["unsupported_m2"] == pytest.approx(0, abs=2)
    high = changed(track, profile=level_profile(level + 0.4, 160))
    found = values(study.moved(study.plan.with_(high)), track.id)
    # Half a metre higher, all but the uppermost stretch hangs: 0.4 / 0.2 = 2 m of its 4.
    assert found["unsupported_m2"] == pytest.approx(160 * 1.75, rel=0.05)


def test_volumes_agree_with_the_average_end_areas() -> None:
    """By patch difference against cross-sections of the designed ground every 2 m: within 2 %."""
    track = Track(geometry=line((30, 40), (170, 150)), forming="level", design_grade=0.12, **BARE)
    study = study_of(track, grid=valley())
    work = study.work(track.id)
    made = work.thing
    stations = np.arange(0.0, made.centre.line.length, 2.0)
    cut, fill = [], []
    for s in stations:
        at = made.centre.line.interpolate(s)
        on = made.centre.line.interpolate(min(s + 0.1, made.centre.line.length))
        dx, dy = (on.x - at.x) * 10, (on.y - at.y) * 10
        across = LineString([(at.x - 12 * dy, at.y + 12 * dx), (at.x + 12 * dy, at.y - 12 * dx)])
        a, b = two_grounds(study, across).cut_fill_m2()
        cut.append(a)
        fill.append(b)
    found = values(study, track.id)
    # Mean of two neighbouring areas times their distance.
    by_cut, by_fill = (float(np.trapezoid(areas, stations)) for areas in (cut, fill))
    assert found["cut_m3"] == pytest.approx(by_cut, rel=0.03, abs=2)
    assert found["fill_m3"] == pytest.approx(by_fill, rel=0.03, abs=2)


@settings(max_examples=8, deadline=None)
@given(
    st.sampled_from(["out", "in", "crown", "level"]),
    st.integers(-25, 25),
    st.floats(-1.0, 1.0),
)
def test_a_track_drawn_the_other_way_answers_alike(forming: str, bend: int, raised: float) -> None:
    there = line((30, 60), (100, 60 + bend), (170, 80))
    knees = ((0.0, 104.0 + raised), (70.0, 106.0 + raised), (138.0, 107.0 + raised))
    one = Track(geometry=there, forming=forming, profile="\n".join(f"{s};{z};12" for s, z in knees))
    grid = plane(slope_east=0.02, slope_north=0.12)
    study = study_of(one, grid=grid)
    length = study.work(one.id).thing.centre.line.length
    back = "\n".join(f"{length - s};{z};12" for s, z in reversed(knees))
    other = changed(one, geometry=LineString(list(there.coords)[::-1]), profile=back)
    mine, theirs = values(study, one.id), values(study_of(other, grid=grid), one.id)
    for key in ("cut_m3", "fill_m3", "aggregate_m3", "max_grade", "surface_m2", "topsoil_off_m3"):
        assert theirs[key] == pytest.approx(mine[key], rel=0.02, abs=0.5), key
    assert theirs["climb_m"] == pytest.approx(mine["fall_m"], abs=0.02)


def test_grades_and_curves_come_from_the_design_profile() -> None:
    """A 20 % ground, a profile of 12 %: 12 m of rise on 100 m (handbook 5.1)."""
    track = Track(geometry=line((100, 40), (100, 140)), forming="out", profile="0;110;\n100;122;")
    found = values(study_of(track, grid=plane(slope_north=0.2)), track.id)
    assert found["max_grade"] == pytest.approx(0.12, abs=1e-6)
    assert found["sustained_grade"] == pytest.approx(0.12, abs=1e-6)
    assert found["ground_grade"] == pytest.approx(0.20, abs=1e-6)
    # A 20 %, L 30 m: 0.75 m off the knee.
    eased = changed(track, profile="0;110;\n50;115;30\n100;110;")
    study = study_of(eased, grid=plane(slope_north=0.2))
    profile = track_profile(study, track.id)
    assert float(profile.line.level_m(50)) == pytest.approx(114.25)


def test_bends_are_rounded_and_widened() -> None:
    """Handbook 5.1: arc 23.56 m at R 15 and 90°; inner edge 15 m less half the width."""
    track = Track(
        geometry=line((40, 60), (100, 60), (100, 130)), forming="level", width_m=4.0,
        design_grade=0.3, curve_m=0.0,
    )  # fmt: skip
    study = study_of(track, grid=plane(slope_north=0.05))
    found, parts = values(study, track.id), study.parts(track.id)
    assert found["length_m"] == pytest.approx(60 + 70 - 2 * 15 + 23.56, abs=0.05)
    assert found["min_inside_radius_m"] == pytest.approx(13.0, abs=1e-6)
    (bend,) = shapely.get_parts(parts["bends"])
    assert bend.z == pytest.approx(13.0)
    assert found["least_radius_m"] == pytest.approx(15.0)
    assert found["tight_bends"] == 0
    wide = changed(track, radius_m=80.0)
    # Legs of 60 and 70 m leave room for 60 m at a right angle.
    tight = values(study.moved(study.plan.with_(wide)), track.id)
    assert tight["least_radius_m"] == pytest.approx(60.0)
    assert tight["tight_bends"] == 1
    # 1.22 m more on the inside (handbook: 15 to 30 m), eased in and out.
    assert parts["edge"].area > 4.0 * found["length_m"] + 20


def test_what_cannot_be_built_says_why_and_what_to_do() -> None:
    steep = Track(geometry=line((100, 40), (100, 140)), forming="out", design_grade=0.12)
    found = values(study_of(steep, grid=plane(slope_north=0.2)), steep.id)
    assert "167 m" in str(found["trouble"])
    assert "cut_m3" not in found
    assert found["length_m"] == pytest.approx(100)


def test_drains_are_due_by_the_handbook() -> None:
    """Handbook 5.2 E1: 180 m at 12 %, rolling dips, firm soil: 2; erodible: 5."""
    rows = profile_text(GradeLine((Knee(0, 102), Knee(180, 102 + 0.12 * 180))))
    track = Track(
        geometry=line((100, 10), (100, 190)), forming="out", profile=rows,
        cross_drains="rolling_dips", erodible=False,
    )  # fmt: skip
    study = study_of(track, grid=plane(slope_north=0.12))
    found = values(study, track.id)
    assert (found["drains_due"], found["drains_missing"]) == (2, 2)
    assert found["drain_gap"] == pytest.approx(3.0, abs=1e-6)
    eroding = values(study.moved(study.plan.with_(changed(track, erodible=True))), track.id)
    assert eroding["drains_due"] == 5


def test_a_passing_bay_widens_its_track() -> None:
    track = Track(geometry=line((20, 100), (180, 100)), forming="level", width_m=4.0, **BARE)
    bay = PassingBay(geometry=Point(EAST + 100, NORTH + 97))
    alone = study_of(track, grid=plane(slope_north=0.1))
    both = study_of(track, bay, grid=plane(slope_north=0.1))
    extra = (9.1 + 7.6) * 3.7
    grown = both.parts(track.id)["edge"].area - alone.parts(track.id)["edge"].area
    assert grown == pytest.approx(extra, rel=0.03)
    assert values(both, bay.id)["area_m2"] == pytest.approx(extra, rel=0.01)
    # On the lower side it is filled, and the track's earth grows by it.
    assert values(both, track.id)["fill_m3"] > values(alone, track.id)["fill_m3"] + 10
    assert values(both, track.id)["bay_gap_m"] == pytest.approx(80, abs=0.1)
    assert values(alone, track.id)["bay_gap_m"] == pytest.approx(160)


def test_a_turning_head_goes_on_with_its_tracks_grade_and_ends_the_dead_end() -> None:
    road = PublicRoad(geometry=line((0, 20), (200, 20)))
    track = Track(geometry=line((100, 20), (100, 90)), forming="out", profile="0;105;\n70;112;")
    head = TurningHead(geometry=Point(EAST + 101, NORTH + 92))
    grid = plane(slope_north=0.12)
    study = study_of(road, track, head, grid=grid)
    found = values(study, head.id)
    assert found["fall"] == pytest.approx(0.10, abs=1e-6)
    assert found["level_m"] == pytest.approx(112.0, abs=0.01)
    assert found["area_m2"] == pytest.approx(math.pi * 12.2**2, rel=0.01)
    ground = study.designed()
    # Neither at the track's end nor 8 m beyond it is there a step off the line of 10 %.
    for on in (-6.0, 0.0, 8.0):
        assert float(ground.sample(EAST + 100, NORTH + 90 + on)) == pytest.approx(
            112 + 0.1 * on, abs=0.06
        )
    rule = "good_practice.track_dead_end"
    without = study_of(road, track, grid=grid)
    assert any(f.rule == rule for f in _checked(without))
    assert not any(f.rule == rule for f in _checked(study))


def _checked(study: Study) -> tuple:
    site = changed(study.plan.site, rule_sets="good_practice")
    return Study(study.plan.with_(site), study.land).findings()


def test_findings_follow_the_design_not_the_ground() -> None:
    """A 20 % ground breaks the 16 % rule; the profile of 10 % through it doesn't."""
    along = Track(geometry=line((100, 40), (100, 140)))
    grid = plane(slope_north=0.2)
    assert "good_practice.track_grade" in {f.rule for f in _checked(study_of(along, grid=grid))}
    shaped = changed(along, forming="out", profile="0;113;\n100;123;")
    rules = {f.rule for f in _checked(study_of(shaped, grid=grid))}
    assert "good_practice.track_grade" not in rules
    assert "good_practice.track_drain_spacing" in rules
    steep = changed(shaped, profile="0;110;\n60;113;\n100;121;")
    (found,) = [f for f in _checked(study_of(steep, grid=grid)) if f.rule.endswith("track_grade")]
    # Where the design is steep, not where the ground is.
    assert found.measured == pytest.approx(0.2)
    assert found.where.bounds[1] == pytest.approx(NORTH + 100, abs=2)


def test_the_cut_is_kept_from_a_house() -> None:
    house = Building(
        geometry=shapely.box(EAST + 90, NORTH + 104, EAST + 102, NORTH + 112), use="dwelling"
    )
    track = Track(geometry=line((40, 100), (160, 100)), forming="out", full_bench=True)
    found = {f.rule: f for f in _checked(study_of(track, house, grid=plane(slope_north=0.2)))}
    finding = found["good_practice.track_earth_building"]
    assert finding.measured < 2.0


def test_least_earth_balances_and_keeps_the_grade() -> None:
    track = Track(geometry=line((20, 60), (180, 80)), forming="out")
    flat = plane(slope_north=0.06)
    x = flat.x_m()[None, :] - EAST
    grid = flat.like(flat.z + 1.5 * np.sin(x / 12))
    study = study_of(track, grid=grid)
    found = suggested(study, track, 0.08)
    assert np.abs(found.grades).max() <= 0.08 + 1e-9
    better = study.moved(study.plan.with_(changed(track, profile=profile_text(found))))
    before, after = values(study, track.id), values(better, track.id)
    assert abs(after["left_over_m3"]) < abs(before["left_over_m3"]) / 4
    assert knees_of(better.plan.element(track.id))


def test_a_profile_longer_than_its_track_ends_with_it() -> None:
    track = Track(geometry=line((20, 100), (100, 100)), forming="out", profile="0;110;\n100;112;")
    profile = track_profile(study_of(track, grid=plane(slope_north=0.1)), track.id)
    assert profile.line.knees[-1].station_m == pytest.approx(80)
    assert profile.line.knees[-1].level_m == pytest.approx(111.6)


def test_a_profile_shorter_than_its_track_goes_on_and_says_so() -> None:
    track = Track(geometry=line((20, 100), (100, 100)), forming="out", profile="0;110;\n60;111.2;")
    study = study_of(track, grid=plane(slope_north=0.1))
    assert "at 60.0 m of 80.0 m" in str(values(study, track.id)["profile_ends"])
    # 2 % from 111.2 m at 60 m on.
    end = study.parts(track.id)["profile"].coords[-1]
    assert end[2] == pytest.approx(111.6)


def test_the_preview_of_a_moved_knee_is_the_answer_after() -> None:
    track = Track(geometry=line((40, 60), (160, 60)), forming="in", ditch_m=0.3)
    study = study_of(track, grid=valley())
    moved = changed(track, profile="0;112;\n60;107;20\n120;112;")
    would_be = study.preview(study.plan.with_(moved)).work(track.id).thing.earth
    fresh = study_of(moved, grid=valley())
    assert would_be == fresh.work(track.id).thing.earth
