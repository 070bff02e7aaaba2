"""A dam by hand from an empty site: drawn, its crest typed, dragged, its card read, undone."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from desk.hand import SOUTH, WEST
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from canvas.base.grid import Grid
from canvas.exchange.geotiff import write_grid

pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")
KEY = Qt.Key


def plain(words: str) -> str:
    return words.replace("\xa0", " ").replace("\u202f", "")


def fact(desk, ident: str, key: str) -> object:
    return next(f.value for f in desk.bench.study.facts(ident) if f.key == key)


@pytest.fixture
def hollow(land, hand, tmp_path: Path):
    """A site from nothing whose ground is a valley down its middle, falling south one in twenty."""
    x = np.arange(300) + 0.5 - 150
    y = np.arange(300)[::-1] + 0.5 - 150
    z = 100 + 0.2 * abs(x)[None, :] + 0.05 * y[:, None]
    path = tmp_path / "valley.tif"
    write_grid(path, Grid(z, WEST - 50, SOUTH + 250, 1.0), "EPSG:7854", unit="m")
    hand.bring_ground(path)
    hand.act("view.fit")
    hand.settle()
    return land


def test_a_dam_from_an_empty_site(hollow, hand):
    """On z = 100 + 0.2 |x| + 0.05 y with the dam at y = 0: lowest ground 100, to half a cell."""
    hand.act("draw.dam")
    hand.put(50, 100)
    hand.say("high 4")
    assert "holds 2000" in plain(hand.words(hollow.prompt))
    hand.put_pointer(150, 100)

    def told() -> None:
        words = plain(" ".join(hollow.map.previews.latest.told))
        assert "stays behind the dam" in words
        assert "Holds when full" in words
        assert "Crest 104." in words

    hand.qtbot.waitUntil(told, timeout=10_000)
    # Nothing is in the plan yet.
    assert not hollow.bench.plan.of_kind("dam")
    hand.put(150, 100)
    hand.key(KEY.Key_Return)
    hand.settle()
    hand.key(KEY.Key_Escape)
    (dam,) = hollow.bench.plan.of_kind("dam")
    assert dam.rise_m == 4.0
    assert fact(hollow, dam.id, "crest_m") == pytest.approx(104.0, abs=0.15)
    assert fact(hollow, dam.id, "holds_m3") == pytest.approx(618, rel=0.15)

    hand.pick((100, 100))
    assert hollow.bench.selection == {dam.id}
    told_on_card = plain(hand.words(hollow.card))
    for part in ("Crest, settled", "Holds when full", "Earth placed", "Freeboard", "Engineer"):
        assert part in told_on_card, part


def test_a_dams_end_is_dragged_its_crest_typed_and_all_undone(hollow, hand):
    dam = hand.draw("dam", (60, 100), (140, 100))
    first = fact(hollow, dam, "holds_m3")
    hand.pick((100, 100))
    hand.act("tool.reshape")
    assert "high 3" in plain(hand.words(hollow.prompt))
    # The crest is typed while no corner is held.
    hand.say("crest 104.5")
    hand.settle()
    item = hollow.bench.plan.element(dam)
    assert item.crest_by == "level"
    assert item.level_m == pytest.approx(104.5)
    assert fact(hollow, dam, "crest_m") == pytest.approx(104.5)
    assert fact(hollow, dam, "holds_m3") > first

    # Dragged up the valley, the crest keeps its level: less lies below it.
    place, left = hollow.map, Qt.MouseButton.LeftButton
    before = fact(hollow, dam, "holds_m3")
    start, end = hand.at(140, 100), hand.at(140, 120)
    QTest.mouseMove(place, start)
    QTest.mousePress(place, left, Qt.KeyboardModifier.AltModifier, start)
    for share in (0.3, 0.6, 1.0):
        QTest.mouseMove(place, start + QPoint(0, round((end - start).y() * share)))
        QApplication.processEvents()

    def told() -> None:
        words = plain(" ".join(place.previews.latest.told))
        assert "Holds when full" in words
        figure = float(words.split("Holds when full ")[1].split(" m")[0])
        assert figure < before

    hand.qtbot.waitUntil(told, timeout=10_000)
    QTest.mouseRelease(place, left, Qt.KeyboardModifier.AltModifier, end)
    hand.settle()
    assert fact(hollow, dam, "holds_m3") < before
    hand.key(KEY.Key_Escape, KEY.Key_Escape)
    hand.act("edit.undo")
    hand.act("edit.undo")
    hand.settle()
    assert fact(hollow, dam, "holds_m3") == pytest.approx(first)
    hand.act("edit.undo")
    hand.settle()
    assert not hollow.bench.plan.of_kind("dam")


def test_a_pond_is_dug_and_a_pit_speaks_for_it(hollow, hand):
    pit = hand.draw("test_pit", (100, 150))
    pond = hand.draw("dug_pond", (92, 110), (108, 110), (108, 130), (92, 130))
    assert fact(hollow, pond, "cut_m3") > 0
    assert fact(hollow, pond, "holds_m3") > 0
    assert "no crumb test" in str(fact(hollow, pond, "pond_soil"))
    hand.pick((100, 150))
    assert hollow.bench.selection == {pit}
    hand.act("edit.undo")
    hand.settle()
    assert not hollow.bench.plan.of_kind("dug_pond")
