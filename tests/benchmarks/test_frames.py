"""Frames of the map: 300 of panning and zooming from cold tiles over 10 000 plants.

Targets at 1920 × 1080 on the raster engine: 95 % of frames within 16 ms, sharp again within 150 ms.
Run by hand: `pytest tests/benchmarks/test_frames.py -s`.
"""

from __future__ import annotations

import math
import time
from pathlib import Path

import numpy as np
import pytest
import rasterio
import rasterio.shutil
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QPainter, QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from rasterio.transform import Affine
from scipy.ndimage import zoom
from shapely.geometry import Point, Polygon, box

from canvas.base.grid import Grid
from canvas.desk.bench import Bench
from canvas.desk.map_picture import blank, view_of
from canvas.desk.mapview import MapView
from canvas.drawing.build import all_layers
from canvas.drawing.palette import PALETTES
from canvas.exchange.geotiff import write_grid
from canvas.paint.painter import paint_layers
from canvas.site.edits import add
from canvas.site.facts import Ground, Picture, Site
from canvas.site.records import kind
from canvas.site.session import Session
from canvas.tools.plane import along

EAST, NORTH = 614_000.0, 5_860_000.0
CROWN_M = 5.0
CROWN_PX = 12.0
COLS, ROWS = 132, 76
FRAMES = 300
FRAME_MS = 1000 / 60


