"""What the picture is painted from: the ground with its wet places, the water lines, the trees."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from rasterio import Affine
from rasterio.features import rasterize
from scipy.ndimage import gaussian_filter, map_coordinates, spline_filter
from shapely import LineString

from . import paths, plan
from .frame import GROUND, Floats, Window
from .noise import lattice
from .terrain import Ground
from .trees import Tree


@dataclass(frozen=True)
class Scene:
    """The ground and what stands on it, asked for window by window."""

    ground: Ground
    trees: list[Tree]

    @cached_property
    def layers(self) -> dict[str, Floats]:
        """Return layers over the whole ground; the level as spline weights."""
        z, area = self.ground.z, self.ground.area_m2
        gv, gu = np.gradient(gaussian_filter(z, 2.0))
        slope = np.hypot(gu, gv)
        spread = gaussian_filter(np.log10(area), 2.2)
        # Water stays where much ground drains to a place and the place is flat.
        wet = spread - 2.0 * np.log10(np.maximum(slope, 0.02) / 0.12)
        hollow = gaussian_filter(z, 14.0) - gaussian_filter(z, 3.0)
        vale = gaussian_filter(z, 42.0) - gaussian_filter(z, 9.0)
        # South-facing ground keeps some green in summer here: north is the sunny side.
        north = gaussian_filter(gv, 5.0)
        layers = {
            "z": z, "slope": slope, "wet": wet, "hollow": hollow,
            "sunny": north, "vale": vale, "water": self.ground.water_m,
        }  # fmt: skip
        return layers | {"z": spline_filter(z, order=3).astype(np.float64)}

    def on(self, name: str, window: Window) -> Floats:
        """Return a ground layer on a window: bilinear between cells."""
        west, south, _, _ = GROUND.bounds
        half = GROUND.cell / 2
        return lattice(self.layers[name][::-1], west + half, south + half, GROUND.cell, window)

    def levels(self, window: Window) -> Floats:
        """Return the ground's level on a window, smooth between cells so that light is too."""
        west, _, _, north = GROUND.bounds
        x = (window.u() - west) / GROUND.cell - 0.5
        y = (north - window.v()) / GROUND.cell - 0.5
        yy, xx = np.meshgrid(y, x, indexing="ij")
        return np.asarray(
            map_coordinates(self.layers["z"], [yy, xx], order=3, mode="nearest", prefilter=False)
        )

    @cached_property
    def road(self) -> Floats:
        """Return the road's centre line, rounded."""
        return paths.eased(plan.ROAD, 18.0)

    @cached_property
    def tracks(self) -> dict[str, Floats]:
        """Return the old wheel tracks' centre lines, rounded."""
        return {name: paths.eased(line, 7.0) for name, line in plan.TRACKS.items()}

    @cached_property
    def road_fords(self) -> list[Floats]:
        """Return the water lines that the public road crosses."""
        road = LineString(self.road)
        return [line for line in self.ground.lines.values() if road.crosses(LineString(line))]

    @cached_property
    def drive(self) -> Floats:
        """Return the neighbour's drive, rounded."""
        return paths.eased(plan.DRIVE, 4.0)

    def prepare(self) -> None:
        """Work out what all windows share, before several are painted at once."""
        for name in ("layers", "road", "tracks", "road_fords", "drive"):
            getattr(self, name)

    def fences(self) -> list[Floats]:
        """Return every fence line: boundary, cross fence, neighbours' and the road's far side."""
        ring = np.array((*plan.BOUNDARY, plan.BOUNDARY[0]), dtype=float)
        lines = [ring, np.array(plan.CROSS_FENCE)]
        lines += [np.array(line) for line in plan.OUTER_FENCES]
        return [*lines, *self.road_fences()]

    def road_fences(self) -> list[Floats]:
        """Return the fences of the road reserve where the boundary is not itself the fence."""
        road = paths.even(self.road, 6.0)
        ahead = np.gradient(road, axis=0)
        ahead /= np.hypot(ahead[:, 0], ahead[:, 1])[:, None]
        left = np.column_stack([-ahead[:, 1], ahead[:, 0]]) * (plan.RESERVE_M / 2)
        west, east = road + left, road - left
        north_end, south_end = np.array([[150.0, 137.0]]), np.array([[141.0, -112.0]])
        return [
            east,
            np.vstack([north_end, west[west[:, 1] > 146]]),
            np.vstack([west[west[:, 1] < -122], south_end]),
        ]


def polygon_mask(window: Window, corners: object, soft_m: float) -> Floats:
    """Return 1 inside a polygon and 0 outside, its edge spread over `soft_m`."""
    west, _, _, north = window.bounds
    ring = [(float(u), float(v)) for u, v in corners]  # type: ignore[attr-defined]
    shape = {"type": "Polygon", "coordinates": [[*ring, ring[0]]]}
    transform = Affine(window.cell, 0.0, west, 0.0, -window.cell, north)
    mask = rasterize([shape], out_shape=window.shape, transform=transform, dtype="uint8")
    if not mask.any():
        return np.zeros(window.shape)
    return np.asarray(gaussian_filter(mask.astype(np.float64), soft_m / window.cell, truncate=3))
