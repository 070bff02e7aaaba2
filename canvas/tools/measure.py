"""Measuring, reading spots, drawing a section line: gestures that change nothing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from shapely.geometry import LineString, Point, Polygon

from canvas.base.fact import Fact
from canvas.site.edits import Edit
from canvas.study.kinds.common import area_facts, line_facts, point_facts
from canvas.tools.plane import XY
from canvas.tools.pointer import BaseTool, Ghost, GhostLabel, GhostShape, Pointer, Snap
from canvas.tools.trace import PathTool, shape_of
from canvas.tools.world import ToolWorld

Told = Callable[[tuple[Fact, ...]], None]


class MeasureTool(PathTool):
    """Measure lengths along a line or the area of an outline: on grid, ellipsoid and ground."""

    def __init__(
        self, world: ToolWorld, shape: str = "LineString", told: Told | None = None
    ) -> None:
        super().__init__(world)
        self.shape = shape
        self.least = 3 if shape == "Polygon" else 2
        self.key = "measure_area" if shape == "Polygon" else "measure_length"
        self.label = "Measure an area" if shape == "Polygon" else "Measure a length"
        self.facts: tuple[Fact, ...] = ()
        self._told = told
        self._kept: Ghost = Ghost()

    @property
    def prompt(self) -> str:
        """What to do now, in plain words."""
        return f"{self.label}: {super().prompt[0].lower()}{super().prompt[1:]}"

    def press(self, at: Pointer) -> Edit | None:
        """Put a point; a new stroke clears the figures of the last."""
        if not self.points:
            self.facts, self._kept = (), Ghost()
        return super().press(at)

    def made(self, points: Sequence[XY]) -> None:
        """Read the figures; they stay on the map until the next stroke."""
        geometry = shape_of(points, self.shape)
        assert geometry is not None
        scene = self.world.study
        if scene is not None:
            if isinstance(geometry, Polygon):
                self.facts = tuple(area_facts(geometry, scene))
            elif isinstance(geometry, LineString):
                self.facts = tuple(line_facts(geometry, scene))
        words = "\n".join(figure(fact, self.world) for fact in self.facts)
        spot = geometry.representative_point() if self.shape == "Polygon" else Point(points[-1])
        look = "area" if self.shape == "Polygon" else "line"
        self._kept = Ghost(
            (GhostShape(geometry, look),), (GhostLabel(spot.x, spot.y, words),) if words else ()
        )
        if self._told is not None:
            self._told(self.facts)

    def ghost(self) -> Ghost:
        """Return the stroke with its labels, or the last one with its figures."""
        return super().ghost() if self.points else replace(self._kept, snap=self.caught)

    def key_press(self, name: str) -> Edit | None:
        """Escape clears the figures too."""
        if name == "escape":
            self.facts, self._kept = (), Ghost()
        return super().key_press(name)


def figure(fact: Fact, world: ToolWorld) -> str:
    """Return a fact as a line beside the pointer."""
    basis = f" {fact.basis}" if fact.basis else ""
    return f"{fact.label} {fact.shown(world.units)}{basis}"


class SectionTool(PathTool):
    """Draw the line of a section; whoever asked for it is handed the line."""

    key = "section"
    label = "Section along a line"

    def __init__(self, world: ToolWorld, done: Callable[[LineString], None]) -> None:
        super().__init__(world)
        self._done = done
        self.line: LineString | None = None

    def made(self, points: Sequence[XY]) -> None:
        """Hand the line over; it stays on the map until the next."""
        self.line = LineString(points)
        self._done(self.line)

    def ghost(self) -> Ghost:
        """Return the stroke, or the last line drawn."""
        if self.points or self.line is None:
            return super().ghost()
        return Ghost((GhostShape(self.line, "line"),), (), self.caught)


class SpotTool(BaseTool):
    """Click for everything known about a spot; the words stay until the next click."""

    key = "spot"
    label = "Read a spot"
    prompt = "Click a spot to read its height, slope and position."

    def __init__(self, world: ToolWorld, told: Told | None = None) -> None:
        self.world = world
        self.facts: tuple[Fact, ...] = ()
        self._spot: XY | None = None
        self._told = told
        self._snap: Snap | None = None

    def move(self, at: Pointer) -> None:
        """Follow the pointer and what catches it."""
        self._snap = self.world.snapper.snap(at, self.world.snaps)

    def press(self, at: Pointer) -> None:
        """Read the spot."""
        self.move(at)
        self._spot = self._snap.xy if self._snap else at.xy
        scene = self.world.study
        self.facts = tuple(point_facts(Point(self._spot), scene)) if scene is not None else ()
        if self._told is not None:
            self._told(self.facts)

    def typed(self, words: str) -> None:
        """Read a typed position."""
        entry = self.world.read(words)
        if entry.position_m is not None:
            self.press(Pointer(*entry.position_m, 0.0, alt=True))

    def ghost(self) -> Ghost:
        """Return the spot and its figures."""
        if self._spot is None:
            return Ghost(snap=self._snap)
        words = "\n".join(figure(fact, self.world) for fact in self.facts)
        labels = (GhostLabel(*self._spot, words),) if words else ()
        return Ghost((GhostShape(Point(self._spot), "hit"),), labels, self._snap)

    def cancel(self) -> None:
        """Clear the figures."""
        self._spot, self.facts = None, ()
