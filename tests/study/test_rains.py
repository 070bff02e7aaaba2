"""A storm run over a small made-up valley: kept, listed, read again, stale, cancelled."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pyproj import CRS
from shapely import LineString, Point, box

from canvas.base.errors import BadData, Cancelled
from canvas.base.grid import Grid
from canvas.ground.designed import Designed
from canvas.site.elements.cover import GroundCover
from canvas.site.elements.gauges import Gauge, GaugeLine
from canvas.site.elements.land import SiteBoundary
from canvas.site.elements.swales import Swale
from canvas.site.facts import Site
from canvas.site.plan import Plan
from canvas.site.records import changed
from canvas.site.storms import DesignStorm
from canvas.study.land import Land
from canvas.study.rains import keep
from canvas.study.rains.answers import changed_since, depth_map, needed, speed_map, stale_words
from canvas.study.rains.cells import coarser, wet_ground
from canvas.study.rains.run import run
from canvas.study.rains.setup import RainChoice, setup
from canvas.study.rains.wording import books, summary
from canvas.study.study import Study
from made import EAST, NORTH

CELLS = 60
CHOICE = RainChoice(after_h=0.5, moments=7)


def valley() -> Grid:
    """A V-shaped valley of 1 m cells that falls southward, 60 m square."""
    base = Grid(np.zeros((CELLS, CELLS)), EAST, NORTH + CELLS, 1.0)
    x, y = np.meshgrid(base.x_m() - EAST, base.y_m() - NORTH)
    return base.like(100.0 + 0.08 * y + 0.15 * np.abs(x - CELLS / 2))


def at(*points: tuple[float, float]) -> list[tuple[float, float]]:
    return [(EAST + x, NORTH + y) for x, y in points]


def records() -> list[object]:
    return [
        SiteBoundary(id="edge", geometry=box(EAST + 5, NORTH + 5, EAST + 55, NORTH + 55)),
        DesignStorm(depth_mm=40.0, hours=1.0, pattern="triangular"),
        Gauge(id="staff", name="Staff", geometry=Point(*at((30.5, 8.5))[0])),
        GaugeLine(id="out", name="Outflow", geometry=LineString(at((2, 6), (58, 6)))),
    ]


def study_in(folder: Path | None, *more: object) -> Study:
    plan = Plan([Site(name="Valley", crs="EPSG:7854"), *records(), *more])
    return Study(plan, Land(CRS("EPSG:7854"), valley(), None, None, folder=folder))


def test_a_run_is_kept_listed_and_read_again(tmp_path: Path) -> None:
    study = study_in(tmp_path)
    assert study.rains().runs == ()
    with pytest.raises(BadData, match="no storm has been run"):
        study.map("rain_depth")
    made = run(study, tmp_path, CHOICE)
    assert [each.token for each in study.rains().runs] == [made.token]
    fresh = study_in(tmp_path)
    again = needed(fresh.rains())
    assert again.told == made.told
    assert changed_since(fresh, again) == ()
    told = again.told["books_m3"]
    assert told["rain"] == pytest.approx(0.040 * again.told["cells"])
    assert told["error_share"] < 1e-6
    assert sum(each.volume_m3 for each in books(again)[2:]) == pytest.approx(
        told["start"] + told["rain"]
    )
    assert again.times_s[0] == 0.0
    assert again.times_s[-1] == pytest.approx(1.5 * 3600.0)
    assert len(again.times_s) == CHOICE.moments
    deepest = depth_map(again).z
    kept = np.stack([np.nan_to_num(again.moment(i)[0].z) for i in range(CHOICE.moments)])
    assert kept.max() <= np.nanmax(deepest) + 0.001
    assert kept.max() > 0.6 * np.nanmax(deepest)
    assert np.nanmax(speed_map(again).z) == pytest.approx(again.told["fastest"]["value"], rel=0.01)
    # Water runs in the valley's middle; the gauge there saw the deepest of it pass.
    col = int(np.nan_to_num(deepest).max(axis=0).argmax())
    assert again.map("peak_depth").x_m()[col] == pytest.approx(EAST + 30, abs=1.01)
    staff = next(each for each in again.told["gauges"] if each["id"] == "staff")
    assert staff["deepest_m"] == pytest.approx(again.series("staff")["depth_m"].max())
    flow = again.series("out")
    passed = float(np.trapezoid(flow["flow_m3s"], flow["time_s"]))
    # What falls below the line leaves without passing it: a tenth of the land.
    assert passed == pytest.approx(0.9 * told["ran_off"], rel=0.06)
    assert any("a model" in line.lower() for line in summary(again, study.plan.site.unit_system()))


def test_facts_and_maps_follow_a_new_run(tmp_path: Path) -> None:
    study = study_in(tmp_path)
    before = {fact.key for fact in study.facts("staff")}
    assert "deepest_m" not in before
    run(study, tmp_path, CHOICE)
    after = {fact.key: fact.value for fact in study.facts("staff")}
    assert after["deepest_m"] > 0.01
    line = {fact.key: fact.value for fact in study.facts("out")}
    assert line["peak_m3s"] > 0.0
    answer = study.map("rain_depth")
    assert "not a flood study" in answer.note
    other = run(study, tmp_path, replace(CHOICE, depth_mm=80.0))
    assert study.rains().run("") is not None
    assert len(study.rains().runs) == 2
    assert np.nanmax(study.map("rain_depth").grid.z) > np.nanmax(answer.grid.z)
    keep.delete(tmp_path, other.token)
    assert np.nanmax(study.map("rain_depth").grid.z) == pytest.approx(np.nanmax(answer.grid.z))


@pytest.mark.parametrize(
    ("record", "words"),
    [
        (DesignStorm(depth_mm=50.0, hours=1.0), ("the storm",)),
        (GroundCover(id="c", cover="paved", geometry=box(EAST + 10, NORTH + 10, EAST + 50,
                                                         NORTH + 50)), ("the cover",)),
        (Gauge(id="second", geometry=Point(EAST + 20, NORTH + 20)), ("the gauges",)),
    ],
)  # fmt: skip
def test_a_run_grows_stale_by_what_it_rests_on(
    tmp_path: Path, record: object, words: tuple[str, ...]
) -> None:
    study = study_in(tmp_path)
    made = run(study, tmp_path, CHOICE)
    moved = study.moved(study.plan.with_(record))
    assert changed_since(moved, made) == words
    assert stale_words(words).startswith(f"STALE: {words[0]} ha")
    # Taken back, it holds again; what water does not see never makes it stale.
    assert changed_since(moved.moved(study.plan), made) == ()


def test_a_swale_changes_the_ground_and_says_when_it_spills(tmp_path: Path) -> None:
    study = study_in(tmp_path)
    made = run(study, tmp_path, CHOICE)
    swale = Swale(
        id="swale", name="Low swale", depth_m=0.3, sill="middle", sill_m=4.0,
        geometry=LineString(at((10, 30.0), (20, 25.0), (30, 23.0), (40, 25.0), (50, 30.0))),
    )  # fmt: skip
    later = study.moved(study.plan.with_(swale))
    work = later.work("swale")
    assert work is not None
    assert not work.trouble
    assert "the ground" in changed_since(later, made)
    heavy = run(later, tmp_path, replace(CHOICE, depth_mm=160.0))
    rows = [row for row in heavy.told["overtopped"] if row["id"] == "swale"]
    assert rows
    assert rows[0]["name"] == "Low swale"
    assert 0.0 < rows[0]["first_s"] < heavy.told["length_s"]
    assert heavy.told["books_m3"]["soaked"] > 0.0
    assert heavy.told["books_m3"]["ran_off"] < 4 * heavy.told["books_m3"]["rain"]


def test_cancelled_it_leaves_nothing(tmp_path: Path) -> None:
    study = study_in(tmp_path)
    told: list[float] = []

    def stop(fraction: float, note: str = "") -> None:
        told.append(fraction)
        if fraction > 0.0:
            raise Cancelled

    with pytest.raises(Cancelled):
        run(study, tmp_path, replace(CHOICE, cell_m=0.5), stop)
    assert told[-1] > 0.0
    assert list((tmp_path / keep.FOLDER).iterdir()) == []
    assert study.rains().runs == ()


def test_a_broken_or_foreign_run_is_passed_over(tmp_path: Path) -> None:
    study = study_in(tmp_path)
    made = run(study, tmp_path, CHOICE)
    for name, text in (("rain-half", "{"), ("rain-newer", '{"format": 99}'), ("notes", "x")):
        (tmp_path / keep.FOLDER / name).mkdir()
        (tmp_path / keep.FOLDER / name / "run.json").write_text(text)
    assert [each.token for each in study.rains().runs] == [made.token]


def test_no_rain_and_no_ground_are_said() -> None:
    dry = Plan([Site(name="Valley", crs="EPSG:7854")])
    land = Land(CRS("EPSG:7854"), valley(), None, None)
    with pytest.raises(BadData, match="rain to design for"):
        setup(Study(dry, land), CHOICE)
    with pytest.raises(BadData, match="no ground"):
        setup(Study(dry, replace(land, grid=None)), CHOICE)
    with pytest.raises(BadData, match="do not fit"):
        setup(study_in(None), replace(CHOICE, cell_m=1.3))


@pytest.mark.parametrize("by", [2, 3])
def test_larger_cells_keep_the_levels(by: int) -> None:
    base = valley()
    wet = wet_ground(Designed(base, ()), float(by))
    assert wet.levels.cell_m == by
    assert np.nanmean(wet.levels.z) == pytest.approx(np.nanmean(base.z))
    ragged = coarser(base.like(np.where(np.arange(CELLS) < 7, np.nan, base.z)), by)
    assert np.isnan(ragged.z[:, 0]).all()
    assert np.isfinite(ragged.z[:, 7 // by]).all()


def test_an_edit_of_another_kind_leaves_the_run_be(tmp_path: Path) -> None:
    study = study_in(tmp_path)
    made = run(study, tmp_path, CHOICE)
    site = study.plan.site
    moved = study.moved(study.plan.with_(changed(site, name="Dale")))
    assert changed_since(moved, made) == ()
