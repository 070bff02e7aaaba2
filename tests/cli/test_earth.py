"""The verb for earth, by its exact words and documented JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from shapely import box

from canvas.cli import main
from canvas.exchange.rasters import write_grid
from canvas.site.edits import add
from canvas.site.elements.earthworks import Heap, Platform
from canvas.site.facts import Ground, Phase, Site
from canvas.site.session import Session
from made import EAST, NORTH, plane

X, Y = EAST + 100, NORTH + 100


def run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture
def site(tmp_path: Path) -> Path:
    folder = tmp_path / "hill"
    ground = tmp_path / "made.tif"
    write_grid(ground, plane(slope_north=0.10), "EPSG:7854", unit="m")
    with Session.start(folder, Site(name="The hill", crs="EPSG:7854")) as session:
        file = session.adopt(ground)
        items = [Ground(file=file, source="made up", accuracy_m=0.1, datum="AHD")]
        session.apply(add("Ground", items))
    return folder


def test_a_site_without_works_says_so(site: Path) -> None:
    assert "No earthworks are proposed." in run("earth", site).output


def test_works_that_cannot_be_built_are_named_not_passed_over(site: Path) -> None:
    with Session.open(site) as session:
        bad = Platform(name="Nowhere", level="set", geometry=box(X, Y, X + 10, Y + 10))
        session.apply(add("Draw", [bad]))
    words = run("earth", site).output
    assert "LEFT OUT: " in words
    assert "No earthworks" not in words


def test_the_balance_in_words_and_json(site: Path) -> None:
    with Session.open(site) as session:
        session.apply(
            add(
                "Dig",
                [
                    Phase(id="1", name="Dry season", place=1, starts="2026-11-01"),
                    Platform(
                        id="pad", name="Yard", phase="1",
                        geometry=box(X - 10, Y - 6, X + 10, Y + 6),
                    ),
                    Heap(id="heap", phase="1", geometry=box(X + 30, Y - 8, X + 50, Y + 8)),
                    Platform(id="bad", name="Nowhere", level="set",
                             geometry=box(X - 10, Y + 40, X + 10, Y + 50)),
                ],
            )
        )  # fmt: skip
    words = run("earth", site)
    assert words.exit_code == 0
    for part in ("Dry season", "2026-11-01", "Topsoil", "Common earth (loam)", "Heap of topsoil",
                 "LEFT OUT: ", "Nowhere", "none is given", "straight from the middle"):  # fmt: skip
        assert part in words.output, part
    told = json.loads(run("earth", site, "--json").output)
    assert told["format"] == "hillwright earth balance"
    assert told["version"] == 1
    earth = {line["key"]: line for line in told["whole"]["earth"]}
    line = earth["earth"]
    assert line["cut_bank_m3"] == pytest.approx(line["fill_bank_m3"], rel=0.02)
    assert line["fill_bank_m3"] == pytest.approx(line["fill_compacted_m3"] / 0.9)
    assert earth["topsoil"]["onto_heaps_bank_m3"] > 0
    assert told["heaps"][0]["used_loose_m3"] <= told["heaps"][0]["holds_loose_m3"]
    assert told["left_out"] == [{"id": "bad", "why": told["left_out"][0]["why"]}]
    assert told["phases"][0]["name"] == "Dry season"
    facts = run("facts", site, "Yard")
    assert "Finished level, middle" in facts.output
    assert "indicative: level on site" in facts.output
