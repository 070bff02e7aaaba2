"""Places found, shown on the map: one is looked at as it would be, and taken on request."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from shapely import Point
from shapely.geometry import LineString, Polygon

from canvas.site import edits
from canvas.site.edits import Edit
from canvas.site.records import Element, kind_of
from canvas.tools.plane import XY
from canvas.tools.pointer import BaseTool, Ghost, GhostLabel, GhostShape, Pointer
from canvas.tools.snap import REACH_PX
from canvas.tools.trace import PathTool
from canvas.tools.world import ToolWorld


class ChooseTool(BaseTool):
    """Shows elements that might be; the chosen one with its symbol, the others by number."""

    key = "choose_place"
    label = "Places found"

    def __init__(
        self, world: ToolWorld, found: Sequence[Element], chose: Callable[[int], None]
    ) -> None:
        self.world = world
        self.found = tuple(found)
        #: Place in the list of the one looked at.
        self.chosen = 0
        self._chose = chose

    @property
    def prompt(self) -> str:
        """What to do now, in plain words."""
        return "Click a place to look at it; Enter puts it into the plan, Escape leaves."

    @property
    def busy(self) -> bool:
        """Whether there is a place that Enter would take."""
        return bool(self.found)

    def press(self, at: Pointer) -> None:
        """Look at the place nearest to the pointer, if one is near."""
        spot = Point(at.xy)
        away = [item.geometry.distance(spot) for item in self.found]
        nearest = min(range(len(away)), key=away.__getitem__, default=None)
        if nearest is not None and away[nearest] <= REACH_PX * at.pixel_m:
            self.choose(nearest)

    def choose(self, place: int) -> None:
        """Look at one of the list."""
        if 0 <= place < len(self.found):
            self.chosen = place
            self._chose(place)

    def key_press(self, name: str) -> Edit | None:
        """Enter takes the place looked at."""
        return self.take() if name == "enter" else super().key_press(name)

    def take(self) -> Edit | None:
        """Return the edit that puts the place looked at into the plan."""
        if not self.found:
            return None
        item = self.found[self.chosen]
        return edits.add(f"Add a {kind_of(item).label.lower()} found", [item])

    def ghost(self) -> Ghost:
        """Return every place, the one looked at as it would be."""
        shapes, labels = [], []
        # The figures of what is in hand are told with the last label: the chosen one's.
        order = sorted(range(len(self.found)), key=lambda place: place == self.chosen)
        for place in order:
            item = self.found[place]
            spot = item.geometry.representative_point()
            labels.append(GhostLabel(spot.x, spot.y, str(place + 1)))
            if place != self.chosen:
                look = "area" if isinstance(item.geometry, Polygon) else "line"
                shapes.append(GhostShape(item.geometry, look))
        chosen = self.found[self.chosen : self.chosen + 1]
        return Ghost(tuple(shapes), tuple(labels), elements=chosen)


class EndsTool(PathTool):
    """Two clicks: where a way is to start and to end."""

    key = "way_ends"
    label = "Ends of a way"
    least = most = 2

    def __init__(self, world: ToolWorld, done: Callable[[XY, XY], None]) -> None:
        super().__init__(world)
        self._done = done
        self.ends: tuple[XY, XY] | None = None

    @property
    def prompt(self) -> str:
        """What to do now, in plain words."""
        where = "ends" if self.points else "starts"
        return f"Click where the track {where}, or type a position."

    def made(self, points: Sequence[XY]) -> None:
        """Hand the ends over; they stay on the map until the next."""
        self.ends = points[0], points[1]
        self._done(*self.ends)

    def ghost(self) -> Ghost:
        """Return the stroke, or the last ends with a line between."""
        if self.points or self.ends is None:
            return super().ghost()
        return Ghost((GhostShape(LineString(self.ends), "guide"),), (), self.caught)
