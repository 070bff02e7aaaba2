"""Crests, heights and volumes typed while a dam is drawn or reshaped."""

from __future__ import annotations

import pytest
from hands import local, make

from canvas.base.errors import BadData
from canvas.site.edits import Edit
from canvas.site.facts import Site
from canvas.tools.placings import placing
from canvas.tools.pond_levels import typed_levels
from canvas.tools.reshape import ReshapeTool


def test_a_height_typed_before_the_first_point(empty):
    tool = placing(empty.world, "dam")
    assert "crest meets one bank" in tool.prompt
    assert empty.type(tool, "high 4.5") is None
    empty.click(tool, 0, 0)
    assert "holds 2000" in tool.prompt
    empty.click(tool, 40, 0)
    assert tool.ghost().elements[0].rise_m == 4.5
    empty.key(tool, "enter")
    (dam,) = empty.elements("dam")
    assert (dam.crest_by, dam.rise_m) == ("height", 4.5)
    # The next dam starts from the usual height again.
    empty.click(tool, 0, 50)
    empty.click(tool, 40, 50)
    empty.key(tool, "enter")
    assert empty.elements("dam")[1].rise_m == 3.0


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("crest 104.5", {"crest_by": "level", "level_m": 104.5}),
        ("Holds 2 000", {"crest_by": "volume", "hold_m3": 2000.0}),
        ("holds 2000 m³", {"crest_by": "volume", "hold_m3": 2000.0}),
        ("high 350 cm", {"crest_by": "height", "rise_m": 3.5}),
        ("sill 0.9", {"sill_below_m": 0.9}),
    ],
)
def test_words_for_a_dam(empty, words, found):
    assert typed_levels("dam", words, empty.world) == pytest.approx(found)


def test_figures_are_in_the_sites_units(empty):
    made = empty
    made.world.plan = made.world.plan.with_(Site(name="US", crs="EPSG:7854", units="us"))
    feet = typed_levels("dam", "high 10", made.world)
    yards = typed_levels("dam", "holds 1000", made.world)
    assert feet["rise_m"] == pytest.approx(3.048)
    assert yards["hold_m3"] == pytest.approx(764.555, abs=0.001)


def test_other_words_are_lengths_and_bearings_still(empty):
    tool = placing(empty.world, "dam")
    empty.click(tool, 0, 0)
    empty.type(tool, "40 at 90")
    empty.key(tool, "enter")
    (dam,) = empty.elements("dam")
    assert local(dam).tolist() == [[0, 0], [40, 0]]
    assert typed_levels("fence", "high 3", empty.world) is None
    assert typed_levels("dam", "40 at 90", empty.world) is None


@pytest.mark.parametrize(
    ("words", "told"),
    [("high x", "not a length"), ("high 900", "outside"), ("holds lots", "not a number")],
)
def test_what_is_no_level_is_refused_and_nothing_lost(empty, words, told):
    tool = placing(empty.world, "dam")
    empty.click(tool, 0, 0)
    with pytest.raises(BadData, match=told):
        tool.typed(words)
    assert tool.busy
    assert tool.maker.element([(0.0, 0.0), (9.0, 0.0)]).rise_m == 3.0


def test_a_selected_dams_crest_is_typed(hand):
    dam = make("dam", (0, 0), (40, 0))
    made = hand(dam, selected=(dam,))
    tool = ReshapeTool(made.world)
    assert "crest 104.5" in tool.prompt
    assert set("CH") <= set(tool.letters)
    edit = made.type(tool, "crest 99.25")
    assert isinstance(edit, Edit)
    (now,) = made.elements("dam")
    assert (now.crest_by, now.level_m) == ("level", 99.25)
    # One step to undo, and the line is where it was.
    made.world.plan = made.world.plan.applied(edit.inverse())
    assert made.elements("dam")[0] == dam
    with pytest.raises(BadData):
        tool.typed("crest 99999")


def test_a_fence_has_no_level(hand):
    fence = make("fence", (0, 0), (40, 0))
    made = hand(fence, selected=(fence,))
    tool = ReshapeTool(made.world)
    assert tool.letters == ""
    with pytest.raises(BadData, match="No corner"):
        tool.typed("crest 99")


def test_a_ponds_level_and_depth(empty):
    tool = placing(empty.world, "dug_pond")
    empty.type(tool, "full 101.5")
    empty.type(tool, "deep 2")
    for spot in ((0, 0), (20, 0), (20, 20)):
        empty.click(tool, *spot)
    empty.key(tool, "enter")
    (pond,) = empty.elements("dug_pond")
    assert (pond.level, pond.water_m, pond.depth_m) == ("set", 101.5, 2.0)
