"""The verb that makes ground, on a site of measured heights and on the sample's."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from shapely import Point

from canvas.base import resources
from canvas.base.grid import Grid
from canvas.cli import main
from canvas.exchange.geotiff import write_grid
from canvas.exchange.rasters import open_grid
from canvas.site.edits import add
from canvas.site.elements.heights import SpotHeight
from canvas.site.facts import Ground
from canvas.site.session import Session


@pytest.fixture
def site(tmp_path: Path) -> Path:
    shutil.copytree(resources.samples() / "kestrel_rise" / "site", tmp_path / "site")
    return tmp_path / "site"


def run(*words: str) -> str:
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 0, done.output
    return done.output


def in_use(site: Path) -> tuple[Ground, Grid]:
    with Session.open(site, readonly=True) as session:
        record = next(g for g in session.plan.of(Ground) if g.in_use)
        return record, open_grid(session.path_of(record.file))


def test_a_knoll_measured_by_hand_is_laid_into_the_ground(site: Path) -> None:
    before, grid = in_use(site)
    west, south, east, north = grid.bounds
    x, y = (west + east) / 2, (south + north) / 2
    top = float(grid.sample(x, y)) + 3.0
    spots = [
        SpotHeight(geometry=Point(x + dx, y + dy), height_m=top)
        for dx, dy in ((-20, -20), (20, -20), (20, 20), (-20, 20))
    ]
    with Session.open(site) as session:
        session.apply(add("Measured", spots))
    told = run("ground", str(site), "--from-heights", "--cell", "1")
    assert "Heights used" in told
    after, made = in_use(site)
    assert after.id != before.id
    assert after.accuracy_m == before.accuracy_m
    assert made.sample(x, y) == pytest.approx(top, abs=0.01)
    assert made.sample(x + 80, y) == pytest.approx(float(grid.sample(x + 80, y)), abs=1e-3)
    with Session.open(site) as session:
        session.undo()
        assert next(g for g in session.plan.of(Ground) if g.in_use).id == before.id


def test_a_denser_survey_is_laid_in_and_shifted(site: Path, tmp_path: Path) -> None:
    _, grid = in_use(site)
    west, south, east, north = grid.bounds
    x0, y0 = round((west + east) / 2), round((south + north) / 2)
    rows, cols = np.mgrid[0:120, 0:120]
    z = grid.sample(x0 + 0.25 + 0.5 * cols, y0 - 0.25 - 0.5 * rows) - 4.0
    with Session.open(site, readonly=True) as session:
        crs = session.plan.site.crs
    write_grid(tmp_path / "yard.tif", Grid(z, x0, y0, 0.5), crs, unit="m")
    told = run("ground", str(site), "--lay-in", str(tmp_path / "yard.tif"))
    assert "Survey raised by" in told
    _, made = in_use(site)
    assert made.cell_m == 0.5
    spot = (x0 + 30, y0 - 30)
    assert made.sample(*spot) == pytest.approx(float(grid.sample(*spot)), abs=0.05)


def test_it_asks_for_one_or_the_other(site: Path) -> None:
    done = CliRunner().invoke(main, ["ground", str(site)])
    assert done.exit_code == 2
    assert "--from-heights or --lay-in" in done.output
