"""Plants: patches, trees, rows, hedges, beds."""

from __future__ import annotations

from dataclasses import dataclass

import shapely
from shapely import MultiPoint, MultiPolygon, Point

from canvas.base.fact import Fact
from canvas.base.grid import Floats
from canvas.base.sources import cites
from canvas.planting import species
from canvas.planting.growth import (
    CROWN_SHAPE,
    DEFAULT_YEARS,
    HEIGHT_SHAPE,
    closure_years,
    size_after,
)
from canvas.planting.layouts import along_line, hedge_plants
from canvas.site.elements.vegetation import GardenBed, Hedge, Tree, TreeRow, Vegetation
from canvas.study.kinds import common
from canvas.study.kinds.shapes import QUARTER, band, disc
from canvas.study.scene import Parts, Scene, facts_of, parts_of

#: Crown of a tree nobody has described; common practice, no source.
CROWN_M = 4.0
#: Least and greatest reach of a root zone [m].
ROOTS_M = (2.0, 15.0)


@parts_of("vegetation")
def vegetation_parts(item: Vegetation, scene: Scene) -> Parts:
    """Return the patch."""
    return {"shape": item.geometry}


@facts_of("vegetation")
def vegetation_facts(item: Vegetation, scene: Scene) -> list[Fact]:
    """Return areas, height and cover."""
    return [
        *common.area_facts(item.geometry, scene),
        Fact("height_m", "Height", item.height_m, "m"),
        common.ratio("crown_cover", "Crown cover", item.crown_cover),
    ]


@dataclass(frozen=True, slots=True)
class Grown:
    """What a tree becomes: as stated, else by its species, else by habit."""

    height_m: float | None
    crown_m: float
    years: float


def grown(item: Tree) -> Grown:
    """Return a tree's size at maturity and the years it takes; never less than it has now."""
    known = species.find(item.species) if item.species else None
    height = item.mature_height_m or (known.height_m if known else None)
    crown = item.mature_crown_m or (known.crown_m if known else None)
    years = item.years_to_mature or (known.years_to_mature if known else None)
    height = max(height or 0.0, item.height_m or 0.0) or None
    return Grown(
        height,
        max(crown or 0.0, item.crown_m or 0.0) or CROWN_M,
        years or DEFAULT_YEARS,
    )


def crown_m(item: Tree, year: int) -> float:
    """Return a tree's crown diameter in the year looked at."""
    becomes = grown(item)
    if item.status == "existing" and item.crown_m is None:
        return becomes.crown_m
    return size_after(float(year), becomes.crown_m, becomes.years, CROWN_SHAPE, now=item.crown_m)


def tree_height_m(item: Tree, year: int) -> float | None:
    """Return a tree's height in the year looked at; None when nothing is known of it."""
    becomes = grown(item)
    if becomes.height_m is None or (item.status == "existing" and item.height_m is None):
        return becomes.height_m
    return size_after(float(year), becomes.height_m, becomes.years, HEIGHT_SHAPE, now=item.height_m)


@cites("vmc_20_170", "as4970")
def root_zone_m(item: Tree) -> float:
    """Return how far from the stem of a tree that stays the ground is to be left alone [m].

    Twelve stem diameters, 2 to 15 m (the ends from memory); of an unmeasured stem its crown's
    radius.
    """
    if item.stem_cm is None:
        return max(crown_m(item, 0) / 2, ROOTS_M[0])
    return min(max(0.12 * item.stem_cm, ROOTS_M[0]), ROOTS_M[1])


@parts_of("tree")
def tree_parts(item: Tree, scene: Scene) -> Parts:
    """Return stem, crown in the year looked at, and crown at maturity."""
    stem = item.geometry
    roots = {"root_zone": disc(stem, 2 * root_zone_m(item))} if item.status == "existing" else {}
    return {
        **roots,
        "shape": stem,
        "stem": stem,
        "crown": disc(stem, crown_m(item, scene.year)),
        "crown_mature": disc(stem, grown(item).crown_m),
    }


@facts_of("tree")
def tree_facts(item: Tree, scene: Scene) -> list[Fact]:
    """Return where it is and its sizes now, in the year looked at, and at maturity."""
    year = scene.year
    becomes = grown(item)
    facts = [
        *common.point_facts(item.geometry, scene),
        Fact("height_m", f"Height in year {year}", tree_height_m(item, year), "m",
             remark="growth may differ by half"),
        Fact("crown_m", f"Crown in year {year}", crown_m(item, year), "m"),
        Fact("mature_height_m", "Height at maturity", becomes.height_m, "m"),
        Fact("mature_crown_m", "Crown at maturity", becomes.crown_m, "m"),
    ]  # fmt: skip
    if item.stem_cm is not None:
        facts.append(Fact("stem_cm", "Stem diameter", item.stem_cm, "cm"))
    if item.status == "existing":
        facts.append(
            Fact(
                "root_zone_m",
                "Roots to leave alone, from the stem",
                root_zone_m(item),
                "m",
                source="vmc_20_170" if item.stem_cm is not None else "",
                remark="twelve stem diameters" if item.stem_cm is not None else "by its crown",
            )
        )
    if item.clear_stem_m is not None:
        facts.append(Fact("clear_stem_m", "Lowest branch", item.clear_stem_m, "m"))
    return facts


