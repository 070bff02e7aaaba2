"""The verb for storms, by its exact words and documented JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from shapely import LineString

from canvas.cli import main
from canvas.exchange.rasters import write_grid
from canvas.site.edits import add
from canvas.site.elements.swales import Swale
from canvas.site.facts import Ground, Site
from canvas.site.session import Session
from canvas.site.storms import DesignStorm, RainRows
from made import EAST, NORTH, plane


def plain(words: str) -> str:
    return words.replace("\N{NO-BREAK SPACE}", " ")


def run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


def across(y: float) -> LineString:
    return LineString([(EAST + 60, NORTH + y), (EAST + 140, NORTH + y)])


@pytest.fixture
def site(tmp_path: Path) -> Path:
    folder = tmp_path / "hill"
    ground = tmp_path / "made.tif"
    write_grid(ground, plane(slope_north=0.10), "EPSG:7854", unit="m")
    with Session.start(folder, Site(name="The hill", crs="EPSG:7854")) as session:
        file = session.adopt(ground)
        items = [
            Ground(file=file, source="made up", accuracy_m=0.1, datum="AHD"),
            Swale(id="upper", name="Upper", geometry=across(150), soaks_mm_h=0.0),
            Swale(id="lower", name="Lower", geometry=across(80), soaks_mm_h=0.0),
        ]
        session.apply(add("Ground and swales", items))
    return folder


def test_a_site_without_rain_says_what_to_do(site: Path) -> None:
    found = run("storm", site)
    assert found.exit_code == 2
    assert "rain table" in found.output
    assert "--depth" in found.output


def test_a_typed_storm_runs_through_the_swales_and_changes_nothing(site: Path) -> None:
    before = (site / "site.gpkg").read_bytes()
    found = run("storm", site, "--depth", 120, "--hours", 12, "--pattern", "uniform")
    assert found.exit_code == 0
    assert "Storm: 12 h, 120.0 mm, even rain (depth as typed)" in plain(found.output)
    assert "sill: to Lower" in found.output
    assert "(closes)" in found.output
    assert "licensed practice" in found.output
    assert (site / "site.gpkg").read_bytes() == before


def test_json_holds_the_chain_and_its_books(site: Path) -> None:
    told = json.loads(run("storm", site, "--depth", 120, "--hours", 12, "--json").output)
    assert told["format"] == "hillwright storm"
    assert told["version"] == 1
    upper, lower = told["stores"]
    assert (upper["id"], lower["id"]) == ("upper", "lower")
    assert upper["ways"][0]["to"] == "lower"
    spilt = sum(way["volume_m3"] for way in upper["ways"])
    assert lower["came_m3"] == pytest.approx(lower["own_runoff_m3"] + spilt, rel=1e-6)
    books = told["balance"]
    went = books["soaked_m3"] + books["away_m3"] + books["end_m3"]
    assert books["runoff_m3"] + books["start_m3"] == pytest.approx(went, rel=0.001)
    assert books["error"] <= 0.001


def test_a_return_period_is_read_from_the_sites_table(site: Path) -> None:
    with Session.open(site) as session:
        rows = RainRows(depths="1;10;30\n1;100;50\n24;10;96\n24;100;155", source="made up")
        session.apply(add("Rain", [rows, DesignStorm(years=10.0)]))
    told = json.loads(run("storm", site, "--years", 100, "--json").output)
    assert told["storm"]["depth_mm"] == pytest.approx(155.0)
    assert told["storm"]["years"] == 100.0
    own = json.loads(run("storm", site, "--json").output)
    assert own["storm"]["depth_mm"] == pytest.approx(96.0)


def test_depth_and_return_period_do_not_go_together(site: Path) -> None:
    found = run("storm", site, "--depth", 50, "--years", 10)
    assert found.exit_code == 2
    assert "not both" in found.output


def test_more_rain_never_spills_less_and_fills_at_less_than_spills(site: Path) -> None:
    last = 0.0
    for depth in (30, 60, 120, 240):
        told = json.loads(run("storm", site, "--depth", depth, "--hours", 12, "--json").output)
        assert told["balance"]["away_m3"] >= last
        last = told["balance"]["away_m3"]
        for store in told["stores"]:
            if store["spilled_m3"] > 0.5:
                assert store["fills_mm"] <= depth + 1.0


def test_ways_of_overflow_are_written_as_lines(site: Path, tmp_path: Path) -> None:
    out = tmp_path / "spills.geojson"
    refused = run("lines", site, "spills", out)
    assert refused.exit_code == 2
    assert not out.exists()
    with Session.open(site) as session:
        session.apply(add("Storm", [DesignStorm(depth_mm=120.0)]))
    assert run("lines", site, "spills", out).exit_code == 0
    found = json.loads(out.read_text())["features"]
    first = next(f for f in found if f["properties"]["way"] == "sill")
    assert first["properties"]["from"] == "Upper"
    assert first["properties"]["to"] == "Lower"
    assert first["properties"]["volume_m3"] > 0
    assert first["geometry"]["type"] == "LineString"
