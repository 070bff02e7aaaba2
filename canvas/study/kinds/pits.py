"""Test pits: what they say of the soil."""

from __future__ import annotations

from canvas.base.errors import UserError
from canvas.base.fact import Fact
from canvas.site.elements.pits import TestPit
from canvas.study.kinds import common
from canvas.study.pits import REACH_M, pit_of
from canvas.study.scene import Parts, Scene, facts_of, parts_of
from canvas.water.soak import textures
from canvas.water.soils import CLASSES, Pit, pond_fitness


@parts_of("test_pit")
def pit_parts(item: TestPit, scene: Scene) -> Parts:
    """Return the point, and the ground it speaks for."""
    return {"shape": item.geometry, "reach": item.geometry.buffer(REACH_M)}


@facts_of("test_pit")
def pit_facts(item: TestPit, scene: Scene) -> list[Fact]:
    """Return where it is, its texture, soil group, soaking rate and fitness for ponds."""
    facts = common.point_facts(item.geometry, scene)
    try:
        pit = pit_of(item)
    except UserError as err:
        return [*facts, common.words("trouble", "Cannot be read", err.text())]
    return [*facts, *_depths(pit, scene, item), *soil_facts(pit)]


def _depths(pit: Pit, scene: Scene, item: TestPit) -> list[Fact]:
    ground = scene.terrain.height(item.geometry.x, item.geometry.y)
    facts = []
    for key, label, depth in (
        ("rock_level_m", "Rock", pit.rock_m), ("water_level_m", "Water in the pit", pit.water_m),
    ):  # fmt: skip
        if depth is not None and ground is not None:
            facts.append(common.level(key, label, ground - depth, scene))
    if pit.rock_m is None:
        facts.append(common.words("rock", "Rock", f"none down to {pit.depth_m:g} m"))
    return facts


def soil_facts(pit: Pit, basis: str = "") -> list[Fact]:
    """Return texture, group, rates and fitness; `basis` says whose word it is."""
    facts: list[Fact] = []
    if pit.texture is not None:
        facts.append(
            Fact("texture", "Texture", CLASSES[pit.texture], basis=basis or pit.texture_by,
                 source="soil_triangle")
        )  # fmt: skip
    if pit.clay is not None:
        remark = "" if pit.shares is not None else "the least its class can have"
        facts.append(Fact("clay_share", "Clay", pit.clay, "%", basis, remark=remark))
    if pit.group is not None:
        group, why = pit.group
        facts.append(
            Fact("soil_group", "Hydrologic soil group", str(group), basis=basis, remark=f"by {why}")
        )
    facts += _soaking(pit, basis)
    if pit.crumb is not None:
        facts.append(Fact("crumb_class", "Crumb test", float(pit.crumb), "count", basis,
                          remark=_crumb_words(pit)))  # fmt: skip
    fitness = pond_fitness(pit)
    facts.append(Fact("pond_soil", "For a pond", fitness.words(), basis=basis, source="ah590"))
    return facts


def _crumb_words(pit: Pit) -> str:
    if pit.dispersive:
        return "dispersive: build no pond or dam of it without an engineer"
    return "not dispersive" if pit.crumb == 1 else "slight: have it tested"


def _soaking(pit: Pit, basis: str) -> list[Fact]:
    facts = []
    if pit.soaked is not None:
        slowing = "still slowing at the end: soak the hole longer" if pit.soaked.slowing else ""
        facts += [
            Fact("falls_mm_h", "Level fell by", pit.soaked.falls_mm_h, "mm/h", basis,
                 remark=f"25 mm in {pit.soaked.minutes_per_25_mm:.3g} min"),
            Fact("soaks_mm_h", "Soil takes in", pit.soaked.soaks_mm_h, "mm/h", basis,
                 remark=slowing, source="porchet"),
        ]  # fmt: skip
    if pit.rate_mm_h is not None:
        facts.append(Fact("rate_mm_h", "Design soaking rate", pit.rate_mm_h, "mm/h", basis,
                          remark=_rate_words(pit), source="common_practice_water"))  # fmt: skip
    return facts


def _rate_words(pit: Pit) -> str:
    """Return what a rate rests on; by texture alone the sources differ widely."""
    if pit.soaked is not None:
        return "half of what was measured"
    spread = textures().get(pit.texture or "")
    other = f", others {spread.basic_mm_h[0]:g} to {spread.basic_mm_h[1]:g} mm/h" if (
        spread is not None and spread.basic_mm_h is not None
    ) else ""  # fmt: skip
    return f"by texture{other}: measure it"
