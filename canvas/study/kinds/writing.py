"""Notes and dimension lines."""

from __future__ import annotations

from canvas.base.fact import Fact
from canvas.site.elements.writing import Dimension, Note
from canvas.study.kinds import common
from canvas.study.scene import Parts, Scene, facts_of, parts_of


@parts_of("note")
def note_parts(item: Note, scene: Scene) -> Parts:
    """Return the point."""
    return {"shape": item.geometry}


@facts_of("note")
def note_facts(item: Note, scene: Scene) -> list[Fact]:
    """Return where it is."""
    return common.point_facts(item.geometry, scene)


@parts_of("dimension")
def dimension_parts(item: Dimension, scene: Scene) -> Parts:
    """Return the line measured."""
    return {"shape": item.geometry, "centre_line": item.geometry}


@facts_of("dimension")
def dimension_facts(item: Dimension, scene: Scene) -> list[Fact]:
    """Return the length written on the map, then every other one."""
    ground = scene.terrain.along(item.geometry) if item.basis == "ground" else None
    if ground is None:
        written = common.length("written_m", "Written", item.geometry.length)
    else:
        written = common.length("written_m", "Written", ground.length_m, common.SLOPING)
    return [written, *common.line_facts(item.geometry, scene)]
