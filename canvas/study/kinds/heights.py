"""Measured heights: where they are, and how the ground's data differ from them."""

from __future__ import annotations

from shapely.geometry.base import BaseGeometry

from canvas.base.errors import UserError
from canvas.base.fact import Fact
from canvas.site.elements.heights import SpotHeight, SurveyLine
from canvas.study.kinds import common
from canvas.study.making import line_heights
from canvas.study.scene import Parts, Scene, facts_of, parts_of


@parts_of("spot_height", "survey_line")
def heights_parts(item: SpotHeight | SurveyLine, scene: Scene) -> Parts:
    """Return the shape alone."""
    shape: BaseGeometry = item.geometry
    return {"shape": shape}


@facts_of("spot_height")
def spot_facts(item: SpotHeight, scene: Scene) -> list[Fact]:
    """Return where it is, its height, and how the ground's data differ."""
    facts = common.point_facts(item.geometry, scene)
    ground = scene.terrain.height(item.geometry.x, item.geometry.y)
    facts.append(Fact("height_m", "Measured height", item.height_m, "m", basis=scene.terrain.datum))
    if ground is not None and item.height_m is not None:
        facts.append(Fact("ground_differs_m", "Ground data differ by", ground - item.height_m, "m"))
    return facts


@facts_of("survey_line")
def line_facts(item: SurveyLine, scene: Scene) -> list[Fact]:
    """Return lengths, heights, and whether they can be used."""
    facts = common.line_facts(item.geometry, scene)
    try:
        z = line_heights(item)[:, 2]
    except UserError as err:
        return [*facts, common.words("trouble", "Cannot be used", err.text())]
    return [
        *facts,
        Fact("lowest_m", "Lowest height given", float(z.min()), "m"),
        Fact("highest_m", "Highest height given", float(z.max()), "m"),
    ]
