"""The land a plan lies on: its ground, and how its grid lies on the Earth."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

from pyproj import CRS
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData, UserError
from canvas.base.grid import Grid
from canvas.exchange import rasters
from canvas.ground.crs import site_crs
from canvas.ground.measure import GridOnEarth, grid_on_earth, stretch_problem
from canvas.site.elements.land import SiteBoundary
from canvas.site.facts import Ground
from canvas.site.plan import Plan


@dataclass(frozen=True, eq=False)
class Land:
    """What the plan stands on. Immutable: a new ground makes a new land."""

    crs: CRS
    #: Heights as surveyed, or None while there is no ground.
    grid: Grid | None
    #: Source, date and accuracy of the ground.
    ground: Ground | None
    #: Convergence and scale at the site's middle; None while the site has no place.
    earth: GridOnEarth | None
    #: Why the ground could not be read, or the grid is unfit here; "" when all is well.
    trouble: str = ""
    #: Where the site lies; None for one that is on no disk.
    folder: Path | None = None

    @classmethod
    def load(cls, plan: Plan, folder: Path) -> Land:
        """Read the ground in use; a missing or unreadable file is noted, not raised."""
        crs = site_crs(plan.site.crs)
        ground = next((g for g in plan.of(Ground) if g.in_use), None)
        grid, trouble = None, ""
        if ground is not None:
            try:
                grid = rasters.open_grid(folder / ground.file)
            except UserError as err:
                trouble = err.text()
        earth = _earth(plan, crs, grid)
        unfit = stretch_problem(earth) if earth is not None else ""
        if unfit:
            unfit = f"{plan.site.crs}: {unfit}.\nBegin the site anew in the UTM zone of its place."
        return cls(crs, grid, ground, earth, "\n".join(filter(None, (unfit, trouble))), folder)

    def same_as(self, plan: Plan) -> bool:
        """Return whether this is still the land of a later plan."""
        ground = next((g for g in plan.of(Ground) if g.in_use), None)
        moved = self.earth is None and any(True for _ in plan.elements())
        return ground == self.ground and not moved and site_crs(plan.site.crs) == self.crs


def _earth(plan: Plan, crs: CRS, grid: Grid | None) -> GridOnEarth | None:
    outlines: list[BaseGeometry] = [item.geometry for item in plan.of(SiteBoundary)]
    if not outlines and grid is not None:
        outlines = [box(*grid.bounds)]
    if not outlines:
        outlines = [item.geometry for item in plan.elements()][:1]
    if not outlines:
        return None
    middle = outlines[0].representative_point()
    height = 0.0
    if grid is not None:
        sampled = float(grid.sample(middle.x, middle.y))
        height = sampled if math.isfinite(sampled) else 0.0
    try:
        return grid_on_earth(crs, middle.x, middle.y, height)
    except Exception as err:
        raise BadData(
            f"the site lies where {crs.name} is not defined ({err})",
            remedy="Choose the coordinate system of the site's region.",
        ) from err
