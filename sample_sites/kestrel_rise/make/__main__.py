"""Make everything again: ``python -m sample_sites.kestrel_rise.make`` (about a minute)."""

from __future__ import annotations

import sys
import time

from . import features, files, landscape, plan, render, terrain, trees
from .frame import AERIAL, GROUND
from .scene import Scene


def scene() -> Scene:
    """Return the ground with its trees, from the numbers and the seed alone."""
    ground = terrain.make()
    return Scene(ground, trees.all_trees(ground.lines[plan.TRUNK]))


def main() -> None:
    """Write the four files, telling what each took."""
    began = time.monotonic()

    def tell(what: str) -> None:
        print(f"{what} at {time.monotonic() - began:.0f} s", file=sys.stderr)

    made = scene()
    files.write_ground(landscape.GROUND_TIF, made.ground.z, GROUND)
    tell("ground")
    boundary, *existing = features.gather(made)
    files.write_vectors(landscape.BOUNDARY_JSON, [boundary])
    files.write_vectors(landscape.EXISTING_JSON, existing)
    tell("features")
    files.write_aerial(landscape.AERIAL_TIF, render.paint(made, AERIAL), AERIAL)
    tell("aerial")


if __name__ == "__main__":
    main()
