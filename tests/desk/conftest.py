"""Shared by the tests of the desk: a window on a bench, driven by real mouse and keyboard."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from desk.hand import SOUTH, WEST, Hand
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


@pytest.fixture
def land(desk: DeskWindow, hand: Hand, tmp_path: Path) -> DeskWindow:
    """The desk with a site begun from nothing by mouse and keyboard: a square of 200 m, no more."""
    hand.begin(tmp_path / "land")
    hand.type_boundary()
    hand.send_guide_away()
    return desk


@pytest.fixture
def slope(land, hand, hill):
    """A site from nothing whose ground is a plane rising one in five to the north."""
    hand.bring_ground(hill)
    hand.act("view.fit")
    hand.settle()
    return land


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
