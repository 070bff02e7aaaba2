"""A stroke of points, by pointer and by typing: what drawing, measuring and splitting share."""

from __future__ import annotations

from collections.abc import Sequence

from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData
from canvas.site.edits import Edit
from canvas.tools.fall import fallen
from canvas.tools.labels import stroke_labels
from canvas.tools.plane import XY, along, bearing, distance
from canvas.tools.pointer import BaseTool, Ghost, GhostLabel, GhostShape, Pointer, Snap
from canvas.tools.snap import REACH_PX, Stroke
from canvas.tools.typed import Entry
from canvas.tools.world import ToolWorld

#: With Shift held, bearings keep to whole steps of this.
SHIFT_STEP_DEG = 15.0
#: Two points nearer than this are one [m].
SAME_M = 1e-3


class PathTool(BaseTool):
    """Collects points; what becomes of them is for `made` to say."""

    #: "Point", "LineString" or "Polygon".
    shape = "LineString"
    least = 2
    #: The stroke ends by itself at so many points; 0 for never.
    most = 0

    def __init__(self, world: ToolWorld) -> None:
        self.world = world
        self.points: list[XY] = []
        self.here: XY | None = None
        self.caught: Snap | None = None
        self.bearing_deg: float | None = None
        self._reach_m = 0.0

    def made(self, points: Sequence[XY]) -> Edit | None:
        """Return what the finished stroke does; `BadData` keeps the stroke as it is."""
        return None

    @property
    def busy(self) -> bool:
        """Whether a point has been put down."""
        return bool(self.points)

    @property
    def prompt(self) -> str:
        """What to do now, in plain words."""
        if not self.points:
            return "Click the first point, or type a position."
        if len(self.points) < self.least:
            return "Click the next point, or type a length and bearing such as 12.5 at 45."
        return "Click or type the next point; Enter ends, Backspace takes the last one back."

    def press(self, at: Pointer) -> Edit | None:
        """Put a point down; on the first one again, close and end."""
        self.move(at)
        assert self.here is not None
        if self._closes(self.here):
            if self.shape == "LineString":
                self.points.append(self.points[0])
            return self.finish()
        return self.put(self.here)

    def put(self, xy: XY) -> Edit | None:
        """Add a point; end the stroke when it has all it needs."""
        if not self.points or distance(self.points[-1], xy) > SAME_M:
            self.points.append(xy)
        self.bearing_deg = None
        return self.finish() if self.most and len(self.points) >= self.most else None

    def move(self, at: Pointer) -> None:
        """Follow the pointer: a typed bearing, whole steps of bearing, or what catches it."""
        self._reach_m = REACH_PX * at.pixel_m
        last = self.points[-1] if self.points else None
        stroke = Stroke(last, tuple(self.points))
        self.caught = self.world.snapper.snap(at, self.world.snaps, stroke)
        xy = self.caught.xy if self.caught else at.xy
        if last is not None and self.bearing_deg is not None:
            xy = _onto(last, self.bearing_deg, xy)
        elif last is not None and at.shift:
            step = round(bearing(last, at.xy) / SHIFT_STEP_DEG) * SHIFT_STEP_DEG
            xy, self.caught = _onto(last, step, at.xy), None
        self.here = xy

    def double(self, at: Pointer) -> Edit | None:
        """End the stroke: its last point came with the first of the two presses."""
        return self.press(at) if self.most == 1 else self.finish() if self.points else None

    def key_press(self, name: str) -> Edit | None:
        """Enter ends, Backspace takes a point back, Escape forgets."""
        if name == "enter" and self.points:
            return self.finish()
        if name == "backspace" and self.points:
            self.points.pop()
            self.bearing_deg = None
        if name == "escape":
            self.cancel()
        return None

    def typed(self, words: str) -> Edit | None:
        """Put a point by length, bearing, step, position or fall; a bearing alone is kept."""
        entry = self.world.read(words)
        if entry.position_m is not None:
            return self.put(entry.position_m)
        if not self.points:
            raise BadData(
                "There is no first point yet.",
                remedy="Click one, or type a position such as E 512300 N 5812400.",
            )
        last = self.points[-1]
        if entry.bearing_deg is not None and entry.length_m is None and not entry.falls:
            self.bearing_deg = entry.bearing_deg
            self.here = _onto(last, entry.bearing_deg, self.here or last)
            return None
        return self.put(self._typed_point(last, entry))

    def _typed_point(self, last: XY, entry: Entry) -> XY:
        if entry.step_m is not None:
            return last[0] + entry.step_m[0], last[1] + entry.step_m[1]
        toward = self.here or last
        if entry.falls:
            return fallen(self.world, last, entry, toward)
        length = entry.length_m or 0.0
        if abs(length) <= SAME_M:
            raise BadData("A length of nothing puts no point.")
        if entry.bearing_deg is not None:
            return along(last, entry.bearing_deg, length)
        if self.bearing_deg is not None:
            return along(last, self.bearing_deg, length)
        if distance(last, toward) <= SAME_M:
            raise BadData(
                "Which way? The pointer stands on the last point.",
                remedy="Move the pointer, or type the bearing too: 12.5 at 45.",
            )
        return along(last, bearing(last, toward), length)

    def finish(self) -> Edit | None:
        """Make of the stroke what it is for; the stroke stays when that fails."""
        if len(self.points) < self.least:
            raise BadData(
                f"{self.label}: {self.least} points are needed, there are {len(self.points)}.",
                remedy="Put another point, or press Escape to leave.",
            )
        edit = self.made(tuple(self.points))
        self.cancel()
        return edit

    def cancel(self) -> None:
        """Forget the stroke."""
        self.points = []
        self.caught = None
        self.bearing_deg = None

    def path(self) -> list[XY]:
        """Return the points with the pointer as the next one."""
        more = self.here is not None and (not self.points or self.here != self.points[-1])
        return [*self.points, self.here] if more and self.here else list(self.points)

    def ghost(self) -> Ghost:
        """Return the stroke, its labels and what caught the pointer."""
        path = self.path()
        shapes = [GhostShape(Point(xy), "handle") for xy in self.points]
        drawn = shape_of(path, self.shape)
        if self.points and drawn is not None:
            shapes.insert(0, GhostShape(drawn, "area" if self.shape == "Polygon" else "line"))
        labels = stroke_labels(self.world, path, closed=self.shape == "Polygon")
        if isinstance(drawn, Polygon) and self.points and not drawn.is_valid:
            last = labels[-1]
            crossed = GhostLabel(last.x_m, last.y_m, last.words + "\nthe outline crosses itself")
            labels = (*labels[:-1], crossed)
        return Ghost(tuple(shapes), labels if self.points else (), self.caught)

    def _closes(self, xy: XY) -> bool:
        return (
            self.shape != "Point"
            and self.most == 0
            and len(self.points) > 2
            and distance(xy, self.points[0]) <= max(self._reach_m, SAME_M)
        )


def shape_of(points: Sequence[XY], shape: str) -> BaseGeometry | None:
    """Return points as a point, line or outline; as a line while an outline lacks its third."""
    if not points:
        return None
    if shape == "Point" or len(points) == 1:
        return Point(points[-1])
    return Polygon(points) if shape == "Polygon" and len(points) > 2 else LineString(points)


def _onto(start: XY, bearing_deg: float, xy: XY) -> XY:
    """Return the place on a bearing from `start` that is nearest to `xy`."""
    unit = along((0.0, 0.0), bearing_deg, 1.0)
    ahead = (xy[0] - start[0]) * unit[0] + (xy[1] - start[1]) * unit[1]
    return along(start, bearing_deg, ahead)
