"""Repeating along a line and in an area: draw where, type how far apart, Enter."""

from __future__ import annotations

import re
from collections.abc import Mapping

from shapely.geometry import LineString, MultiPoint, Point, Polygon
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData
from canvas.base.ident import new_id
from canvas.planting.layouts import Pattern, along_line, fill
from canvas.site.edits import Edit, add
from canvas.site.records import Element, changed, kind_of
from canvas.tools.draw import ElementMaker
from canvas.tools.plane import XY, Coords
from canvas.tools.pointer import Ghost, GhostLabel, GhostShape, Pointer
from canvas.tools.trace import PathTool, shape_of
from canvas.tools.transform import shift
from canvas.tools.typed import read_bearing
from canvas.tools.world import ToolWorld

#: Copies drawn with their own symbols while the gesture lasts; the rest show as points.
MOST_DRAWN = 400
_COUNT = re.compile(r"^(\d+)\s*[x×]$|^[x×]\s*(\d+)$", re.IGNORECASE)


class RepeatTool(PathTool):
    """Put copies along a drawn line or over a drawn area.

    What is repeated is the selected element, or a fresh one of `kind_key`.
    """

    def __init__(
        self,
        world: ToolWorld,
        shape: str,
        kind_key: str = "",
        values: Mapping[str, object] | None = None,
        *,
        spacing_m: float = 5.0,
    ) -> None:
        super().__init__(world)
        self.shape = shape
        self.least = 3 if shape == "Polygon" else 2
        self.key = "repeat_in" if shape == "Polygon" else "repeat_along"
        self.label = "Repeat in an area" if shape == "Polygon" else "Repeat along a line"
        self.kind_key = kind_key
        self.values = dict(values or {})
        self.spacing_m = spacing_m
        self.rows_deg = 90.0
        self.pattern = Pattern.TRIANGULAR
        #: The finished line or area; None while it is still being drawn.
        self.fixed: BaseGeometry | None = None

    @property
    def prompt(self) -> str:
        """What to do now, in plain words."""
        if self.fixed is None:
            return f"{self.label}: {super().prompt[0].lower()}{super().prompt[1:]}"
        more = ", or the bearing of the rows such as 45°" if self.shape == "Polygon" else ""
        return f"Type the spacing, a count such as 12x{more}; Enter puts them there."

    @property
    def busy(self) -> bool:
        """Whether the line is begun or waits for its spacing."""
        return super().busy or self.fixed is not None

    def source(self) -> Element:
        """Return what is repeated."""
        if self.kind_key:
            return ElementMaker(self.world, self.kind_key, self.values).of_geometry(Point(0, 0))
        items = self.world.selected()
        if len(items) != 1:
            raise BadData(f"{self.label}: select the one element to repeat first.")
        return items[0]

    def press(self, at: Pointer) -> Edit | None:
        """Put a point of the line; once it is drawn, put the copies there."""
        if self.fixed is not None:
            return self.finish()
        self.source()
        return super().press(at)

    def move(self, at: Pointer) -> None:
        """Follow the pointer while the line is drawn."""
        if self.fixed is None:
            super().move(at)

    def finish(self) -> Edit | None:
        """Fix the line or area; the second time, put the copies there."""
        if self.fixed is not None:
            edit = self._edit(self.fixed)
            self.cancel()
            return edit
        if len(self.points) >= self.least:
            geometry = shape_of(self.points, self.shape)
            if geometry is not None and not geometry.is_valid:
                raise BadData("The outline crosses itself.", remedy="Backspace takes points back.")
            self.fixed = geometry
            return None
        return super().finish()

    def key_press(self, name: str) -> Edit | None:
        """Backspace takes the fixed line up again."""
        if name == "backspace" and self.fixed is not None:
            self.fixed = None
            return None
        return super().key_press(name)

    def typed(self, words: str) -> Edit | None:
        """Take points while drawing; then spacing, count, or the bearing of the rows."""
        if self.fixed is None:
            return super().typed(words)
        if count := _COUNT.match(words.strip()):
            self._share(int(count[1] or count[2]))
        elif "°" in words or words.strip().lower().startswith("at"):
            self.rows_deg = read_bearing(words.strip().lower().removeprefix("at"))
        else:
            spacing = self.world.read_length(words)
            if spacing <= 0:
                raise BadData("The spacing must be more than nothing.")
            self.spacing_m = spacing
        return None

    def _share(self, count: int) -> None:
        if not isinstance(self.fixed, LineString):
            raise BadData("A count is for a line; give an area a spacing.")
        if count < 2:
            raise BadData("Two or more are needed along a line.")
        gaps = count if self.fixed.is_closed else count - 1
        # A hair less, so that the last one isn't lost to rounding.
        self.spacing_m = self.fixed.length / gaps * (1 - 1e-12)

    def places(self, where: BaseGeometry) -> Coords:
        """Return where the copies stand, (n, 2)."""
        if isinstance(where, Polygon):
            return fill(where, self.pattern, self.spacing_m, bearing_deg=self.rows_deg)
        assert isinstance(where, LineString)
        return along_line(where, self.spacing_m)

    def _edit(self, where: BaseGeometry) -> Edit:
        source, places = self.source(), self.places(where)
        if not len(places):
            raise BadData("None fit there.", remedy="Make the spacing smaller.")
        made = [_put(source, (float(x), float(y))) for x, y in places]
        return add(f"Repeat {kind_of(source).label.lower()} {len(made)} times", made)

    def cancel(self) -> None:
        """Forget the line."""
        super().cancel()
        self.fixed = None

    def ghost(self) -> Ghost:
        """Return the line, and once it is drawn the copies on it."""
        if self.fixed is None:
            return super().ghost()
        look = "area" if self.shape == "Polygon" else "line"
        places = self.places(self.fixed)
        middle = self.fixed.representative_point()
        words = f"{len(places)} · {self.world.length(self.spacing_m)} apart"
        shapes = [GhostShape(self.fixed, look)]
        if len(places) > MOST_DRAWN:
            shapes.append(GhostShape(MultiPoint(places), "dots"))
            drawn: tuple[Element, ...] = ()
        else:
            source = self.source()
            drawn = tuple(_put(source, (float(x), float(y))) for x, y in places)
        return Ghost(tuple(shapes), (GhostLabel(middle.x, middle.y, words),), None, drawn)


def _put(source: Element, xy: XY) -> Element:
    middle = source.geometry.centroid
    made: Element = changed(source, id=new_id())
    return shift(made, xy[0] - middle.x, xy[1] - middle.y)
