"""Gathers what exists on and about the land as named shapes in the site's CRS."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
import shapely.affinity
import shapely.geometry
from rasterio import Affine
from rasterio.features import shapes

from . import plan
from .frame import AERIAL, GROUND, ORIGIN_E, ORIGIN_N
from .landscape import Feature
from .scene import Scene
from .trees import SPECIES

Shape = shapely.Geometry


def placed(shape: Shape) -> Shape:
    """Move a shape from local metres to the site's CRS, rounded to the centimetre."""
    moved = shapely.transform(shape, lambda xy: np.round(xy + np.array([ORIGIN_E, ORIGIN_N]), 2))
    return moved if moved.is_valid else shapely.make_valid(moved)


def gather(scene: Scene) -> list[Feature]:
    """Return every feature of the landscape, the boundary first; the same list each time."""
    around = shapely.box(*AERIAL.bounds)
    found = [
        Feature("boundary", "Kestrel Rise", "ours", shapely.Polygon(plan.BOUNDARY), {}),
        *trees(scene),
        *fences(scene),
        *built(),
        *wires(),
        *wheels(scene),
        *water(scene),
        *vegetation(scene),
    ]
    out = []
    for f in found:
        cut = f.geometry
        if f.geometry.geom_type != "Point" and f.kind not in ("boundary", "watercourse"):
            cut = shapely.intersection(f.geometry, around)
        elif f.geometry.geom_type == "Point" and not shapely.intersects(f.geometry, around):
            continue
        out += [
            Feature(f.kind, f.name, f.owner, placed(part), f.facts)
            for part in shapely.get_parts(cut)
            if not part.is_empty
        ]
    return out


def trees(scene: Scene) -> list[Feature]:
    """Return each tree as a point with its size."""
    return [
        Feature(
            "tree",
            f"T{n:03d}",
            t.owner,
            shapely.Point(t.u, t.v),
            {
                "species": t.species,
                "common_name": SPECIES[t.species].common,
                "height_m": t.height_m,
                "crown_m": t.crown_m,
                "stem_cm": t.stem_cm,
                "alive": t.alive,
            },
        )
        for n, t in enumerate(scene.trees, 1)
    ]


def fences(scene: Scene) -> list[Feature]:
    """Return fence lines and the gates in them."""
    lines = scene.fences()
    names = ["boundary fence", "creek paddock fence"]
    names += ["north-west fence", "west fence", "south fence", "north fence"]
    names += ["road fence, east side", "road fence, north", "road fence, south"]
    out = []
    for name, line in zip(names, lines, strict=True):
        owner = "ours" if name in names[:2] else "neighbour"
        facts = {"height_m": 1.15, "build": "post and wire"}
        out.append(Feature("fence", name, owner, shapely.LineString(line).simplify(0.05), facts))
    for u, v, width, bearing, name in plan.GATES:
        owner = "neighbour" if "neighbour" in name else "ours"
        facts = {"width_m": width, "along_deg": bearing}
        out.append(Feature("gate", name, owner, shapely.Point(u, v), facts))
    return out


def rectangle(u: float, v: float, long: float, wide: float, turn: float) -> shapely.Polygon:
    """Return a rectangle on its middle, its length turned from east by degrees."""
    box = shapely.box(u - long / 2, v - wide / 2, u + long / 2, v + wide / 2)
    return shapely.affinity.rotate(box, turn, origin=(u, v))


def built() -> list[Feature]:
    """Return the neighbour's buildings and tanks, and the old trough on our side."""
    out = []
    for name, sizes, use in (
        ("neighbour's house", plan.HOUSE, "dwelling"),
        ("neighbour's hay shed", plan.SHED, "shed"),
        ("neighbour's old shed", plan.SMALL_SHED, "shed"),
    ):
        u, v, long, wide, turn, wall, ridge = sizes
        facts = {"use": use, "wall_m": wall, "ridge_m": ridge, "roof": "corrugated iron"}
        out.append(Feature("building", name, "neighbour", rectangle(u, v, long, wide, turn), facts))
    for n, (u, v, across, high) in enumerate(plan.ROUND_TANKS, 1):
        facts = {"across_m": across, "height_m": high}
        round_ = shapely.Point(u, v).buffer(across / 2)
        out.append(Feature("tank", f"neighbour's tank {n}", "neighbour", round_, facts))
    trough = shapely.Point(*plan.TROUGH).buffer(0.8)
    out.append(Feature("trough", "old trough", "ours", trough, {"height_m": 0.6}))
    return out


def wires() -> list[Feature]:
    """Return the power line, its poles, and the strip kept for it across our land."""
    line = shapely.LineString(plan.POLES)
    facts = {"clearance_m": plan.WIRE_LOW_M, "wires": "single-wire high voltage"}
    strip = shapely.intersection(line.buffer(6.0, cap_style="flat"), shapely.Polygon(plan.BOUNDARY))
    out = [
        Feature("overhead line", "rural power line", "public", line, facts),
        Feature("easement", "power line easement", "public", strip, {"width_m": 12.0}),
    ]
    for n, (u, v) in enumerate(plan.POLES, 1):
        facts = {"height_m": plan.POLE_HEIGHT_M}
        out.append(Feature("pole", f"pole {n}", "public", shapely.Point(u, v), facts))
    return out


