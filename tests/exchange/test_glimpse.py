"""A raster at a glance: where it lies by pyproj, what it shows, and what it lets be."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyproj
import pytest
import rasterio
from rasterio.transform import Affine
from shapely import box

from canvas.base.errors import BadData
from canvas.exchange.glimpse import glimpse_raster

EAST, NORTH, CRS = 560_000.0, 5_850_000.0, "EPSG:7854"


def write(path: Path, bands: np.ndarray, place: Affine, crs: str | None = CRS) -> Path:
    count, rows, cols = bands.shape
    with rasterio.open(
        path, "w", driver="GTiff", width=cols, height=rows, count=count, dtype=bands.dtype,
        crs=crs, transform=place,
    ) as made:  # fmt: skip
        made.write(bands)
    return path


def picture(path: Path, metres: float = 1.0, **how: object) -> Path:
    """Write a picture of 1000 x 600 pixels, red in its west half, blue in its east."""
    rgb = np.zeros((3, 600, 1000), np.uint8)
    rgb[0, :, :500], rgb[2, :, 500:] = 200, 200
    return write(path, rgb, Affine(metres, 0, EAST, 0, -metres, NORTH + 600 * metres), **how)


def test_the_whole_is_made_small_and_lies_where_the_file_says(tmp_path: Path) -> None:
    found = glimpse_raster(picture(tmp_path / "a.tif"), target_crs=CRS, most_px=100)
    assert found.rgba is not None
    assert found.rgba.shape == (60, 100, 4)
    assert found.rgba[30, 10].tolist() == [200, 0, 0, 255]
    assert found.rgba[30, 90].tolist() == [0, 0, 200, 255]
    west, north, east, south = EAST, NORTH + 600, EAST + 1000, NORTH
    assert found.corners == ((west, north), (east, north), (east, south), (west, south))
    # The half of the land that lies on it, and land 500 m off.
    assert found.lies(box(EAST - 100, NORTH, EAST + 100, NORTH + 100)) == pytest.approx((0.5, 0.0))
    assert found.lies(box(east + 500, NORTH, east + 600, NORTH + 9)) == pytest.approx((0.0, 500.0))


def test_only_the_stretch_about_the_site_is_shown(tmp_path: Path) -> None:
    around = (EAST + 480, NORTH + 200, EAST + 580, NORTH + 300)
    found = glimpse_raster(picture(tmp_path / "a.tif"), target_crs=CRS, around=around)
    assert found.rgba is not None
    assert found.corners is not None
    (west, north), _, (east, south), _ = found.corners
    # Cut out to whole pixels, with a few to spare on each side.
    assert [west, south, east, north] == pytest.approx(around, abs=6)
    red = (found.rgba[..., 0] > 100).mean()
    assert red == pytest.approx((EAST + 500 - west) / (east - west), abs=0.01)


def test_corners_are_brought_to_the_site_s_grid(tmp_path: Path) -> None:
    away = pyproj.Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)
    lon, lat = away.transform(EAST, NORTH)
    step = 1e-5
    rgb = np.full((3, 200, 300), 90, np.uint8)
    path = write(tmp_path / "d.tif", rgb, Affine(step, 0, lon, 0, -step, lat), "EPSG:4326")
    found = glimpse_raster(path, target_crs=CRS)
    back = pyproj.Transformer.from_crs("EPSG:4326", CRS, always_xy=True)
    ends = ((0, 0), (300, 0), (300, 200), (0, 200))
    expected = [back.transform(lon + c * step, lat - r * step) for c, r in ends]
    assert found.corners is not None
    assert np.array(found.corners) == pytest.approx(np.array(expected), abs=0.01)


def test_without_a_grid_it_is_shown_but_lies_nowhere(tmp_path: Path) -> None:
    path = picture(tmp_path / "a.tif", crs=None)
    found = glimpse_raster(path, target_crs=CRS)
    assert found.rgba is not None
    assert found.corners is None
    assert found.lies(box(0, 0, 1, 1)) is None
    placed = glimpse_raster(path, target_crs=CRS, file_crs=CRS)
    assert placed.corners is not None


def test_heights_are_a_relief_lit_from_the_north_west(tmp_path: Path) -> None:
    """A ridge from south-west to north-east: its north-west side is bright, the other dark."""
    row, col = np.mgrid[0:200, 0:200].astype(np.float32)
    z = 100 - np.abs(row - (199 - col) - 0.0) / 2
    z[:20, :20] = np.nan
    path = write(tmp_path / "z.tif", z[None].astype(np.float32), Affine(1, 0, EAST, 0, -1, NORTH))
    found = glimpse_raster(path, target_crs=CRS, heights=True)
    assert found.rgba is not None
    # Row 0 is north: above the ridge line row + col = 199 lies the north-west side.
    assert found.rgba[60, 60, 0] > found.rgba[140, 140, 0] + 60
    assert found.rgba[5, 5, 3] == 0
    assert found.rgba[100, 100, 3] == 255


def test_a_plain_table_of_heights_is_shown_too(tmp_path: Path) -> None:
    path = tmp_path / "points.xyz"
    lines = [f"{EAST + x} {NORTH + y} {100 + x / 5}" for y in range(30) for x in range(40)]
    path.write_text("\n".join(lines))
    found = glimpse_raster(path, target_crs=CRS, file_crs=CRS, heights=True)
    assert found.rgba is not None
    assert found.rgba.shape == (30, 40, 4)
    assert found.corners is not None
    assert found.corners[0] == pytest.approx((EAST - 0.5, NORTH + 29.5))


def test_what_is_no_raster_is_said(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    path.write_text("no picture at all")
    with pytest.raises(BadData):
        glimpse_raster(path, target_crs=CRS)
