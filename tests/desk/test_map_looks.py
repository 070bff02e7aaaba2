"""Where the map looks, and what it paints: zoom, pan, fit, tiles, themes, drops."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import rasterio
from desk.hand import SOUTH, WEST
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QColor, QDragEnterEvent, QDropEvent, QImage, QPainter, QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from rasterio.transform import Affine

from canvas.desk.bench import Bench
from canvas.desk.map_camera import Camera, holds
from canvas.desk.map_keys import nudge_m
from canvas.desk.map_tiles import TILE_PX, Place, Readers, Sheet, Tiles, level_for, places_in
from canvas.desk.mapview import MapView
from canvas.drawing.palette import PALETTES
from canvas.exchange.geotiff import picture_frame
from canvas.site.edits import add
from canvas.site.facts import Picture, Site
from canvas.site.session import Session
from canvas.study.study import Study

# The screenless platform says so of windows.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")
PIXEL_M = 0.25
SIDE = 1600


@pytest.fixture
def aerial(tmp_path: Path) -> Path:
    """A picture red in the west half, blue in the east, with overviews. Invented."""
    rgb = np.zeros((3, SIDE, SIDE), np.uint8)
    rgb[0, :, : SIDE // 2] = 200
    rgb[2, :, SIDE // 2 :] = 200
    path = tmp_path / "aerial.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=SIDE, height=SIDE, count=3, dtype="uint8",
        crs="EPSG:7854", transform=Affine(PIXEL_M, 0, WEST, 0, -PIXEL_M, SOUTH + SIDE * PIXEL_M),
        tiled=True, compress="deflate", photometric="rgb",
    ) as made:  # fmt: skip
        made.write(rgb)
        made.build_overviews([2, 4])
    return path


@pytest.fixture
def view(qtbot) -> Iterator[MapView]:
    bench = Bench()
    made = MapView(bench)
    qtbot.addWidget(made)
    made.resize(1000, 800)
    made.show()
    qtbot.waitExposed(made)
    yield made
    made.close_canvas()
    bench.close()


def settle(qtbot, view: MapView) -> None:
    qtbot.waitUntil(
        lambda: (
            not view.bench.stale and not view.bench.jobs.busy and view.sharp and view.painting.idle
        ),
        timeout=30_000,
    )


@pytest.fixture
def alone(qtbot, view: MapView, site: Path) -> MapView:
    """The map by itself, with the test site on it."""
    view.bench.open_session(Session.open(site))
    settle(qtbot, view)
    return view


def wheel(view: MapView, spot: QPointF, notches: int) -> None:
    event = QWheelEvent(
        spot,
        view.mapToGlobal(spot),
        QPoint(),
        QPoint(0, 120 * notches),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(view, event)


def colour_at(view: MapView, x: float, y: float) -> QColor:
    spot = view.screen_of(WEST + x, SOUTH + y).toPoint()
    return view.grab().toImage().pixelColor(spot)


def test_opening_fits_the_boundary(alone):
    assert holds(alone.view_bounds(), (WEST, SOUTH, WEST + 200, SOUTH + 200))
    assert alone.screen_of(WEST + 100, SOUTH + 100).toPoint() == QPoint(500, 400)


def test_the_wheel_zooms_to_the_pointer(alone, qtbot):
    spot = QPointF(321, 234)
    place, scale = alone.map_of(spot), alone.scale
    wheel(alone, spot, 4)
    assert alone.scale == pytest.approx(scale / 2)
    assert alone.map_of(spot) == pytest.approx(place, abs=1e-6)
    wheel(alone, spot, -8)
    assert alone.scale == pytest.approx(scale * 2)
    assert alone.map_of(spot) == pytest.approx(place, abs=1e-6)
    settle(qtbot, alone)


@pytest.mark.parametrize("way", ["middle", "space"])
def test_panning_carries_the_map_along(alone, way):
    place = alone.map_of(QPointF(500, 400))
    button = Qt.MouseButton.MiddleButton if way == "middle" else Qt.MouseButton.LeftButton
    if way == "space":
        QTest.keyPress(alone, Qt.Key.Key_Space)
    QTest.mousePress(alone, button, pos=QPoint(500, 400))
    QTest.mouseMove(alone, QPoint(560, 430))
    QTest.mouseMove(alone, QPoint(620, 460))
    QTest.mouseRelease(alone, button, pos=QPoint(620, 460))
    if way == "space":
        QTest.keyRelease(alone, Qt.Key.Key_Space)
    assert alone.map_of(QPointF(620, 460)) == pytest.approx(place)
    assert alone.bench.selection == frozenset()


def test_keys_pan_and_zoom(alone):
    x = alone.camera.x_m
    QTest.keyClick(alone, Qt.Key.Key_Right)
    assert alone.camera.x_m > x
    scale = alone.scale
    QTest.keyClick(alone, Qt.Key.Key_Plus)
    assert alone.scale < scale
    QTest.keyClick(alone, Qt.Key.Key_Minus)
    assert alone.scale == pytest.approx(scale)
    QTest.keyClick(alone, Qt.Key.Key_Home)
    assert alone.camera.x_m == pytest.approx(WEST + 100)


def test_a_place_can_be_fitted(opened, hand):
    hand.pick((96, 94))
    hand.act("view.fit_selection")
    west, south, east, north = opened.map.view_bounds()
    assert holds((west, south, east, north), (WEST + 90, SOUTH + 90, WEST + 102, SOUTH + 98))
    # The house is 12 m wide; 88 m of land are shown around its middle.
    assert (west + east) / 2 == pytest.approx(WEST + 96, abs=0.1)
    assert east - west < 250
    hand.act("view.fit")
    assert holds(opened.map.view_bounds(), (WEST, SOUTH, WEST + 200, SOUTH + 200))


def test_the_scale_is_that_of_the_screen():
    """1:500 at 96 pixels to the inch: 1 m is 2 mm on the screen, 2 / 25.4 · 96 pixels."""
    camera = Camera(px_m=2 / 25.4 * 96, dpi=96)
    assert camera.scale == pytest.approx(500.0)


def test_camera_there_and_back():
    camera = Camera(WEST, SOUTH, 3.7, 1000, 800)
    spot = camera.screen_of(WEST + 12.3, SOUTH - 4.5)
    assert camera.map_of(spot) == pytest.approx((WEST + 12.3, SOUTH - 4.5))
    moved = camera.transform().map(QPointF(WEST + 12.3, SOUTH - 4.5))
    assert (moved.x(), moved.y()) == pytest.approx((spot.x(), spot.y()))
    assert camera.zoomed(1e9, QPointF()).px_m == 2000.0
    assert camera.fitted((WEST, SOUTH, WEST, SOUTH)).px_m < 100


def test_an_edit_shows_at_once_and_then_in_the_picture(opened, hand, qtbot):
    hand.pick((96, 94))
    hand.act("view.fit_selection")
    settle(qtbot, opened.map)
    revision = opened.bench.session.revision
    hand.key(Qt.Key.Key_Delete)
    assert opened.bench.session.revision == revision + 1
    settle(qtbot, opened.map)
    assert not opened.map.keeper.fresh
    brick = QColor(PALETTES["light"]["brick_fill"])
    assert colour_at(opened.map, 96.2, 93.1) != brick


def test_themes_change_the_paper(opened, hand, qtbot):
    hand.ask(f"{WEST + 405} {SOUTH + 405}")
    settle(qtbot, opened.map)
    for theme in ("dark", "light"):
        hand.act("view.theme")
        settle(qtbot, opened.map)
        assert opened.bench.theme == theme
        assert colour_at(opened.map, 405, 405) == QColor(PALETTES[theme]["paper"])


def test_a_background_picture_comes_tile_by_tile(view, qtbot, tmp_path, aerial):
    session = Session.start(tmp_path / "site", Site(name="Aerial", crs="EPSG:7854"))
    session.apply(add("Bring in", [Picture(file=session.adopt(aerial), pixel_m=PIXEL_M)]))
    view.bench.open_session(session)
    settle(qtbot, view)
    # With nothing drawn, the whole picture is shown.
    assert holds(view.view_bounds(), (WEST, SOUTH, WEST + 400, SOUTH + 400))
    west, east = colour_at(view, 100, 200), colour_at(view, 300, 200)
    assert (west.red(), west.blue()) == (200, 0)
    assert (east.red(), east.blue()) == (0, 200)
    for _ in range(14):
        QTest.keyClick(view, Qt.Key.Key_Plus)
    assert view.view_bounds()[0] > WEST + 150
    settle(qtbot, view)
    assert colour_at(view, 199, 200).red() == 200
    assert colour_at(view, 201, 200).blue() == 200


def test_tiles_lie_on_the_pictures_own_blocks(aerial):
    sheet = Sheet(str(aerial), *picture_frame(aerial))
    assert sheet.pixel_m == PIXEL_M
    camera = Camera(WEST + 200, SOUTH + 200, 4.0, 4000, 4000)
    assert level_for(camera, PIXEL_M) == 0
    assert level_for(Camera(px_m=2.0), PIXEL_M) == 1
    assert level_for(Camera(px_m=2.0, ratio=2.0), PIXEL_M) == 0
    assert level_for(Camera(px_m=100.0), PIXEL_M) == 0
    places = places_in(sheet, 0, camera.bounds())
    assert len(places) == 16
    first = Place(sheet, 0, 0, 0)
    assert first.bounds[0] == WEST
    assert first.bounds[3] == SOUTH + SIDE * PIXEL_M
    assert first.above() == Place(sheet, 1, 0, 0)
    assert places_in(sheet, 0, (0, 0, 1, 1)) == []


def test_tiles_are_thrown_out_when_memory_is_short(aerial, qtbot):
    arrived = []
    tiles = Tiles(lambda: arrived.append(1), most_bytes=3 * TILE_PX * TILE_PX * 4)
    camera = Camera(WEST + 200, SOUTH + 200, 4.0, 1600, 1600)
    tiles.want([str(aerial)], camera, camera.bounds())
    qtbot.waitUntil(lambda: not tiles.busy, timeout=10_000)
    assert arrived
    assert tiles.bytes <= 3 * TILE_PX * TILE_PX * 4
    tiles.close()


def test_a_coarser_tile_stands_in(aerial, qtbot):
    tiles = Tiles(lambda: None)
    far = Camera(WEST + 200, SOUTH + 200, 1.0, 400, 400)
    tiles.want([str(aerial)], far, far.bounds())
    qtbot.waitUntil(lambda: tiles.has_all([str(aerial)], far, far.bounds()), timeout=10_000)
    near = Camera(WEST + 200, SOUTH + 300, 4.0, 400, 400)
    assert not tiles.has_all([str(aerial)], near, near.bounds())
    image = QImage(400, 400, QImage.Format.Format_RGB32)
    image.fill(0)
    painter = QPainter(image)
    tiles.paint(painter, str(aerial), near)
    painter.end()
    assert image.pixelColor(20, 200).red() > 150
    assert image.pixelColor(380, 200).blue() > 150
    tiles.close()


def test_a_missing_picture_is_left_out(tmp_path):
    readers = Readers()
    sheet = Sheet(str(tmp_path / "gone.tif"), (0, 0, 10, 10), 1.0)
    assert readers.read(Place(sheet, 0, 0, 0)) is None
    tiles = Tiles(lambda: None)
    camera = Camera()
    assert tiles.has_all([str(tmp_path / "gone.tif")], camera, camera.bounds())
    tiles.close()


def test_files_let_fall_are_handed_on(alone, tmp_path):
    dropped: list[Path] = []
    alone.files_dropped.connect(dropped.extend)
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(tmp_path / "a.gpx"))])
    enter = QDragEnterEvent(
        QPoint(10, 10),
        Qt.DropAction.CopyAction,
        data,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )
    QApplication.sendEvent(alone, enter)
    assert enter.isAccepted()
    drop = QDropEvent(
        QPointF(10, 10),
        Qt.DropAction.CopyAction,
        data,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )
    QApplication.sendEvent(alone, drop)
    assert dropped == [tmp_path / "a.gpx"]


@pytest.mark.parametrize(
    ("pixel_m", "step"), [(0.05, 0.1), (0.2, 0.5), (0.5, 1.0), (1.0, 2.0), (0.001, 0.002)]
)
def test_nudges_are_round_lengths(pixel_m, step):
    assert nudge_m(pixel_m) == pytest.approx(step)


def test_the_map_names_itself(view):
    assert view.accessibleName() == "Map"
    assert "arrow keys" in view.accessibleDescription()
    assert view.focusPolicy() == Qt.FocusPolicy.StrongFocus


def test_reading_ahead_makes_way_for_what_is_wanted(aerial, qtbot):
    tiles = Tiles(lambda: None)
    files = [str(aerial)]
    far = Camera(WEST + 200, SOUTH + 200, 1.0, 400, 400)
    near = Camera(WEST + 200, SOUTH + 200, 4.0, 400, 400)
    tiles.foresee(files, replace(far, px_m=2.0), far.bounds())
    assert not tiles.busy, "what is only foreseen keeps nobody waiting"
    qtbot.waitUntil(lambda: tiles.has_all(files, near, near.bounds()), timeout=10_000)
    qtbot.waitUntil(lambda: tiles.has_all(files, far, far.bounds()), timeout=10_000)
    tiles.clear()
    tiles.foresee(files, replace(far, px_m=2.0), far.bounds())
    tiles.want(files, near, near.bounds())
    qtbot.waitUntil(lambda: tiles.has_all(files, near, near.bounds()), timeout=10_000)
    tiles.close()


def test_the_map_shows_a_site_before_it_is_checked(opened, hand, qtbot, monkeypatch):
    """A plan takes seconds to check at first; its picture is not to wait for that."""
    go = threading.Event()
    checked = Study.findings
    monkeypatch.setattr(Study, "findings", lambda self: go.wait(20) and checked(self))
    bench, view = opened.bench, opened.map
    years = bench.look.year
    slider = hand.named("Years after planting", hand.page("layers"))
    hand.reach(slider)
    QTest.keyClick(slider, Qt.Key.Key_Right)
    assert bench.look.year == years + 1
    try:
        qtbot.waitUntil(
            lambda: view._still is not None and view._still.layout.study is bench.drawn
            and bench.drawn is not bench.study and view.sharp,
            timeout=10_000,
        )  # fmt: skip
        assert bench.drawn.year == bench.look.year
        assert bench.drawn.found is None
    finally:
        go.set()
    qtbot.waitUntil(lambda: bench.study is bench.drawn, timeout=10_000)
    assert bench.study.found is not None
