"""An action for every kind that can be drawn, and for measuring."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from canvas.desk import hands
from canvas.desk.actions import Needs, Record
from canvas.desk.icons import kind_icon
from canvas.site.records import Kind, element_kinds

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

#: Second stroke of a kind's shortcut, after Ctrl+D.
LETTERS = {
    "site_boundary": "O", "parcel": "P", "easement": "E", "survey_mark": "M", "zone": "Z",
    "track": "T", "public_road": "R", "path": "A", "building": "B", "fence": "F", "gate": "G",
    "watercourse": "W", "water_body": "D", "well": "L", "tank": "K", "septic_tank": "Q",
    "septic_field": "I", "overhead_line": "V", "buried_service": "U", "firebreak": "X",
    "vegetation": "Y", "tree": "1", "tree_row": "2", "hedge": "H", "garden_bed": "J",
    "note": "N", "dimension": "C", "ground_cover": "Shift+C", "platform": "Shift+P",
    "spot_height": "Shift+M", "survey_line": "Shift+O",
    "gauge": "Shift+G", "gauge_line": "Shift+Q",
    "dam": "Shift+D", "dug_pond": "Shift+U", "test_pit": "Shift+I",
    "terraces": "Shift+T", "heap": "Shift+H", "borrow_pit": "Shift+J",
    "swale": "S", "drain": "Shift+S", "level_sill": "Shift+L", "check_dam": "Shift+K",
    "turning_head": "Shift+R", "passing_bay": "Shift+Y", "culvert": "Shift+V", "ford": "Shift+F",
    "water_bar": "Shift+A",
}  # fmt: skip


def _draw(kind: Kind, section: int) -> Record:
    key = f"draw.{kind.key}"
    letter = LETTERS.get(kind.key, "")
    return Record(
        key, kind.label, f"Draw: {kind.help.rstrip('.')}", lambda d: hands.take(d, key),
        f"&Draw/{kind.group}", f"Ctrl+D, {letter}" if letter else "", kind_icon(kind.key),
        Needs.WRITE, section, lambda d: hands.holds(d, key),
    )  # fmt: skip


def _way(key: str, kind: str, title: str, tip: str, keys: str) -> Record:
    """Return the action for another way to draw a kind."""
    name, of = f"draw.{key}", element_kinds()[kind]
    return Record(
        name, title, tip, lambda d: hands.take(d, name), f"&Draw/{of.group}", keys,
        kind_icon(kind), Needs.WRITE, 2, lambda d: hands.holds(d, name),
    )  # fmt: skip


def _measure(key: str, title: str, tip: str, letter: str, icon: str, needs: Needs) -> Record:
    name = f"measure.{key}"
    take: Callable[[DeskWindow], None] = lambda d: hands.take(d, name)  # noqa: E731
    return Record(
        name, title, tip, take, "&Measure", f"Ctrl+M, {letter}", icon, needs, 1,
        lambda d: hands.holds(d, name),
    )  # fmt: skip


RECORDS: tuple[Record, ...] = (
    *(_draw(kind, 1) for kind in element_kinds().values()),
    _way("building.outline", "building", "Building by its outline",
         "Draw a building of any outline", "Ctrl+D, Shift+B"),
    _way("firebreak.around", "firebreak", "Belt around a building",
         "Ring a building with a firebreak at a distance", "Ctrl+D, Shift+X"),
    _way("swale.free", "swale", "Swale along a drawn line",
         "Draw a swale's line yourself: its lip lies at the ground's mean", "Ctrl+D, Shift+W"),
    _way("drain.free", "drain", "Diversion drain along a drawn line",
         "Draw a drain's line yourself", "Ctrl+D, Shift+E"),
    _measure("length", "&Length", "Measure along a line, on the grid, the Earth and the ground",
             "L", "measure_length", Needs.SITE),
    _measure("area", "&Area", "Measure an outline", "A", "measure_area", Needs.SITE),
    _measure("spot", "Sp&ot", "Read everything known about a spot", "P", "goto", Needs.SITE),
    _measure("section", "Sectio&n", "Draw a line and see the ground along it", "N", "section",
             Needs.GROUND),
    _measure("drop", "Way of a &drop", "Click a place and follow its water down", "D",
             "kind-watercourse", Needs.GROUND),
    _measure("catchment", "&Catchment of a place", "Click a place and see what drains to it", "C",
             "kind-water_body", Needs.GROUND),
    Record("page.section", "Sect&ion of the selection",
           "See the ground along the selected line", lambda d: d.section_of_selection(),
           "&Measure", "Ctrl+M, S", "section", Needs.GROUND, 2),
    Record("page.details", "S&ections of the works",
           "Sections with dimensions and curves of what is selected",
           lambda d: d.open_page("details"), "&Measure", "Ctrl+M, E", "section", Needs.SITE, 2),
    Record("page.slopes", "Slo&pe table", "How much of the site is how steep",
           lambda d: d.open_page("slopes"), "&Measure", "Ctrl+M, T", "slope", Needs.GROUND, 2),
    Record("page.sun", "&Sun", "The sun's path and what a slope receives by month",
           lambda d: d.open_page("sun"), "&Measure", "Ctrl+M, U", "sun", Needs.SITE, 2),
)  # fmt: skip
