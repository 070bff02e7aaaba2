"""The landscape of Kestrel Rise as plain data in the site's CRS (EPSG:7854, metres).

``load()`` reads the committed `boundary.geojson` and `existing.geojson` and returns a `Landscape`:

- ``boundary``: shapely Polygon, about 7 ha.
- ``features``: list of `Feature` (``kind``, ``name``, ``owner``, ``geometry``, ``facts``);
  ``of(kind)`` and ``named(name)`` pick from it. ``owner`` is "ours", "neighbour" or "public".

Kinds, their geometry, and their facts (units in the names):

========================  ==========  ===========================================================
tree                      Point       species, common_name, height_m, crown_m, stem_cm, alive
fence                     LineString  height_m, build
gate                      Point       width_m, along_deg (of the fence, counter-clockwise from east)
building                  Polygon     use ("dwelling" or "shed"), wall_m, ridge_m, roof
tank, trough              Polygon     height_m
overhead line, pole       Line, Point clearance_m, wires; height_m
easement                  Polygon     width_m
public road, track        LineString  width_m, surface; the road has reserve_m
watercourse               LineString  flow, bed_m, depth_m; drawn downstream
water body                Polygon     depth_m (at its full level)
vegetation                Polygon     cover, height_m
rock                      Polygon
========================  ==========  ===========================================================

Names worth knowing: "Kestrel Creek", "south-west gully", "spur gully", "east gully",
"north gully"; "boundary fence", "creek paddock fence"; "old paddock gate", "creek paddock gate";
"Windmill Road"; "rural power line"; "neighbour's house", "neighbour's dam"; "bracken",
"scrub of the east gully", "tussock pasture", "reed bed 1" …, "remnant bush".
`spots` says where a family's design would go.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import shapely
import shapely.geometry
from pyproj import Transformer

from .frame import EPSG

FOLDER = Path(__file__).resolve().parent.parent
GROUND_TIF = FOLDER / "ground.tif"
AERIAL_TIF = FOLDER / "aerial.tif"
BOUNDARY_JSON = FOLDER / "boundary.geojson"
EXISTING_JSON = FOLDER / "existing.geojson"


@dataclass(frozen=True)
class Feature:
    """One thing that is there: kind, name, owner, geometry in the site's CRS, and its facts."""

    kind: str
    name: str
    owner: str
    geometry: shapely.Geometry
    facts: dict[str, Any]


@dataclass(frozen=True)
class Landscape:
    """The boundary and everything on and about it."""

    boundary: shapely.Polygon
    features: list[Feature]

    def of(self, kind: str) -> list[Feature]:
        """Return the features of one kind."""
        return [f for f in self.features if f.kind == kind]

    def named(self, name: str) -> Feature:
        """Return the first feature with a name; KeyError if there is none."""
        for f in self.features:
            if f.name == name:
                return f
        raise KeyError(name)


@cache
def mover(source: int, target: int) -> Transformer:
    """Return the way from one EPSG code to another, east or longitude first."""
    return Transformer.from_crs(source, target, always_xy=True)


def turned(shape: shapely.Geometry, source: int, target: int) -> shapely.Geometry:
    """Return a shape carried from one EPSG code to another, east or longitude first."""
    move = mover(source, target)
    return shapely.transform(shape, lambda xy: np.column_stack(move.transform(*xy.T)))


def load() -> Landscape:
    """Read the committed vector files into the site's CRS."""
    found = []
    for path in (BOUNDARY_JSON, EXISTING_JSON):
        for item in json.loads(path.read_text(encoding="utf-8"))["features"]:
            facts = dict(item["properties"])
            kind, name, owner = facts.pop("kind"), facts.pop("name"), facts.pop("owner")
            shape = turned(shapely.geometry.shape(item["geometry"]), 4326, EPSG)
            found.append(Feature(kind, name, owner, shape, facts))
    boundary, *rest = found
    assert isinstance(boundary.geometry, shapely.Polygon)
    return Landscape(boundary.geometry, rest)
