"""What the hand holds: makes the tool an action names, over the map's own world."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from canvas.desk.wording import plural
from canvas.site.records import Element, element_kinds

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow
    from canvas.tools.pointer import Tool
    from canvas.tools.world import ToolWorld

Maker = Callable[["ToolWorld", "DeskWindow"], "Tool"]


def makers() -> dict[str, Maker]:
    """Return how each tool is made, by the key of its action."""
    from canvas.tools.measure import MeasureTool, SectionTool, SpotTool
    from canvas.tools.move import MoveTool, TurnTool
    from canvas.tools.placings import placing
    from canvas.tools.repeat import RepeatTool
    from canvas.tools.reshape import ReshapeTool
    from canvas.tools.rework import BesideTool, FlipTool, LineUpTool, SplitTool
    from canvas.tools.water_ways import CatchmentTool, DropTool

    def drawing(kind: str, way: str = "") -> Maker:
        return lambda world, desk: placing(world, kind, way)

    return {
        **{f"draw.{kind}": drawing(kind) for kind in element_kinds()},
        "draw.building.outline": drawing("building", "draw"),
        "draw.firebreak.around": drawing("firebreak", "belt_around"),
        "draw.swale.free": drawing("swale", "draw"),
        "draw.drain.free": drawing("drain", "draw"),
        "measure.length": lambda w, d: MeasureTool(w, "LineString", d.show_measured),
        "measure.area": lambda w, d: MeasureTool(w, "Polygon", d.show_measured),
        "measure.spot": lambda w, d: SpotTool(w, d.show_measured),
        "measure.section": lambda w, d: SectionTool(w, d.show_section),
        "measure.drop": lambda w, d: DropTool(w, d.show_measured),
        "measure.catchment": lambda w, d: CatchmentTool(w, d.show_measured),
        "move": lambda w, d: MoveTool(w),
        "copy": lambda w, d: MoveTool(w, copies=True),
        "turn": lambda w, d: TurnTool(w),
        "flip": lambda w, d: FlipTool(w),
        "reshape": lambda w, d: ReshapeTool(w),
        "split": lambda w, d: SplitTool(w),
        "line_up": lambda w, d: LineUpTool(w),
        "beside": lambda w, d: BesideTool(w),
        # With nothing selected, trees are what is repeated.
        "repeat_line": lambda w, d: RepeatTool(w, "LineString", "" if w.selection else "tree"),
        "repeat_area": lambda w, d: RepeatTool(w, "Polygon", "" if w.selection else "tree"),
    }


def take(desk: DeskWindow, key: str) -> None:
    """Take a tool in hand; taking the one held lays it aside, "choose" empties the hand."""
    if key == "choose" or holds(desk, key):
        desk.held = ""
        desk.bench.set_tool(None)
    else:
        tool = makers()[key](desk.map.world, desk)
        desk.held = key
        desk.bench.set_tool(tool)
        desk.held = key
    desk.map.setFocus()


def holds(desk: DeskWindow, key: str) -> bool:
    """Whether the tool of an action is in hand."""
    if key == "choose":
        return desk.bench.tool is None
    return desk.bench.tool is not None and desk.held == key


def counted(items: Sequence[Element]) -> str:
    """Return "3 elements"."""
    return plural(len(items), "element")
