"""What the desk shows, from empty land: zoom, shadings, lines, names, findings, stages, leaving."""

from __future__ import annotations

import re
from collections import Counter

import pytest

from canvas.desk.shadings import SHADINGS
from canvas.desk.stages import STAGES
from canvas.desk.verbs.all import TABLE
from canvas.site.samples import sample_names

# The screenless platform says so of windows, menus and file boxes.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")

#: Maps of what a storm did, which must be run first.
AFTER_A_RUN = {"rain_depth", "rain_speed"}


def seen(desk, hand) -> bytes:
    """Return the middle of the map as it is on the screen, once it is sharp."""
    view = desk.map
    hand.settle()
    hand.qtbot.waitUntil(lambda: view.sharp and view.painting.idle, timeout=20_000)
    west, north = hand.at(60, 140), hand.at(140, 60)
    image = view.grab().toImage().copy(west.x(), west.y(), *(north - west).toTuple())
    return bytes(image.constBits())


def test_closer_and_back_by_keys_and_wheel(land, hand):
    scale = land.map.scale
    middle = land.map.rect().center()
    place = land.map.map_of(middle.toPointF())
    hand.act("view.in")
    assert land.map.scale == pytest.approx(scale / 1.5)
    assert land.map.map_of(middle.toPointF()) == pytest.approx(place, abs=1.0)
    hand.act("view.out")
    assert land.map.scale == pytest.approx(scale)
    corner = hand.at(0, 200)
    hand.wheel(corner, 4)
    assert land.map.scale == pytest.approx(scale / 2)
    # What was under the pointer still is.
    assert (hand.at(0, 200) - corner).manhattanLength() <= 1


def test_every_shading_colours_the_map_and_brings_its_key(slope, hand):
    hand.act("shade.none")
    plain = seen(slope, hand)
    for key, title, _, _ in SHADINGS:
        if not key:
            continue
        hand.act(f"shade.{key}")
        assert slope.bench.look.shading == key
        assert slope.actions_[f"shade.{key}"].isChecked()
        hand.settle()
        assert slope.key.isVisible(), title
        assert key in AFTER_A_RUN or hand.words(slope.key).strip(), title
    hand.act("shade.slope")
    assert seen(slope, hand) != plain
    hand.act("shade.none")
    assert seen(slope, hand) == plain


def test_lines_of_the_ground_are_shown_and_taken_away(slope, hand):
    keys = ("valleys", "ridges", "keypoints")
    for key in keys:
        hand.act(f"lines.{key}")
        assert slope.actions_[f"lines.{key}"].isChecked()
    assert slope.bench.look.ground_lines == set(keys)
    for key in keys:
        hand.act(f"lines.{key}")
    assert not slope.bench.look.ground_lines


def test_names_and_findings_come_and_go(land, hand):
    hand.draw("well", (100, 100))
    hand.draw("septic_tank", (104, 100))
    hand.act("select.none")
    with_both = seen(land, hand)
    for key, flag in (("view.findings", "findings"), ("view.labels", "labels")):
        hand.act(key)
        assert not getattr(land.bench.look, flag)
        assert not land.actions_[key].isChecked()
    without = seen(land, hand)
    assert without != with_both
    for key in ("view.findings", "view.labels"):
        hand.act(key)
    assert seen(land, hand) == with_both


def test_findings_are_stepped_through_both_ways(land, hand):
    hand.draw("well", (60, 120))
    hand.draw("septic_tank", (64, 120))
    hand.draw("septic_tank", (60, 125))
    hand.act("select.none")
    keys = [f.key for f in land.bench.study.findings()]
    assert len(keys) > 1
    shown = []
    for step in ("check.next", "check.next", "check.previous"):
        hand.act(step)
        shown.append(land.shown_finding)
    assert shown == [keys[0], keys[1], keys[0]]
    assert land.bench.selection


def test_the_empty_hand_is_taken_by_its_key(land, hand):
    hand.act("draw.fence")
    assert land.bench.tool is not None
    hand.act("tool.choose")
    assert land.bench.tool is None
    assert land.actions_["tool.choose"].isChecked()


def test_every_stage_offers_its_actions_on_bare_land(land, hand):
    for stage in STAGES:
        hand.act(f"stage.{stage.key}")
        assert land.bench.stage == stage.key
        assert land.ledge.isVisible()


def test_slopes_sun_and_what_is_asked_on_land_begun_from_nothing(slope, hand):
    page = hand.page("slopes")
    hand.settle()
    table = page.table
    rows = [[table.item(r, c).text() for c in (0, 3)] for r in range(table.rowCount())]
    # One in five everywhere is 20 %, a class of its own: all of the land lies in it.
    assert [share.replace("\xa0", " ") for _, share in rows].count("100.0 %") == 1
    hand.page("sun")
    hand.settle()
    assert "20 % · 11.3°, facing S" in hand.words()
    hand.ask("firebreak")
    assert slope.held == "draw.firebreak"
    hand.act("tool.choose")
    hand.ask("rules and limits")
    assert slope.leaf.key == "rules"
    hand.ask("560150 5850050")
    west, _, east, _ = slope.map.view_bounds()
    assert (west + east) / 2 == pytest.approx(560_150, abs=1)


def test_a_finding_clears_when_the_well_is_moved_by_typed_metres(land, hand):
    well = hand.draw("well", (60, 120))
    tank = hand.draw("septic_tank", (64, 120))

    def found() -> bool:
        return any({well, tank} <= set(f.elements) for f in land.bench.study.findings())

    assert found()
    hand.pick((60, 120))
    hand.say("50 W, 60 S")
    hand.settle()
    assert not found()
    hand.act("edit.undo")
    hand.settle()
    assert found()


def test_the_sample_is_copied_and_opened(desk, hand, tmp_path):
    hand.click(desk.welcome.choices["site.sample"])
    dialog = hand.dialog()
    hand.type(hand.named("Folder for the copy", dialog), str(tmp_path / "play"))
    hand.click(hand.named("Copy and open", dialog))
    hand.qtbot.waitUntil(lambda: desk.bench.session is not None, timeout=20_000)
    assert sample_names()
    assert desk.bench.session.folder == tmp_path / "play"
    assert len(list(desk.bench.plan.elements())) > 50
    hand.keys(desk, "Ctrl+W")
    assert desk.welcome.isVisible()


def test_findings_are_reached_from_their_count_on_the_strip(land, hand):
    hand.draw("well", (60, 120))
    hand.draw("septic_tank", (64, 120))
    badge = next(b for b in land.standing.badges.values() if b.text() != "0")
    hand.click(badge)
    hand.settle()
    assert land.leaf.key == "findings"


def test_leaving_by_keyboard_closes_the_site(land, hand):
    folder = land.bench.session.folder
    hand.act("app.quit")
    assert not land.isVisible()
    assert land.bench.session is None
    assert (folder / "site.gpkg").is_file()


def test_no_two_actions_share_a_shortcut_or_a_letter_of_a_menu():
    keys = Counter(key for r in TABLE for key in (r.shortcut, *r.also) if key)
    assert [key for key, times in keys.items() if times > 1] == []
    letters = Counter(
        (r.menu, found[1].lower()) for r in TABLE if (found := re.search("&(.)", r.title))
    )
    assert [each for each, times in letters.items() if times > 1] == []
