"""Which coordinate system to offer a new site."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData, UserError
from canvas.exchange import rasters
from canvas.exchange.read import read_features
from canvas.ground.crs import site_crs, utm_epsg


def offered_crs(vectors: Sequence[Path], pictures: Sequence[Path] = ()) -> str:
    """Return "EPSG:n" for a site these files lie on.

    A picture's or ground's own projected CRS in metres is taken as it is; else the UTM zone of
    the first shape found. Raises `BadData` when no file says where it lies.
    """
    for path in pictures:
        crs = rasters.inspect_raster(path).crs
        if crs:
            try:
                code = site_crs(crs).to_epsg()
            except UserError:
                continue
            if code:
                return f"EPSG:{code}"
    for path in vectors:
        incoming = read_features(path, target_crs="EPSG:4326")
        if incoming.features:
            return f"EPSG:{utm_epsg(*_middle(incoming.features[0].geometry))}"
    raise BadData(
        "nothing says where the site lies",
        remedy="Name its coordinate system: a projected one in metres, such as EPSG:7854.",
    )


def _middle(shape: BaseGeometry) -> tuple[float, float]:
    """Return the middle of a shape in degrees, also where it lies over the 180th meridian."""
    lon, lat = np.radians(shapely.get_coordinates(shape)).T
    mean = np.arctan2(np.sin(lon).mean(), np.cos(lon).mean())
    return float(np.degrees(mean)), float(np.degrees(lat.mean()))


def checked_crs(given: str) -> str:
    """Return a typed CRS when a site can lie in it; raise `BadData` with the way out if not."""
    site_crs(given)
    return given