def make_picture(path: Path, size: int = 4000, pixel_m: float = 0.25) -> None:
    """Write an aerial of made-up patches with grain, stored as imported pictures are."""
    rng = np.random.default_rng(3)
    rgb = np.full((3, size, size), 110.0)
    for step, strength in ((400, 40.0), (100, 25.0), (20, 14.0), (4, 8.0), (1, 3.0)):
        coarse = rng.normal(0, strength, (3, size // step + 2, size // step + 2))
        zoomed = [zoom(band, step, order=1)[:size, :size] if step > 1 else band for band in coarse]
        rgb += np.array([band[:size, :size] for band in zoomed])
    rgb = np.clip(rgb, 0, 255).astype(np.uint8)
    profile = {
        "driver": "GTiff", "width": size, "height": size, "count": 3, "dtype": "uint8",
        "crs": "EPSG:7854", "transform": Affine(pixel_m, 0, EAST - 100, 0, -pixel_m, NORTH + 700),
        "photometric": "rgb",
    }  # fmt: skip
    plain = path.with_name("plain.tif")
    with rasterio.open(plain, "w", **profile) as made:
        made.write(rgb)
    rasterio.shutil.copy(
        plain, path, driver="COG", blocksize=512, overview_resampling="AVERAGE",
        compress="JPEG", quality=90,
    )  # fmt: skip


@pytest.fixture
def bench(qtbot, tmp_path):
    rng = np.random.default_rng(7)
    pitch = CROWN_M * 14.0 / CROWN_PX
    tree = kind("tree").cls
    records = [
        tree(
            geometry=Point(EAST + col * pitch + rng.uniform(0, 1), NORTH + row * pitch),
            crown_m=CROWN_M, height_m=5.0, mature_crown_m=CROWN_M, mature_height_m=6.0,
        )
        for row in range(ROWS)
        for col in range(COLS)
    ]  # fmt: skip
    records = records[:10_000]
    wide, high = COLS * pitch, ROWS * pitch
    records.append(kind("site_boundary").cls(geometry=box(EAST, NORTH, EAST + wide, NORTH + high)))
    for k in range(40):
        middle = along((EAST + wide / 2, NORTH + high / 2), k * 9.0, 40.0 + 3 * k)
        ring = [along(middle, turn, 8.0) for turn in (0, 90, 180, 270)]
        records.append(kind("garden_bed").cls(geometry=Polygon(ring)))
    session = Session.start(tmp_path / "site", Site(name="Frames", crs="EPSG:7854"), records)
    row, col = np.mgrid[0:1000, 0:1000]
    z = 150 + 25 * np.sin(row / 120) * np.cos(col / 150) + 0.02 * col
    write_grid(tmp_path / "ground.tif", Grid(z, EAST - 100, NORTH + 800, 1.0), "EPSG:7854")
    make_picture(tmp_path / "aerial.tif")
    ground = Ground(file=session.adopt(tmp_path / "ground.tif"), cell_m=1.0, accuracy_m=0.1)
    picture = Picture(file=session.adopt(tmp_path / "aerial.tif"), pixel_m=0.25)
    session.apply(add("Bring in", [ground, picture]))
    made = Bench()
    made.open_session(session)
    yield made
    made.close()


def settle(view: MapView, seconds: float = 60.0) -> float:
    """Wait until the picture is sharp; return how long it took [ms]."""
    start = time.perf_counter()
    while not view.sharp:
        QApplication.processEvents()
        assert time.perf_counter() - start < seconds, "the map never came sharp"
        time.sleep(0.001)
    return (time.perf_counter() - start) * 1000


def drag(view: MapView, step: QPoint, at: QPoint) -> QPoint:
    spot = at + step
    QTest.mouseMove(view, spot)
    return spot


def wheel(view: MapView, notches: float) -> None:
    middle = QPointF(view.width() / 2, view.height() / 2)
    event = QWheelEvent(
        middle,
        view.mapToGlobal(middle),
        QPoint(),
        QPoint(0, round(120 * notches)),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(view, event)


def frames(view: MapView, act) -> np.ndarray:
    """Return the time of each frame [ms]: the event, what has arrived, and the painting."""
    took, painted = [], view.overlay.frames
    for number in range(FRAMES):
        start = time.perf_counter()
        act(number)
        QApplication.processEvents()
        took.append((time.perf_counter() - start) * 1000)
        rest = FRAME_MS - took[-1]
        if rest > 0:
            time.sleep(rest / 1000)
    assert view.overlay.frames - painted >= FRAMES, "a frame was not painted"
    return np.array(took)


def painted_afresh(view: MapView) -> float:
    """Return the time of a frame painted with nothing kept [ms]: the reference."""
    layers = all_layers(view.bench.study, view.bench.look, folder=view.bench.session.folder)
    took = []
    for _ in range(5):
        start = time.perf_counter()
        image = blank(view.camera, PALETTES["light"]["paper"])
        painter = QPainter(image)
        paint_layers(painter, layers, view_of(view.camera), PALETTES["light"])
        painter.end()
        took.append((time.perf_counter() - start) * 1000)
    return float(np.median(took))


def test_frames(bench, qtbot):
    view = MapView(bench)
    qtbot.addWidget(view)
    view.resize(1920, 1080)
    view.show()
    qtbot.waitUntil(lambda: bench.study is not None, timeout=60_000)
    view.look(view.camera.fitted((EAST, NORTH, EAST + 800, NORTH + 440)))
    view.zoom_by(CROWN_PX / CROWN_M / view.camera.px_m)
    settle(view)
    trees = np.array([(t.geometry.x, t.geometry.y) for t in bench.plan.of_kind("tree")])
    west, south, east, north = view.view_bounds()
    seen = (trees > (west, south)).all(axis=1) & (trees < (east, north)).all(axis=1)
    assert len(trees) == 10_000
    assert seen.all(), "every plant must be in view"

    report = {}
    view.painting.tiles.clear()
    at = [QPoint(900, 500)]
    QTest.mousePress(view, Qt.MouseButton.MiddleButton, pos=at[0])
    report["pan"] = frames(
        view,
        lambda n: at.__setitem__(
            0, drag(view, QPoint(round(9 * math.cos(n / 20)), round(7 * math.sin(n / 20))), at[0])
        ),
    )
    QTest.mouseRelease(view, Qt.MouseButton.MiddleButton, pos=at[0])
    pan_sharp = settle(view)
    view.painting.tiles.clear()
    report["zoom"] = frames(view, lambda n: wheel(view, 0.25 if n // 15 % 2 else -0.25))
    zoom_sharp = settle(view)
    again = []
    for notches in (1.0, -1.0, 0.5, -0.5, 2.0, -2.0):
        wheel(view, notches)
        again.append(settle(view))
    print(f"a frame painted afresh, for reference: {painted_afresh(view):.0f} ms")
    for name, took in report.items():
        print(
            f"{name}: median {np.median(took):.1f}, 95 % {np.percentile(took, 95):.1f}, "
            f"worst {took.max():.1f} ms"
        )
    print(f"sharp after pan {pan_sharp:.0f}, after zoom {zoom_sharp:.0f} ms, cold tiles")
    print("sharp after one turn of the wheel:", ", ".join(f"{ms:.0f}" for ms in again), "ms")
    for took in report.values():
        assert np.percentile(took, 95) < 16.0
    assert max(pan_sharp, zoom_sharp, *again) < 150.0