def _crowns(xy: Floats, diameter_m: float) -> MultiPolygon:
    discs = shapely.buffer([Point(spot) for spot in xy], diameter_m / 2, quad_segs=QUARTER)
    return MultiPolygon(list(discs))


def row_crown_m(item: TreeRow, year: int) -> float:
    """Return the crown diameter of a row's trees in the year looked at."""
    if item.status == "existing":
        return item.mature_crown_m
    return size_after(float(year), item.mature_crown_m, item.years_to_mature, CROWN_SHAPE)


def row_root_zone_m(item: TreeRow) -> float:
    """Return how far from the stems of a row that stays the ground is to be left alone [m]."""
    return max(row_crown_m(item, 0) / 2, ROOTS_M[0])


@parts_of("tree_row")
def row_parts(item: TreeRow, scene: Scene) -> Parts:
    """Return the line, the stems, and the crowns in the year looked at and at maturity.

    Crowns may overlap: they are discs side by side, not one outline.
    """
    xy = along_line(item.geometry, item.spacing_m)
    roots = {}
    if item.status == "existing":
        roots["root_zone"] = shapely.union_all(list(_crowns(xy, 2 * row_root_zone_m(item)).geoms))
    return {
        **roots,
        "shape": item.geometry,
        "centre_line": item.geometry,
        "plants": MultiPoint(xy),
        "crown": _crowns(xy, row_crown_m(item, scene.year)),
        "crown_mature": _crowns(xy, item.mature_crown_m),
    }


@facts_of("tree_row")
def row_facts(item: TreeRow, scene: Scene) -> list[Fact]:
    """Return lengths, number of trees, sizes, and when the crowns meet."""
    plants = int(shapely.get_num_geometries(scene.parts(item.id)["plants"]))
    closes = closure_years(item.spacing_m, item.mature_crown_m, item.years_to_mature)
    facts = [
        *common.line_facts(item.geometry, scene),
        common.count("plants", "Trees", plants),
        Fact("spacing_m", "Spacing", item.spacing_m, "m", basis="on the level"),
        Fact("crown_m", f"Crown in year {scene.year}", row_crown_m(item, scene.year), "m"),
        Fact("mature_crown_m", "Crown at maturity", item.mature_crown_m, "m"),
        Fact("mature_height_m", "Height at maturity", item.mature_height_m, "m"),
    ]
    if item.status == "existing":
        facts.append(
            Fact("root_zone_m", "Roots to leave alone, from the stems", row_root_zone_m(item),
                 "m", remark="by their crowns")
        )  # fmt: skip
    if closes is not None:
        facts.append(
            Fact("closes_years", "Crowns meet after", closes, "years",
                 remark="growth may differ by half")
        )  # fmt: skip
    return facts


@parts_of("hedge")
def hedge_parts(item: Hedge, scene: Scene) -> Parts:
    """Return the line, the plants, and the strip it fills."""
    xy = hedge_plants(
        item.geometry,
        rows=item.rows,
        row_gap_m=item.row_gap_m,
        spacing_m=item.spacing_m,
        staggered=item.staggered,
    )
    strip = band(item.geometry, item.width_m)
    return {
        "shape": item.geometry,
        "centre_line": item.geometry,
        "plants": MultiPoint(xy),
        "edge": strip,
        "crown": strip,
        "crown_mature": strip,
    }


@facts_of("hedge")
def hedge_facts(item: Hedge, scene: Scene) -> list[Fact]:
    """Return lengths, number of plants and sizes."""
    return [
        *common.line_facts(item.geometry, scene),
        common.count(
            "plants", "Plants", int(shapely.get_num_geometries(scene.parts(item.id)["plants"]))
        ),
        common.count("rows", "Rows", item.rows),
        Fact("height_m", "Height kept", item.height_m, "m"),
        Fact("width_m", "Width kept", item.width_m, "m"),
    ]


@parts_of("garden_bed")
def bed_parts(item: GardenBed, scene: Scene) -> Parts:
    """Return the bed."""
    return {"shape": item.geometry, "bed": item.geometry}


@facts_of("garden_bed")
def bed_facts(item: GardenBed, scene: Scene) -> list[Fact]:
    """Return areas and the mulch it takes."""
    mulch = item.geometry.area * item.mulch_mm / 1000
    facts = common.area_facts(item.geometry, scene)
    if mulch:
        facts.append(Fact("mulch_m3", "Mulch", mulch, "m3", basis="loose"))
    return facts
