"""Suggestions: ranked with reasons, ready to be put into the plan, and true once they are."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import box

from canvas.base.errors import BadData
from canvas.base.grid import Grid
from canvas.ground.pond_sites import PondWish
from canvas.site.elements.building import Building
from canvas.site.elements.land import SiteBoundary
from canvas.study.suggest.level_lines import suggest_level_lines
from canvas.study.suggest.platforms import PadWish, suggest_platforms
from canvas.study.suggest.ponds import suggest_ponds
from canvas.study.suggest.tracks import suggest_tracks
from made import EAST, NORTH, plane, study_of

WISH = PondWish(heights_m=(3.0,), least_catchment_m2=3000.0, longest_m=60.0)


def valley() -> Grid:
    """Return a valley that falls 3 % southward, narrow half way down."""
    y = np.arange(150)[:, None] * 2.0
    x = (np.arange(100)[None, :] - 49.5) * 2.0
    sides = 0.15 + 0.4 * np.exp(-(((y - 170) / 22) ** 2))
    return Grid(100 - 0.03 * y + sides * np.abs(x), EAST, NORTH + 300, 2.0)


def ordered(found) -> bool:
    scores = [each.score for each in found]
    return scores == sorted(scores, reverse=True) and all(0 <= s <= 1 for s in scores)


def test_a_pond_suggested_holds_what_it_was_said_to() -> None:
    study = study_of(grid=valley())
    found = suggest_ponds(study, WISH, most=3)
    assert found
    assert ordered(found)
    told = {fact.key: fact.value for fact in found[0].facts}
    assert found[0].why.startswith(f"{told['holds_m3']:.0f} m³")
    # Put into the plan as it stands, the dam's own facts say the same.
    dam = found[0].element
    facts = {f.key: f.value for f in study.moved(study.plan.with_(dam)).facts(dam.id)}
    assert facts["holds_m3"] == pytest.approx(told["holds_m3"], rel=0.01)
    assert facts["water_to_earth"] == pytest.approx(told["water_to_earth"], rel=0.01)


def test_ponds_a_dry_year_would_not_fill_are_left_out() -> None:
    study = study_of(grid=valley())
    every = suggest_ponds(study, WISH)
    needs = min(f.value for p in every for f in p.facts if f.key == "fills_at_mm")
    assert suggest_ponds(study, WISH, dry_runoff_mm=0.5 * needs) == []
    fed = suggest_ponds(study, WISH, dry_runoff_mm=100 * needs)
    assert fed
    assert any(name == "Filled in a dry year" for name, _ in fed[0].parts)


def test_level_lines_hold_level_and_keep_to_the_land() -> None:
    land = box(EAST + 20, NORTH + 20, EAST + 180, NORTH + 180)
    study = study_of(SiteBoundary(geometry=land), grid=plane(0.0, 0.1))
    found = suggest_level_lines(study, steepest=0.2, most=4)
    assert found
    assert ordered(found)
    for each in found:
        told = {fact.key: fact.value for fact in each.facts}
        assert told["level_error_m"] <= 0.02
        assert land.buffer(0.01).covers(each.element.geometry)
        # On a plane a level line runs straight across the land.
        assert told["length_m"] == pytest.approx(160.0, rel=0.02)
    # The longest are equal here: the one with more land above it comes first.
    assert suggest_level_lines(study, steepest=0.05) == []


def test_platforms_keep_off_what_stands() -> None:
    house = Building(geometry=box(EAST + 90, NORTH + 90, EAST + 110, NORTH + 110))
    study = study_of(house, grid=plane(0.0, 0.1))
    found = suggest_platforms(study, PadWish(16, 10))
    assert ordered(found)
    assert all(not p.element.geometry.intersects(house.geometry.buffer(2.9)) for p in found)
    told = {fact.key: fact.value for fact in found[0].facts}
    # A tenth of slope under 10 m: 16 × 10² × 0.1 / 8.
    assert told["earth_m3"] == pytest.approx(16 * 100 * 0.1 / 8, rel=0.02)


def test_a_track_suggested_holds_its_grade_in_the_plan() -> None:
    study = study_of(grid=plane(0.0, 0.2))
    found = suggest_tracks(study, (EAST + 60, NORTH + 60), (EAST + 120, NORTH + 130), steepest=0.12)
    assert ordered(found)
    rise = 70 * 0.2
    least = min(p.element.geometry.length for p in found)
    assert least == pytest.approx(rise / 0.12, rel=0.02)
    track = found[0].element
    facts = {f.key: f.value for f in study.moved(study.plan.with_(track)).facts(track.id)}
    assert facts["max_grade"] <= 0.125


def test_without_ground_it_says_what_to_do() -> None:
    for search in (suggest_ponds, suggest_level_lines, suggest_platforms):
        with pytest.raises(BadData, match="no ground yet"):
            search(study_of())


def test_no_place_is_suggested_in_the_water_of_a_pond() -> None:
    study = study_of(grid=valley())
    dam = suggest_ponds(study, WISH, most=1)[0].element
    study = study.moved(study.plan.with_(dam))
    water = study.parts(dam.id)["water"]
    assert water.area > 100
    for each in (*suggest_platforms(study, PadWish(12, 8)), *suggest_level_lines(study)):
        assert not each.element.geometry.intersects(water)
