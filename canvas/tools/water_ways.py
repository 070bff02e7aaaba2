"""Where water goes from a place and whence it comes: gestures that change nothing."""

from __future__ import annotations

from collections.abc import Callable

from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData
from canvas.base.fact import Fact
from canvas.base.quantity import area_unit, show
from canvas.study.ground_lines import drop
from canvas.study.study import Study
from canvas.study.waters import AT_LEAST
from canvas.tools.measure import SpotTool, Told, figure
from canvas.tools.pointer import Ghost, GhostLabel, GhostShape, Pointer
from canvas.tools.world import ToolWorld

#: (study, easting, northing) → what to show and to tell; `BadData` when there is nothing.
Answer = Callable[[Study, float, float], tuple[BaseGeometry, tuple[Fact, ...]]]


class WaterTool(SpotTool):
    """Click a place; its answer about water stays on the map until the next click."""

    def __init__(
        self, world: ToolWorld, told: Told | None, answer: Answer, look: str = "line"
    ) -> None:
        super().__init__(world, told)
        self.found: BaseGeometry | None = None
        self._answer = answer
        self._look = look

    def press(self, at: Pointer) -> None:
        """Ask about the place."""
        self.move(at)
        self._spot = self._snap.xy if self._snap else at.xy
        self.found, self.facts = None, ()
        study = self.world.study
        if study is not None:
            try:
                self.found, self.facts = self._answer(study, *self._spot)
            except BadData as err:
                self.facts = (Fact("trouble", "No answer", err.what),)
        if self._told is not None:
            self._told(self.facts)

    def ghost(self) -> Ghost:
        """Return the answer with its figures."""
        if self._spot is None:
            return Ghost(snap=self._snap)
        words = "\n".join(figure(fact, self.world) for fact in self.facts)
        shapes = [GhostShape(Point(self._spot), "hit")]
        if self.found is not None:
            shapes.insert(0, GhostShape(self.found, self._look))
        labels = (GhostLabel(*self._spot, words),) if words else ()
        return Ghost(tuple(shapes), labels, self._snap)

    def cancel(self) -> None:
        """Clear the answer."""
        super().cancel()
        self.found = None


class DropTool(WaterTool):
    """Follow one drop from a click over the ground as designed to the edge of the data."""

    key = "drop"
    label = "Way of a drop"
    prompt = "Click a place to follow its water down."

    def __init__(self, world: ToolWorld, told: Told | None = None) -> None:
        super().__init__(world, told, _way_of_a_drop)


class CatchmentTool(WaterTool):
    """Show what drains to a click over the ground as designed."""

    key = "catchment"
    label = "Catchment of a place"
    prompt = "Click a place to see what drains to it."

    def __init__(self, world: ToolWorld, told: Told | None = None) -> None:
        super().__init__(world, told, _catchment, "area")


def _way_of_a_drop(study: Study, x_m: float, y_m: float) -> tuple[BaseGeometry, tuple[Fact, ...]]:
    found = drop(study, x_m, y_m, designed=True)
    return found.geometry, found.facts


def _catchment(study: Study, x_m: float, y_m: float) -> tuple[BaseGeometry, tuple[Fact, ...]]:
    found = study.catchment(Point(x_m, y_m), designed=True)
    area, remark = found.area_m2, AT_LEAST if found.at_least else ""
    told = Fact(
        "catchment_m2", "Drains here", area, area_unit(area), basis="on the grid", remark=remark
    )
    return found.outline(), (told, *_in_the_storm(study, x_m, y_m))


def _in_the_storm(study: Study, x_m: float, y_m: float) -> list[Fact]:
    """Return what the design storm brings to a place; nothing while no storm is known."""
    rain = study.design_storm()
    if not rain.known:
        return []
    found = study.peak(Point(x_m, y_m))
    low, high = found.peaks.low_m3s, found.peaks.high_m3s
    spread = f"{show(low, 'm3/s')} to {show(high, 'm3/s')} by method"
    return [
        Fact("runoff_m3", "Runoff", found.runoff_m3, "m3", rain.said(), remark=found.remark),
        Fact("peak_m3s", "Peak", high, "m3/s", spread, remark=found.remark),
    ]
