"""Writes the ground, the aerial and the vector files, small and the same each time."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import rasterio
import rasterio.shutil
import shapely
from numpy.typing import NDArray
from rasterio.io import MemoryFile

from .frame import EPSG, HEIGHTS, NAME, ORIGIN_E, ORIGIN_N, PHOTO_TIME, Floats, Window
from .landscape import Feature, turned

DEGREE_DIGITS = 8  # about a millimetre
JPEG_QUALITY = 90


def placing(window: Window) -> rasterio.Affine:
    """Return the transform of a local window in the site's CRS."""
    west, north = window.west + ORIGIN_E, window.north + ORIGIN_N
    return rasterio.Affine(window.cell, 0.0, west, 0.0, -window.cell, north)


def write_ground(path: Path, z: Floats, window: Window) -> None:
    """Write levels as 32-bit GeoTIFF, whole centimetres so that they pack well."""
    values = np.round(z, 2).astype(np.float32)
    with rasterio.open(
        path, "w", driver="GTiff", width=window.cols, height=window.rows, count=1,
        dtype="float32", crs=f"EPSG:{EPSG}", transform=placing(window), nodata=-9999.0,
        compress="deflate", predictor=3, zlevel=9, tiled=True, blockxsize=256, blockysize=256,
    ) as out:  # fmt: skip
        out.write(values, 1)
        out.set_band_description(1, "bare earth level [m]")
        out.update_tags(
            TITLE=f"{NAME}: bare earth (invented)", HEIGHTS=HEIGHTS, VERTICAL_ACCURACY_M="0.10"
        )


def write_aerial(path: Path, picture: NDArray[np.uint8], window: Window) -> None:
    """Write the picture as a cloud-optimised GeoTIFF with JPEG tiles and overviews."""
    with MemoryFile() as memory:
        with memory.open(
            driver="GTiff", width=window.cols, height=window.rows, count=3, dtype="uint8",
            crs=f"EPSG:{EPSG}", transform=placing(window), photometric="RGB",
        ) as raw:  # fmt: skip
            raw.write(np.moveaxis(picture, 2, 0))
            raw.update_tags(TITLE=f"{NAME}: aerial (painted, invented)", TAKEN=PHOTO_TIME)
        with memory.open() as raw:
            rasterio.shutil.copy(
                raw, path, driver="COG", compress="JPEG", quality=JPEG_QUALITY, blocksize=512,
                overview_resampling="average", overview_quality=JPEG_QUALITY,
            )  # fmt: skip


def write_vectors(path: Path, features: list[Feature]) -> None:
    """Write features as GeoJSON (RFC 7946: longitude and latitude, rings to the right rule)."""
    items = []
    for f in features:
        shape = turned(f.geometry, EPSG, 4326)
        if f.geometry.geom_type == "Polygon":
            shape = shapely.orient_polygons(shape)
        shape = shapely.transform(shape, lambda xy: np.round(xy, DEGREE_DIGITS))
        items.append(
            {
                "type": "Feature",
                "geometry": shapely.geometry.mapping(shape),
                "properties": {"kind": f.kind, "name": f.name, "owner": f.owner, **f.facts},
            }
        )
    lines = ",\n".join(json.dumps(item, ensure_ascii=False) for item in items)
    text = '{"type": "FeatureCollection", "features": [\n' + lines + "\n]}\n"
    path.write_text(text, encoding="utf-8", newline="\n")
