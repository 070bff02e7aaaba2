"""Every kind drawn by hand on empty land, and every snap caught; figures are plane geometry."""

from __future__ import annotations

import pytest
from desk.hand import Held
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel
from shapely.geometry import Point

from canvas.site.records import element_kinds
from canvas.tools.levelling import TRACED

# The screenless platform says so of windows, menus and file boxes.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")
KEY = Qt.Key
#: Where one clicks for each geometry, told from the land's corner [m].
CLICKS = {
    "Point": ((100, 100),),
    "LineString": ((60, 100), (120, 100)),
    "Polygon": ((80, 80), (120, 80), (120, 110)),
}


@pytest.mark.parametrize("share", range(4))
def test_every_kind_is_drawn_by_hand(slope, hand, share):
    """A quarter of the kinds each: one site for all would take too long, one for each longer."""
    for key, kind in list(element_kinds().items())[share::4]:
        # A level line is traced from one click.
        spots = CLICKS[kind.geometry][: 1 if key in TRACED else 3]
        made = hand.draw(key, *spots)
        item = slope.bench.plan.element(made)
        assert type(item).kind_key == key
        # A click is good to a pixel or two.
        first = Point(hand.origin[0] + spots[0][0], hand.origin[1] + spots[0][1])
        assert item.geometry.distance(first) < 3 * slope.map.camera.pixel_m, key
        shown = [w.text() for w in slope.card.findChildren(QLabel) if w.isVisible()]
        assert any(kind.label in words for words in shown), key
        hand.act("edit.undo")
        assert made not in slope.bench.plan


def test_a_building_of_any_outline(land, hand):
    hand.act("draw.building.outline")
    for spot in ((40, 40), (80, 40), (80, 60), (60, 60), (60, 80), (40, 80)):
        hand.put(*spot)
    hand.key(KEY.Key_Return)
    house = land.bench.plan.of_kind("building")[0]
    # An L of 40 m by 20 m and 20 m by 20 m.
    assert house.geometry.area == pytest.approx(1200, abs=160 * 2 * land.map.camera.pixel_m)
    assert len(hand.local(house.id)) == 7


@pytest.mark.parametrize("key", ["swale", "drain"])
def test_a_ditch_along_a_drawn_line_instead_of_a_level_one(slope, hand, key):
    hand.act(f"draw.{key}.free")
    hand.put(60, 60)
    hand.put(120, 90)
    hand.key(KEY.Key_Return)
    made = slope.bench.plan.of_kind(key)
    assert len(made) == 1
    # Straight from click to click, across the slope and up it.
    pixel = slope.map.camera.pixel_m
    assert made[0].geometry.length == pytest.approx(67.08, abs=4 * pixel)


#: What is drawn first, then where the pointer goes near (in pixels), and what catches it.
SNAPS = {
    "point": ((), (80, 80), "corner"),
    "middle": ((), (100, 80), "middle"),
    "crossing": ((), (100, 110), ""),
    "edge": ((), (90, 80), ""),
    "boundary": ((), (0, 60), ""),
    # From a point below an edge: its foot on it.
    "square": (((100, 40),), (100, 80), ""),
    # Along, and on from, the edges of the bed.
    "parallel": (((40, 62),), (76, 62), "parallel"),
    "extension": (((40, 20),), (60, 80), ""),
}


@pytest.mark.parametrize("key", SNAPS)
def test_every_snap_catches_the_pointer(land, hand, key):
    before, near, words = SNAPS[key]
    bed = hand.draw("garden_bed", (80, 80), (120, 80), (120, 140), (80, 140))
    if key == "crossing":
        hand.draw("fence", (70, 110), (150, 110))
        near = (120, 110)
    hand.act("select.none")
    hand.act("snap.any")
    hand.act(f"snap.{key}")
    assert land.map.world.snaps == {key}
    hand.act("draw.fence")
    for spot in before:
        hand.put(*spot, Held.NoModifier)
    spot = hand.at(*near)
    for step in (6, 3):
        QTest.mouseMove(land.map, spot + QPoint(step, step))
    caught = land.map.ghost().snap
    assert caught is not None
    assert caught.kind == key
    assert words in caught.words
    QTest.mouseClick(land.map, Qt.MouseButton.LeftButton, Held.NoModifier, spot)
    hand.put(150, 30)
    hand.key(KEY.Key_Return)
    corners = hand.local(land.bench.plan.of_kind("fence")[-1].id)
    at = corners[len(before)]
    assert [at[0] - near[0], at[1] - near[1]] == pytest.approx([0, 0], abs=3)
    if key in ("point", "middle", "crossing", "edge", "square"):
        outline = land.bench.plan.element(bed).geometry.exterior
        spot = Point(hand.origin[0] + at[0], hand.origin[1] + at[1])
        assert outline.distance(spot) == pytest.approx(0, abs=1e-6)
