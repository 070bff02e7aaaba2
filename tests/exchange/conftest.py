"""Foreign files, made by libraries that are not ours."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import shapely
from pyogrio.raw import write as write_layer

#: A hill in western Victoria (55 km from anywhere it matters), southern hemisphere, UTM-like.
EAST, NORTH = 632_600.0, 5_848_600.0
SITE_CRS = "EPSG:7854"


@pytest.fixture
def gdal_file(tmp_path: Path) -> Callable[..., Path]:
    """Return a maker of vector files through GDAL."""

    def make(
        file_name: str,
        shapes: list[shapely.Geometry],
        crs: str | None = SITE_CRS,
        driver: str = "",
        layer: str = "",
        append: bool = False,
        **columns: list[object],
    ) -> Path:
        path = tmp_path / file_name
        drivers = {
            ".gpkg": "GPKG", ".shp": "ESRI Shapefile", ".geojson": "GeoJSON", ".kml": "KML",
            ".gpx": "GPX",
        }  # fmt: skip
        arrays = [
            np.array(column, object if isinstance(column[0], str) else None)
            for column in columns.values()
        ]
        write_layer(
            path,
            np.array([shapely.to_wkb(shape) for shape in shapes], object),
            arrays,
            list(columns),
            layer=layer or path.stem,
            driver=driver or drivers[path.suffix],
            geometry_type=shapes[0].geom_type,
            crs=crs,
            append=append,
        )
        return path

    return make
