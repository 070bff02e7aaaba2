"""The sheet of a storm run over the land: its water, its storm, its cautions, whether it holds."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from pyproj import CRS
from shapely import LineString, Point, box

from canvas.base.errors import BadData
from canvas.base.grid import Grid
from canvas.drawing.details.registry import details
from canvas.drawing.entries import Areas, Image, Lines, Text
from canvas.sheets.prepared import SheetOptions
from canvas.sheets.sorts import make_sheet
from canvas.site.elements.gauges import Gauge, GaugeLine
from canvas.site.elements.land import SiteBoundary
from canvas.site.facts import Site
from canvas.site.plan import Plan
from canvas.site.records import changed
from canvas.site.storms import DesignStorm
from canvas.study.land import Land
from canvas.study.rains.run import run
from canvas.study.rains.setup import RainChoice
from canvas.study.study import Study
from made import EAST, NORTH

SIDE = 50


@pytest.fixture(scope="module")
def study(tmp_path_factory) -> Study:
    folder: Path = tmp_path_factory.mktemp("rain")
    base = Grid(np.zeros((SIDE, SIDE)), EAST, NORTH + SIDE, 1.0)
    x, y = np.meshgrid(base.x_m() - EAST, base.y_m() - NORTH)
    land = Land(CRS("EPSG:7854"), base.like(90 + 0.1 * y + 0.2 * np.abs(x - 25)), None, None,
                folder=folder)  # fmt: skip
    plan = Plan([
        Site(name="Valley", crs="EPSG:7854"),
        SiteBoundary(geometry=box(EAST, NORTH, EAST + SIDE, NORTH + SIDE)),
        DesignStorm(depth_mm=50.0, hours=0.5, pattern="uniform"),
        Gauge(id="staff", name="Staff", geometry=Point(EAST + 25.5, NORTH + 5.5)),
        GaugeLine(id="out", geometry=LineString([(EAST + 1, NORTH + 5), (EAST + 49, NORTH + 5)])),
    ])  # fmt: skip
    made = Study(plan, land)
    with pytest.raises(BadData, match="no storm has been run"):
        make_sheet("rain", made, SheetOptions())
    assert details(plan.element("staff"), made) == []
    run(made, folder, RainChoice(after_h=0.5, moments=3))
    return made


def told(pages) -> str:
    return " ".join(e.words for page in pages for e in page.furniture if isinstance(e, Text))


def test_the_sheet_shows_the_water_and_says_what_it_is(study: Study) -> None:
    pages = make_sheet("rain", study, SheetOptions(paper="A3", title="Rain on the land"))
    layers = [layer for frame in pages[0].frames for layer in frame.layers]
    shading = next(layer for layer in layers if layer.key == "shading")
    assert any(isinstance(entry, Image) for entry in shading.entries)
    words = told(pages)
    for said in ("Depth of water", "50.0", "not a flood study", "licensed practice", "Rain "):
        assert said in words
    assert "STALE" not in words


def test_a_stale_run_is_printed_as_stale(study: Study) -> None:
    storm = study.plan.of(DesignStorm)[0]
    later = study.moved(study.plan.with_(changed(storm, depth_mm=70.0)))
    words = told(make_sheet("rain", later, SheetOptions(paper="A3")))
    assert "STALE: the storm has changed since" in words


@pytest.mark.parametrize(("ident", "axis"), [("staff", "Depth"), ("out", "Flow")])
def test_a_gauge_has_its_record_as_a_detail(study: Study, ident: str, axis: str) -> None:
    (found,) = details(study.plan.element(ident), study)
    assert "a model" in found.title
    texts = " ".join(e.words for e in found.entries if isinstance(e, Text))
    assert axis in texts
    assert any(isinstance(e, Lines | Areas) for e in found.entries)
    for entry in found.entries:
        if isinstance(entry, Text):
            assert -1 <= entry.x <= found.width_mm + 1
            assert -1 <= entry.y <= found.height_mm + 1
