"""What `sheet` and `map` say of what they could not show, and what they refuse before working."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from shapely import Point, Polygon

from canvas.cli import main
from canvas.exchange.rasters import write_grid
from canvas.site.edits import add
from canvas.site.elements.land import SiteBoundary
from canvas.site.elements.vegetation import Tree
from canvas.site.facts import Ground, Phase, Picture, Site
from canvas.site.session import Session
from made import EAST, NORTH, plane


def run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """A site of two phases with a ground and an aerial of no bytes."""
    folder = tmp_path / "hill"
    ground, aerial = tmp_path / "made.tif", tmp_path / "aerial.tif"
    write_grid(ground, plane(slope_north=0.10), "EPSG:7854", unit="m")
    aerial.write_bytes(b"")
    side = [(10, 10), (160, 10), (160, 160), (10, 160)]
    with Session.start(folder, Site(name="The hill", crs="EPSG:7854")) as session:
        session.apply(
            add(
                "Draw",
                [
                    Ground(file=session.adopt(ground)),
                    Picture(name="Spring flight", file=session.adopt(aerial)),
                    Phase(id="one", name="Way in", place=1),
                    Phase(id="two", name="Planting", place=2),
                    SiteBoundary(geometry=Polygon([(EAST + x, NORTH + y) for x, y in side])),
                    Tree(geometry=Point(EAST + 90, NORTH + 90), phase="two", species="Malus"),
                ],
            )
        )
    return folder


def test_a_sheet_of_one_phase(site: Path, tmp_path: Path) -> None:
    for words in ("Way in", "way in", "1"):
        done = run("sheet", site, tmp_path / "x.pdf", "--phase", words)
        assert done.exit_code == 0, done.output
        assert "phase 2 (Planting)" in done.stderr
    wrong = run("sheet", site, tmp_path / "y.pdf", "--phase", "Roof")
    assert wrong.exit_code == 2
    assert "1: Way in; 2: Planting" in wrong.stderr
    assert not (tmp_path / "y.pdf").exists()


def test_an_unreadable_aerial_is_told_once(site: Path, tmp_path: Path) -> None:
    done = run("sheet", site, tmp_path / "x.pdf")
    assert done.exit_code == 0
    assert done.stderr.count("Spring flight") == 1
    for file in site.glob("*.tif"):
        if file.stat().st_size == 0:
            file.unlink()
    gone = run("sheet", site, tmp_path / "x.pdf")
    assert gone.exit_code == 0
    assert gone.stderr.count("is missing") == 1


def test_a_missing_ground_is_told_once(site: Path, tmp_path: Path) -> None:
    for file in site.glob("*.tif"):
        if file.stat().st_size:
            file.unlink()
    done = run("sheet", site, tmp_path / "x.pdf")
    assert done.exit_code == 0
    assert done.stderr.count("is missing") == 1


def test_a_scale_too_large_is_told(site: Path, tmp_path: Path) -> None:
    done = run("sheet", site, tmp_path / "x.pdf", "--scale", 200)
    assert done.exit_code == 0
    assert "The site continues beyond this sheet" in done.stderr
    assert "continues" not in run("sheet", site, tmp_path / "x.pdf").stderr


def test_contours_at_any_interval_but_an_absurd_one(site: Path, tmp_path: Path) -> None:
    assert run("sheet", site, tmp_path / "x.pdf", "--contours", "0.35").exit_code == 0
    assert run("sheet", site, tmp_path / "x.pdf", "--contours", "0").exit_code == 0
    for wrong in ("-1", "0.0001", "nan"):
        assert run("sheet", site, tmp_path / "y.pdf", "--contours", wrong).exit_code == 2


def test_a_folder_that_is_not_there_is_said_before_the_work(site: Path, tmp_path: Path) -> None:
    for words in (("sheet", site, "no/x.pdf"), ("map", site, "slope", "no/x.tif")):
        *verb, out = words
        start = time.perf_counter()
        done = run(*verb, tmp_path / out)
        assert done.exit_code == 2
        assert "does not exist" in done.stderr
        assert time.perf_counter() - start < 2.0


@pytest.mark.parametrize("name", ["slope.png", "slope", "slope.asc"])
def test_a_map_is_named_as_what_it_is(site: Path, tmp_path: Path, name: str) -> None:
    done = run("map", site, "slope", tmp_path / name)
    assert done.exit_code == 2
    assert ".tif" in done.stderr
    assert not (tmp_path / name).exists()