def wheels(scene: Scene) -> list[Feature]:
    """Return the public road, the neighbour's drive and the old wheel tracks."""
    facts = {"width_m": plan.ROAD_WIDTH_M, "reserve_m": plan.RESERVE_M, "surface": "gravel"}
    road = shapely.LineString(scene.road).simplify(0.05)
    out = [Feature("public road", "Windmill Road", "public", road, facts)]
    drive = shapely.LineString(scene.drive).simplify(0.05)
    drive_facts = {"width_m": 3.0, "surface": "gravel"}
    out.append(Feature("track", "neighbour's drive", "neighbour", drive, drive_facts))
    for name, line in scene.tracks.items():
        shape = shapely.LineString(line).simplify(0.05)
        out.append(Feature("track", name, "ours", shape, {"width_m": 2.4, "surface": "earth"}))
    return out


def water(scene: Scene) -> list[Feature]:
    """Return the seasonal creek, its gullies, and the neighbour's dam at its full level."""
    ground = shapely.box(*GROUND.bounds)
    out = []
    for name, channel in plan.CHANNELS.items():
        line = shapely.LineString(scene.ground.lines[name]).simplify(0.15)
        facts = {
            "flow": "seasonal",
            "bed_m": round(2 * channel.half_m, 1),
            "depth_m": channel.depth_m,
        }
        title = "Kestrel Creek" if name == plan.TRUNK else name
        for part in shapely.get_parts(shapely.intersection(line, ground)):
            out.append(Feature("watercourse", title, "ours", part, facts))
    west, _, _, north = GROUND.bounds
    wet = (scene.ground.water_m > 0.25).astype(np.uint8)
    pieces = shapes(wet, mask=wet > 0, transform=Affine(1.0, 0.0, west, 0.0, -1.0, north))
    pools = [shapely.geometry.shape(geometry) for geometry, _ in pieces]
    dam = max(pools, key=lambda p: p.area).buffer(0.8).buffer(-0.8).simplify(0.4)
    depth = round(float(scene.ground.water_m.max()), 1)
    out.append(Feature("water body", "neighbour's dam", "neighbour", dam, {"depth_m": depth}))
    return out


def vegetation(scene: Scene) -> list[Feature]:
    """Return patches of standing plants, reeds along the creek, rocky ground and the bush."""
    out = []
    for name, corners, owner, cover, height in (
        ("bracken", plan.BRACKEN, "ours", "bracken", 0.8),
        ("scrub of the east gully", plan.SCRUB, "ours", "scrub", 1.5),
        ("tussock pasture", plan.TUSSOCK, "ours", "tussock grass", 0.7),
        ("hay stubble", plan.HAY, "neighbour", "stubble", 0.15),
    ):
        shape = shapely.Polygon(corners).buffer(-3).buffer(6).buffer(-3).simplify(0.3)
        out.append(Feature("vegetation", name, owner, shape, {"cover": cover, "height_m": height}))
    creek = scene.ground.lines[plan.TRUNK]
    ours = shapely.Polygon(plan.BOUNDARY)
    for n, (low, high) in enumerate(plan.REEDS, 1):
        run = creek[(creek[:, 0] > low) & (creek[:, 0] < high)]
        shape = shapely.LineString(run).buffer(4.0).simplify(0.3)
        owner = "ours" if shapely.contains(ours, shapely.Point(*run[len(run) // 2])) else "public"
        facts = {"cover": "reeds", "height_m": 1.6}
        out.append(Feature("vegetation", f"reed bed {n}", owner, shape, facts))
    out.append(Feature("vegetation", "remnant bush", "neighbour", bush(scene), {
        "cover": "open eucalypt woodland", "height_m": 15.0,
    }))  # fmt: skip
    for n, (u, v, size) in enumerate(plan.OUTCROPS, 1):
        shape = shapely.affinity.scale(shapely.Point(u, v).buffer(size), 1.15, 0.95)
        owner = "ours" if shapely.contains_xy(ours, u, v) else "neighbour"
        out.append(Feature("rock", f"outcrop {n}", owner, shape.simplify(0.2), {}))
    return out


def bush(scene: Scene) -> Shape:
    """Return the neighbour's bush: the crowns west of our land drawn together."""
    crowns = [
        shapely.Point(t.u, t.v).buffer(t.crown_m / 2 + 9)
        for t in scene.trees
        if t.owner == "neighbour" and t.u < -150 and t.v < 100
    ]
    whole = shapely.union_all(crowns).buffer(-9)
    largest: Any = max(shapely.get_parts(whole), key=lambda p: p.area)
    return shapely.difference(shapely.Polygon(largest.exterior), shapely.Polygon(plan.BOUNDARY))
