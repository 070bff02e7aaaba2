"""A storm run over the land from the command line: words, JSON, maps, trouble, stopping."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from shapely import LineString, Point, box

from canvas.base.grid import Grid
from canvas.cli import main
from canvas.exchange.rasters import open_grid, write_grid
from canvas.site.edits import add
from canvas.site.elements.gauges import Gauge, GaugeLine
from canvas.site.elements.land import SiteBoundary
from canvas.site.facts import Ground, Site
from canvas.site.session import Session
from canvas.study.rains import keep
from made import EAST, NORTH

SIDE = 50


def run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """A small valley that falls southward, with a gauge and a line, and no rain table."""
    base = Grid(np.zeros((SIDE, SIDE)), EAST, NORTH + SIDE, 1.0)
    x, y = np.meshgrid(base.x_m() - EAST, base.y_m() - NORTH)
    ground = tmp_path / "made.tif"
    write_grid(ground, base.like(90 + 0.1 * y + 0.2 * np.abs(x - SIDE / 2)), "EPSG:7854", unit="m")
    folder = tmp_path / "valley"
    with Session.start(folder, Site(name="The valley", crs="EPSG:7854")) as session:
        file = session.adopt(ground)
        items = [
            Ground(file=file, source="made up", accuracy_m=0.1, datum="AHD"),
            SiteBoundary(geometry=box(EAST, NORTH, EAST + SIDE, NORTH + SIDE)),
            Gauge(id="staff", name="Staff", geometry=Point(EAST + 25.5, NORTH + 5.5)),
            GaugeLine(id="out", name="Outflow", geometry=LineString(
                [(EAST + 1, NORTH + 5), (EAST + 49, NORTH + 5)])),
        ]  # fmt: skip
        session.apply(add("Draw", items))
    return folder


def test_a_storm_is_told_in_words_and_mapped(site: Path, tmp_path: Path) -> None:
    words = run("storm", site, "--2d", "--depth", 50, "--hours", 0.5, "--pattern", "uniform")
    assert words.exit_code == 0, words.output
    for said in ("50.0", "Deepest:", "Rain ", "Not accounted for", "Staff:", "Outflow:",
                 "not a flood study", "Ctrl-C"):  # fmt: skip
        assert said in words.output
    for kind, most in (("rain_depth", 0.5), ("rain_speed", 3.0)):
        out = tmp_path / f"{kind}.tif"
        mapped = run("map", site, kind, out)
        assert mapped.exit_code == 0, mapped.output
        assert "not a flood study" in mapped.output
        grid = open_grid(out)
        assert 0.01 < np.nanmax(grid.z) < most
        # Water gathers in the middle.
        _, col = np.unravel_index(np.nanargmax(grid.z), grid.shape)
        assert grid.x_m()[col] == pytest.approx(EAST + SIDE / 2, abs=1.01)


def test_the_same_in_json_on_coarser_cells(site: Path) -> None:
    told = run("storm", site, "--2d", "--depth", 50, "--hours", 0.5, "--cell", 2, "--json")
    assert told.exit_code == 0, told.output
    found = json.loads(told.stdout)
    assert found["cell_m"] == 2.0
    assert found["storm"]["depth_mm"] == pytest.approx(50.0)
    assert found["books_m3"]["rain"] == pytest.approx(0.050 * SIDE**2)
    assert found["books_m3"]["error_share"] < 1e-3
    assert {each["id"] for each in found["gauges"]} == {"staff", "out"}
    assert Path(found["folder"]).parent == site / keep.FOLDER
    # The same question finds the same name: it takes the place of the one before.
    again = json.loads(
        run("storm", site, "--2d", "--depth", 50, "--hours", 0.5, "--cell", 2, "--json").stdout
    )
    assert again["token"] == found["token"]
    assert len(keep.shelf(site).runs) == 1


def test_what_cannot_be_run_is_said(site: Path, tmp_path: Path) -> None:
    dry = run("storm", site, "--2d")
    assert dry.exit_code == 2
    assert "rain" in dry.output
    odd = run("storm", site, "--2d", "--depth", 50, "--hours", 1, "--cell", 1.7)
    assert odd.exit_code == 2
    assert "do not fit" in odd.output
    lone = run("storm", site, "--depth", 50, "--hours", 1, "--cell", 2)
    assert lone.exit_code == 2
    assert "--2d" in lone.output
    none = run("map", site, "rain_depth", tmp_path / "none.tif")
    assert none.exit_code == 2
    assert "no storm has been run" in none.output
    assert keep.shelf(site).runs == ()


@pytest.mark.skipif(sys.platform == "win32", reason="no such signal")
def test_an_interrupt_stops_it_and_leaves_nothing(site: Path) -> None:
    words = [sys.executable, "-m", "canvas", "storm", str(site), "--2d", "--depth", "500",
             "--hours", "48", "--cell", "0.25"]  # fmt: skip
    with subprocess.Popen(words, stderr=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        assert process.stderr is not None
        assert b"Ctrl-C" in process.stderr.readline()
        until = time.monotonic() + 60.0
        parts: list[Path] = []
        while not parts and time.monotonic() < until:
            parts = list(site.glob(f"{keep.FOLDER}/{keep.PART}*/moment-0000.npz"))
            time.sleep(0.05)
        assert parts
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=60)
    assert process.returncode == 2, said
    assert b"Cancelled" in said
    assert list((site / keep.FOLDER).iterdir()) == []
