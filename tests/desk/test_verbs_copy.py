"""Copy, cut and paste, within a site and between two; carried coordinates checked by pyproj."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from pyproj import Transformer
from PySide6.QtWidgets import QApplication

# The screenless platform says so of windows, menus and file boxes.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")


def test_copy_and_paste_in_one_site(land, hand):
    tree = hand.draw("tree", (60, 60))
    hand.pick((60, 60))
    hand.act("edit.copy")
    hand.act("edit.paste")
    hand.settle()
    one, two = land.bench.plan.of_kind("tree")
    assert one.id == tree
    assert one.geometry.equals(two.geometry)
    assert land.bench.selection == {two.id}
    assert land.bench.session.undo_steps()[0].label == "Paste tree"


def test_cut_and_paste_brings_it_back_as_another(land, hand):
    hand.draw("fence", (40, 60), (120, 60))
    hand.pick((80, 60))
    before = land.bench.selected()[0].geometry
    hand.act("edit.cut")
    assert not land.bench.plan.of_kind("fence")
    hand.act("edit.paste")
    assert land.bench.plan.of_kind("fence")[0].geometry.equals(before)
    hand.act("edit.undo")
    hand.act("edit.undo")
    assert len(land.bench.plan.of_kind("fence")) == 1


def test_paste_in_another_site_carries_coordinates_into_its_grid(land, hand, tmp_path):
    hand.draw("zone", (40, 40), (80, 40), (80, 80), (40, 80))
    hand.draw("tree", (100, 100))
    hand.act("select.none")
    hand.drag((30, 30), (110, 110))
    copied = {type(i): i.geometry for i in land.bench.selected()}
    assert len(copied) == 2
    hand.act("edit.copy")
    hand.act("site.close")
    # The next zone of the same grid, as a neighbour across its edge would work in.
    hand.begin(tmp_path / "other", name="Other hill", crs="7855")
    hand.act("edit.paste")
    hand.settle()
    carry = Transformer.from_crs("EPSG:7854", "EPSG:7855", always_xy=True)
    pasted = list(land.bench.plan.elements())
    assert len(pasted) == 2
    for item in pasted:
        xy = shapely.get_coordinates(copied[type(item)])
        expected = np.column_stack(carry.transform(xy[:, 0], xy[:, 1]))
        assert shapely.get_coordinates(item.geometry) == pytest.approx(expected, abs=1e-6)
    # What is pasted is shown.
    west, south, east, north = land.map.view_bounds()
    x, y = pasted[0].geometry.centroid.coords[0]
    assert west < x < east
    assert south < y < north


def test_pasting_what_is_no_element_is_said(land, hand):
    QApplication.clipboard().setText("nothing of ours")
    before = list(land.bench.plan.elements())
    hand.act("edit.paste")
    assert list(land.bench.plan.elements()) == before
    assert "no elements to paste" in hand.words()
