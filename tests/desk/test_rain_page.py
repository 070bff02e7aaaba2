"""Rain on the land by mouse and keyboard: run, watch, go to, stop, find it stale, delete."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest
from desk.hand import SOUTH, WEST, Hand
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from shapely.geometry import LineString, Point, box

from canvas.base.grid import Grid
from canvas.desk.window import DeskWindow
from canvas.exchange import bring
from canvas.exchange.geotiff import write_grid
from canvas.site.edits import add, put
from canvas.site.facts import Ground, Site
from canvas.site.records import changed, kind
from canvas.site.session import Session
from canvas.site.storms import DesignStorm
from canvas.study.rains import keep

pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")
SIDE = 60


@pytest.fixture
def valley(tmp_path: Path) -> Path:
    """A site on a small V-shaped valley that falls southward, with gauges and a short storm."""
    base = Grid(np.zeros((SIDE, SIDE)), WEST, SOUTH + SIDE, 1.0)
    x, y = np.meshgrid(base.x_m() - WEST, base.y_m() - SOUTH)
    path = tmp_path / "valley.tif"
    z = 100.0 + 0.08 * y + 0.15 * np.abs(x - SIDE / 2)
    write_grid(path, base.like(z), "EPSG:7854", unit="m")
    folder = tmp_path / "site"
    line = LineString([(WEST + 2, SOUTH + 8), (WEST + 58, SOUTH + 8)])
    dyke = [(12, 34), (20, 28), (30, 26), (40, 28), (48, 34)]
    records = [
        kind("site_boundary").cls(geometry=box(WEST, SOUTH, WEST + SIDE, SOUTH + SIDE)),
        kind("gauge").cls(id="staff", name="Staff", geometry=Point(WEST + 30.5, SOUTH + 10.5)),
        kind("gauge_line").cls(id="out", name="Outflow", geometry=line),
        kind("swale").cls(id="swale", name="Low swale", depth_m=0.3,
                          geometry=LineString([(WEST + x, SOUTH + y) for x, y in dyke])),
        DesignStorm(depth_mm=60.0, hours=0.5, pattern="uniform"),
    ]  # fmt: skip
    with Session.start(folder, Site(name="Test valley", crs="EPSG:7854")) as session:
        session.apply(add("Begin", records))
        bring.take_ground(session, path, Ground(name="Valley", accuracy_m=0.1, datum="AHD"))
    return folder


@pytest.fixture
def rained(desk: DeskWindow, hand: Hand, valley: Path):
    """The page of a site whose design storm has been run by a click."""
    assert desk.open_folder(valley)
    hand.settle()
    page = hand.page("rain")
    go = hand.named("Run the storm", page)
    hand.qtbot.waitUntil(go.isEnabled, timeout=20_000)
    assert "triangular" not in hand.words(page)
    hand.click(go)
    hand.qtbot.waitUntil(lambda: page.which.currentData() not in ("", None), timeout=60_000)
    hand.settle()
    return page


def pixels(desk: DeskWindow) -> np.ndarray:
    image = desk.map.grab().toImage().convertToFormat(desk.map.grab().toImage().Format.Format_RGB32)
    bytes_ = np.frombuffer(image.constBits(), np.uint8)
    return bytes_.reshape(image.height(), -1)[:, : image.width() * 4].copy()


def test_a_storm_is_run_watched_and_read(rained, desk, hand, valley):
    page = rained
    assert len(keep.shelf(valley).runs) == 1
    run = keep.shelf(valley).runs[0]
    # The books close, in words.
    rows = {page.books.item(r, 0).text(): page.books.item(r, 1).text() for r in range(7)}
    assert rows["Rain"].startswith("216")
    assert rows["Not accounted for"].startswith("0.0")
    assert "not a flood study" in page.caution.text()
    assert page.swatches.isVisible()
    # The slider moves the water by the keyboard, in little of this thread's own time.
    hand.reach(page.slider)
    before = pixels(desk)
    spent = []
    for _ in range(40):
        start = time.thread_time()
        QTest.keyClick(page.slider, Qt.Key.Key_Right)
        desk.veil.repaint()
        spent.append(time.thread_time() - start)
    assert page.moment == 40
    assert desk.veil.isVisible()
    assert (pixels(desk) != before).any()
    assert float(np.median(spent)) < 0.05
    assert page.time.text().startswith("1:0")
    # Space plays and pauses.
    QTest.keyClick(page.slider, Qt.Key.Key_Space)
    assert page.play.text() == "Pause"
    hand.qtbot.waitUntil(lambda: page.moment > 41, timeout=5000)
    QTest.keyClick(page.slider, Qt.Key.Key_Space)
    assert page.play.text() == "Play"
    # Speed has its own colours, units and legend.
    depth = page.swatches.accessibleName()
    hand.choose(page.shade, "Speed")
    assert "m/s" in page.swatches.accessibleName()
    assert "m/s" not in depth
    # The gauges' records.
    assert [page.gauge.itemText(i) for i in range(3)] == ["Staff", "Outflow", "Flow off the land"]
    assert "greatest" in page.chart.accessibleDescription()
    # What was first overtopped is listed, marked on the map, and gone to.
    assert desk.veil.marks == len(run.told["overtopped"]) >= 1
    assert "Low swale" in page.places.item(0, 1).text()
    hand.row(page.places, 0)
    first = run.told["overtopped"][0]
    middle = desk.map.screen_of(first["x_m"], first["y_m"])
    assert (middle - desk.map.rect().center()).manhattanLength() < 4
    # Closed, the page takes its water along; the gauge's card keeps what it saw.
    hand.act("view.drawer")
    assert not desk.veil.isVisible()
    assert desk.bench.study is not None
    assert any(fact.key == "deepest_m" for fact in desk.bench.study.facts("staff"))


def test_a_run_goes_stale_and_can_be_deleted(rained, desk, hand, valley):
    page = rained
    hand.qtbot.waitUntil(lambda: "as the plan is now" in page._state.text(), timeout=20_000)
    storm = desk.bench.plan.of(DesignStorm)[0]
    desk.bench.apply(put("More rain", [(storm, changed(storm, depth_mm=90.0))]))
    hand.qtbot.waitUntil(lambda: "STALE: the storm" in page._state.text(), timeout=20_000)
    hand.act("edit.undo")
    hand.qtbot.waitUntil(lambda: "as the plan is now" in page._state.text(), timeout=20_000)
    hand.click(hand.named("Greatest", page))
    assert desk.bench.look.shading == "rain_depth"
    hand.settle()
    assert "Depth of water" in desk.key.title.text()
    hand.click(hand.named("Delete the run", desk))
    hand.settle()
    assert keep.shelf(valley).runs == ()
    assert not desk.veil.isVisible()
    assert "No storm has been run" in page.which.currentText()


def test_a_run_can_be_cancelled_and_leaves_nothing(desk, hand, valley):
    assert desk.open_folder(valley)
    hand.settle()
    page = hand.page("rain")
    start = page.start
    hand.choose(start.cells, "0.5")
    hand.choose(start.rain, "Another")
    hand.type(start.depth_box, "400")
    hand.type(start.hours_box, "24")
    go = hand.named("Run the storm", page)
    hand.qtbot.waitUntil(go.isEnabled, timeout=20_000)
    hand.click(go)
    hand.qtbot.waitUntil(lambda: desk.rain.fraction > 0.0, timeout=30_000)
    assert start.bar.isVisible()
    hand.click(hand.named("Cancel", page))
    hand.qtbot.waitUntil(lambda: not desk.rain.running, timeout=20_000)
    hand.settle()
    assert list((valley / keep.FOLDER).iterdir()) == []
    assert go.isVisible()


def test_without_rain_the_page_says_what_to_do(opened, hand):
    page = hand.page("rain")
    hand.qtbot.waitUntil(lambda: "rain" in page.start.words.text(), timeout=20_000)
    assert not page.start.go.isEnabled()
    assert "rain table" in page.start.words.text()


def test_shading_by_a_storm_never_run_is_said(opened, hand, qtbot):
    with qtbot.waitSignal(opened.bench.told, timeout=5000) as heard:
        hand.act("shade.rain_depth")
    assert heard.args == ["warning", "No storm has been run yet: see the page “Rain on the land”"]
    hand.settle()
    assert not opened.key.title.isVisible()
