"""A test pit's wall: horizons to depth, with what stood and what stopped the digging."""

from __future__ import annotations

from canvas.base.errors import UserError
from canvas.base.quantity import show
from canvas.drawing.details.registry import Detail, details_of
from canvas.drawing.entries import Anchor, Areas, Cap, Entry, Fill, Hatch, Lines, Stroke, Text
from canvas.drawing.furniture import ring
from canvas.site.elements.pits import HORIZONS, TestPit
from canvas.site.tabular import parse
from canvas.study.study import Study
from canvas.water.soils import texture_named

#: Millimetres on paper for a metre of depth: 1:20.
MM_PER_M = 50.0
WIDE_MM, LEFT_MM, FOOT_MM, LETTERS_MM = 26.0, 14.0, 6.0, 1.9
#: The pit's own room for words beside it [mm].
WORDS_MM = 62.0
PATTERNS = {
    "sand": Fill("earth", Hatch.DOTS, 0.8, gap_mm=1.2, line_mm=0.3),
    "clay": Fill("earth", Hatch.LINES, 0.8, 0.0, 1.0, 0.15),
    "loam": Fill("earth", Hatch.LINES, 0.8, 45.0, 1.6, 0.13),
}


@details_of("test_pit")
def pit_details(item: TestPit, study: Study) -> list[Detail]:
    """Return the pit's wall at 1:20; nothing while no horizons are noted."""
    try:
        rows = parse(item.horizons, HORIZONS)
    except UserError:
        return []
    if not rows:
        return []
    units = study.plan.site.unit_system()
    deepest = max([item.depth_m, *(float(row[1] or 0.0) for row in rows)])
    high = deepest * MM_PER_M

    def y(depth: float) -> float:
        return FOOT_MM + high - depth * MM_PER_M

    entries: list[Entry] = []
    right = LEFT_MM + WIDE_MM
    for row in rows:
        top, foot = float(row[0] or 0.0), float(row[1] or 0.0)
        box = ring((LEFT_MM, y(top)), (right, y(top)), (right, y(foot)), (LEFT_MM, y(foot)))
        entries.append(Areas([(box,)], _pattern(str(row[2])), Stroke("ink", 0.25)))
        stones = f", {row[4]:g} % stones" if isinstance(row[4], float) else ""
        words = ", ".join(str(each) for each in row[2:4] if each) + stones
        entries.append(Text(right + 3, y(top) - 3.0, words, LETTERS_MM, "ink", Anchor.LEFT))
        entries.append(_depth(y(foot), show(foot, "m", units)))
    entries.append(_depth(y(0.0), show(0.0, "m", units)))
    for depth, words, role in (
        (item.water_depth_m, "water", "water"), (item.rock_depth_m, "rock", "ink"),
    ):  # fmt: skip
        if depth is not None:
            line = ring((LEFT_MM - 2, y(depth)), (right + 12, y(depth)))
            entries.append(Lines([line], Stroke(role, 0.5, (1.6, 0.6), cap=Cap.FLAT)))
            entries.append(Text(right + 13, y(depth), words, LETTERS_MM, role, Anchor.LEFT))
    title = f"{item.name or 'Test pit'}: wall of the pit"
    return [Detail(title, tuple(entries), right + WORDS_MM, high + FOOT_MM + 5.0, "1:20")]


def _depth(y: float, words: str) -> Text:
    return Text(LEFT_MM - 1.2, y, words, LETTERS_MM, "dimension", Anchor.RIGHT)


def _pattern(words: str) -> Fill:
    """Return the pattern of a soil by its texture: dots for sand, level lines for clay."""
    texture = texture_named(words) or "loam"
    key = "clay" if "clay" in texture else "sand" if "sand" in texture else "loam"
    return PATTERNS[key]
