"""Shared by the tests of the desk: a window on a bench, driven by real mouse and keyboard."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget
from shapely.geometry import LineString, Point, Polygon

from canvas.base.grid import Grid
from canvas.desk.app import make_window
from canvas.desk.settings import Settings
from canvas.desk.window import DeskWindow
from canvas.exchange import bring
from canvas.exchange.geotiff import write_grid
from canvas.site.edits import add
from canvas.site.facts import Ground, Site
from canvas.site.records import Element, kind
from canvas.site.session import Session

WEST, SOUTH = 560_000.0, 5_850_000.0


class Hand:
    """Clicks and types on visible widgets only."""

    def __init__(self, qtbot, window: DeskWindow) -> None:
        self.qtbot = qtbot
        self.window = window

    def settle(self) -> None:
        """Wait until the desk has answered everything asked of it."""
        bench = self.window.bench
        QApplication.processEvents()
        self.qtbot.waitUntil(
            lambda: not bench.jobs.busy and (bench.session is None or not bench.stale),
            timeout=30_000,
        )

    def click(self, widget: QWidget, spot: QPoint | None = None) -> None:
        """Click a widget, in its middle unless told, once it has been laid out."""
        QApplication.processEvents()
        assert widget.isVisible(), f"{widget.accessibleName() or widget} is not to be seen"
        assert widget.isEnabled(), f"{widget.accessibleName() or widget} is off"
        QTest.mouseClick(
            widget,
            Qt.MouseButton.LeftButton,
            pos=spot if spot is not None else widget.rect().center(),
        )

    def type(self, widget: QWidget, words: str) -> None:
        """Click into a field, empty it and type."""
        self.click(widget)
        QTest.keyClick(widget, Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
        QTest.keyClick(widget, Qt.Key.Key_Delete)
        QTest.keyClicks(widget, words)

    def keys(self, widget: QWidget, *sequence: str) -> None:
        """Press key combinations such as "Ctrl+D", one after the other."""
        QApplication.processEvents()
        self.qtbot.waitUntil(widget.window().isActiveWindow, timeout=3000)
        for words in sequence:
            QTest.keySequence(widget, words)

    def named(self, words: str, inside: QWidget | None = None) -> QWidget:
        """Return the one visible widget with an accessible name, once it is there."""
        root = inside if inside is not None else self.window

        def found() -> list[QWidget]:
            every = root.findChildren(QWidget)
            return [w for w in every if w.accessibleName() == words and w.isVisible()]

        def one() -> None:
            assert len(found()) == 1, f"{len(found())} visible widgets are called “{words}”"

        self.qtbot.waitUntil(one, timeout=3000)
        return found()[0]

    def dialog(self) -> QWidget:
        """Return the dialog that is open."""
        self.qtbot.waitUntil(lambda: QApplication.activeModalWidget() is not None, timeout=5000)
        found = QApplication.activeModalWidget()
        assert found is not None
        return found


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return Settings(tmp_path / "settings" / "desk.ini")


@pytest.fixture
def desk(qtbot, settings: Settings) -> Iterator[DeskWindow]:
    window = make_window(settings)
    qtbot.addWidget(window)
    window.resize(1280, 800)
    window.show()
    qtbot.waitExposed(window)
    yield window
    window.close()


@pytest.fixture
def hand(qtbot, desk: DeskWindow) -> Hand:
    return Hand(qtbot, desk)


def made(key: str, geometry, **values) -> Element:
    return kind(key).cls(geometry=geometry, **values)


def spot(x: float, y: float) -> tuple[float, float]:
    return WEST + x, SOUTH + y


@pytest.fixture
def hill(tmp_path: Path) -> Path:
    """Heights of a plane that rises one in five to the north, 1 m cells, 300 m square."""
    y = np.arange(300)[::-1] + 0.5
    z = 100.0 + 0.2 * np.repeat(y[:, None], 300, axis=1)
    path = tmp_path / "hill.tif"
    write_grid(path, Grid(z, WEST - 50, SOUTH + 250, 1.0), "EPSG:7854", unit="m")
    return path


@pytest.fixture
def site(tmp_path: Path, hill: Path) -> Path:
    """A site with a ground, a boundary, a house, a well too near a septic tank, and a track."""
    folder = tmp_path / "site"
    with Session.start(folder, Site(name="Test hill", crs="EPSG:7854")) as session:
        ring = [spot(*c) for c in ((0, 0), (200, 0), (200, 200), (0, 200))]
        house = [spot(*c) for c in ((90, 90), (102, 90), (102, 98), (90, 98))]
        session.apply(
            add(
                "Begin",
                [
                    made("site_boundary", Polygon(ring), id="boundary", name="Boundary"),
                    made("building", Polygon(house), id="house", name="House"),
                    made("well", Point(spot(120, 120)), id="well", name="Well"),
                    made("septic_tank", Point(spot(126, 120)), id="septic", name="Septic"),
                    made("track", LineString([spot(20, 20), spot(20, 120)]), id="drive",
                         name="Drive"),
                ],
            )
        )  # fmt: skip
        bring.take_ground(session, hill, Ground(name="Hill", accuracy_m=0.1, datum="AHD"))
    return folder


@pytest.fixture
def opened(desk: DeskWindow, hand: Hand, site: Path) -> DeskWindow:
    """The desk with the site on it, everything answered."""
    assert desk.open_folder(site)
    hand.settle()
    return desk


Maker = Callable[..., Element]
