"""Levels typed while a dam or a pond is drawn or reshaped: "crest 104.5", "high 3"."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from canvas.base.errors import BadData
from canvas.base.quantity import read_number, to_si
from canvas.site.edits import Edit
from canvas.site.records import Element, changed, kind_of
from canvas.tools.draw import DrawTool
from canvas.tools.plane import XY
from canvas.tools.transform import edit_each
from canvas.tools.world import ToolWorld

#: What a word before a figure sets, by kind: the fields that go with it, and the figure's own.
WORDS: dict[str, dict[str, tuple[dict[str, object], str, str]]] = {
    "dam": {
        "crest": ({"crest_by": "level"}, "level_m", "m"),
        "level": ({"crest_by": "level"}, "level_m", "m"),
        "high": ({"crest_by": "height"}, "rise_m", "m"),
        "height": ({"crest_by": "height"}, "rise_m", "m"),
        "holds": ({"crest_by": "volume"}, "hold_m3", "m3"),
        "sill": ({}, "sill_below_m", "m"),
    },
    "dug_pond": {
        "full": ({"level": "set"}, "water_m", "m"),
        "level": ({"level": "set"}, "water_m", "m"),
        "deep": ({}, "depth_m", "m"),
        "depth": ({}, "depth_m", "m"),
    },
}
#: What to type, by kind.
HINTS = {
    "dam": "Type the crest: “high 3”, “crest 104.5”, or “holds 2000” for a volume.",
    "dug_pond": "Type its depth or level: “deep 2.5”, “full 104.5”.",
}
_ENTRY = re.compile(r"([A-Za-z]+)\s+(.+)")


def typed_levels(kind_key: str, words: str, world: ToolWorld) -> dict[str, object] | None:
    """Return the fields typed words set; None when they don't begin with such a word.

    Raises `BadData` for a figure that is none.
    """
    found = _ENTRY.fullmatch(words.strip())
    meant = WORDS.get(kind_key, {}).get(found[1].lower()) if found else None
    if found is None or meant is None:
        return None
    more, name, unit = meant
    if unit == "m":
        return {**more, name: world.read_length(found[2])}
    digits = found[2].replace("m³", "").replace("m3", "")
    return {**more, name: to_si(read_number(digits), unit, world.units)}


def letters_of(kind_key: str) -> str:
    """Return the capital letters the words of a kind begin with."""
    return "".join(sorted({word[0].upper() for word in WORDS.get(kind_key, {})}))


def relevelled(item: Element, words: str, world: ToolWorld) -> Edit | None:
    """Return the edit that gives an element a typed level; None when the words mean none."""
    values = typed_levels(kind_of(item).key, words, world)
    if values is None:
        return None
    return edit_each("Set the level", [item], lambda one: _with(one, values))


def _with(item: Element, values: dict[str, object]) -> Element:
    made = changed(item, **values)
    assert isinstance(made, Element)
    return made


class LevelledTool(DrawTool):
    """Draws a dam by its crest, or a pond by its edge; its level may be typed at any time."""

    def __init__(
        self, world: ToolWorld, kind_key: str, values: Mapping[str, object] | None = None
    ) -> None:
        super().__init__(world, kind_key, values)
        self._first = dict(self.maker.values)

    @property
    def prompt(self) -> str:
        """What to do now, in plain words."""
        if self.maker.kind.geometry == "LineString" and not self.points:
            return f"{self.label}: click where the crest meets one bank of the hollow."
        if len(self.points) == 1:
            return f"{self.label}: click the next point. {HINTS[self.maker.kind.key]}"
        if self.points:
            return f"{super().prompt} {HINTS[self.maker.kind.key]}"
        return super().prompt

    @property
    def letters(self) -> str:
        """Letters its levels begin with."""
        return letters_of(self.maker.kind.key)

    def typed(self, words: str) -> Edit | None:
        """Take a level, a height or a volume; anything else as every stroke does."""
        values = typed_levels(self.maker.kind.key, words, self.world)
        if values is None:
            return super().typed(words)
        spec = self.maker.kind.spec
        for name, value in values.items():
            problem = spec(name).problem(value)
            if problem:
                raise BadData(f"{problem}.")
        self.maker.values.update(values)
        return None

    def made(self, points: Sequence[XY]) -> Edit:
        """Return the edit that adds it; the next one starts from the usual values again."""
        edit = super().made(points)
        self.maker.values = dict(self._first)
        return edit
