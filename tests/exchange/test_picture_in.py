"""Pictures in: world files, turned pictures, control points, colours of every make."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import rasterio
import rasterio.shutil
from numpy.typing import NDArray

from canvas.base.errors import BadData
from canvas.exchange.rasters import (
    crs_of,
    import_picture,
    inspect_raster,
    picture_window,
    preview_picture,
)
from canvas.exchange.tie import fit_picture

EAST, NORTH, SITE_CRS = 632_600.0, 5_848_600.0, "EPSG:7854"
pytestmark = pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")
Pixels = NDArray[np.uint8]


def quarters(rows: int = 120, cols: int = 160) -> Pixels:
    """Four plain quarters: red, green over blue, white; (3, rows, cols)."""
    rgb = np.zeros((3, rows, cols), np.uint8)
    rgb[0, : rows // 2, : cols // 2] = 200
    rgb[1, : rows // 2, cols // 2 :] = 200
    rgb[2, rows // 2 :, : cols // 2] = 200
    rgb[:, rows // 2 :, cols // 2 :] = 255
    return rgb


def written(path: Path, values: NDArray[np.generic], **more: object) -> Path:
    driver = {".tif": "GTiff", ".png": "PNG", ".jpg": "JPEG"}[path.suffix]
    with rasterio.open(
        path, "w", driver=driver, count=values.shape[0], height=values.shape[1],
        width=values.shape[2], dtype=values.dtype, **more,
    ) as out:  # fmt: skip
        out.write(values)
    return path


def colour_at(path: Path, x: float, y: float) -> list[int]:
    return picture_window(path, (x - 0.5, y - 0.5, x + 0.5, y + 0.5), 1, 1)[0, 0].tolist()


def near(got: list[int], want: tuple[int, ...]) -> bool:
    return max(abs(a - b) for a, b in zip(got, want, strict=True)) <= 12


def check_quarters(path: Path, west: float, north: float, width: float, height: float) -> None:
    q, h = width / 4, height / 4
    assert near(colour_at(path, west + q, north - h), (200, 0, 0, 255))
    assert near(colour_at(path, west + 3 * q, north - h), (0, 200, 0, 255))
    assert near(colour_at(path, west + q, north - 3 * h), (0, 0, 200, 255))
    assert near(colour_at(path, west + 3 * q, north - 3 * h), (255, 255, 255, 255))
    assert colour_at(path, west - 5, north + 5)[3] == 0


@pytest.mark.parametrize(
    ("name", "world"),
    [("a.jpg", ".jgw"), ("a.png", ".pgw"), ("a.tif", ".tfw"), ("b.png", ".wld"), ("b.jpg", ".wld")],
)
def test_a_picture_with_a_world_file(tmp_path: Path, name: str, world: str) -> None:
    path = written(tmp_path / name, quarters())
    # A world file names the middle of the upper left pixel.
    path.with_suffix(world).write_text(f"0.5\n0\n0\n-0.5\n{EAST + 0.25}\n{NORTH - 0.25}\n")
    out = tmp_path / "out.tif"
    with pytest.raises(BadData, match="CRS"):
        import_picture(path, out, target_crs=SITE_CRS)
    info = import_picture(path, out, target_crs=SITE_CRS, file_crs=SITE_CRS)
    assert info.bounds == (EAST, NORTH - 60, EAST + 80, NORTH)
    assert info.cell_m == 0.5
    assert crs_of(out) == SITE_CRS
    check_quarters(out, EAST, NORTH, 80, 60)


def test_a_geotiff_in_another_crs_is_laid_out_afresh(tmp_path: Path) -> None:
    place = rasterio.Affine(5e-6, 0, 142.5, 0, -4e-6, -37.5)
    path = written(tmp_path / "a.tif", quarters(), crs="EPSG:4326", transform=place)
    out = tmp_path / "out.tif"
    info = import_picture(path, out, target_crs=SITE_CRS)
    west, south, east, north = info.bounds
    # 160 x 5e-6 deg of longitude and 120 x 4e-6 of latitude at 37.5 S, in metres.
    assert east - west == pytest.approx(
        160 * 5e-6 * 111_320 * math.cos(math.radians(37.5)), rel=0.03
    )
    assert north - south == pytest.approx(120 * 4e-6 * 110_990, rel=0.03)
    check_quarters(out, west, north, east - west, north - south)


def test_a_large_picture_has_overviews(tmp_path: Path) -> None:
    place = rasterio.Affine(0.5, 0, EAST, 0, -0.5, NORTH)
    path = written(tmp_path / "a.tif", quarters(1500, 2000), crs=SITE_CRS, transform=place)
    out = tmp_path / "out.tif"
    import_picture(path, out, target_crs=SITE_CRS)
    with rasterio.open(out) as made:
        assert made.overviews(1)
        assert made.profile["compress"] == "jpeg"
    check_quarters(out, EAST, NORTH, 1000, 750)
    far = picture_window(out, (EAST, NORTH - 750, EAST + 1000, NORTH), 8, 6)
    assert near(far[1, 1].tolist(), (200, 0, 0, 255))


def test_a_cloud_optimised_geotiff_is_brought_in_like_any_other(tmp_path: Path) -> None:
    """Written by GDAL's own COG driver: tiles, overviews first in the file, lossless."""
    place = rasterio.Affine(0.5, 0, EAST, 0, -0.5, NORTH)
    plain = written(tmp_path / "plain.tif", quarters(1200, 1600), crs=SITE_CRS, transform=place)
    path = tmp_path / "cog.tif"
    rasterio.shutil.copy(plain, path, driver="COG", compress="DEFLATE", blocksize=256)
    with rasterio.open(path) as source:
        assert source.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG"
        assert source.overviews(1)
    out = tmp_path / "out.tif"
    info = import_picture(path, out, target_crs=SITE_CRS)
    assert info.bounds == (EAST, NORTH - 600, EAST + 800, NORTH)
    check_quarters(out, EAST, NORTH, 800, 600)


def test_a_plain_scan_tied_by_points(tmp_path: Path) -> None:
    path = written(tmp_path / "scan.png", quarters())
    turn = math.radians(30)
    right = np.array([math.cos(turn), math.sin(turn)]) * 0.5
    down = np.array([math.sin(turn), -math.cos(turn)]) * 0.5
    pixels = np.array([[0, 0], [160, 0], [160, 120], [0, 120]], float)
    ground = np.array([EAST, NORTH]) + pixels[:, :1] * right + pixels[:, 1:] * down
    fit = fit_picture(pixels, ground)
    out = tmp_path / "out.tif"
    info = import_picture(path, out, target_crs=SITE_CRS, fit=fit)
    assert info.cell_m == pytest.approx(0.5, rel=1e-3)
    for (c, r), want in {
        (40, 30): (200, 0, 0, 255), (120, 30): (0, 200, 0, 255), (40, 90): (0, 0, 200, 255),
        (120, 90): (255, 255, 255, 255),
    }.items():  # fmt: skip
        x, y = np.array([EAST, NORTH]) + c * right + r * down
        assert near(colour_at(out, x, y), want)
    with pytest.raises(BadData, match="control points"):
        import_picture(path, out, target_crs=SITE_CRS)


def test_colours_of_every_make(tmp_path: Path) -> None:
    place = {"crs": SITE_CRS, "transform": rasterio.Affine(1, 0, EAST, 0, -1, NORTH)}
    out = tmp_path / "out.tif"
    grey = written(tmp_path / "grey.tif", np.full((1, 40, 40), 90, np.uint8), **place)
    import_picture(grey, out, target_crs=SITE_CRS)
    assert near(colour_at(out, EAST + 20, NORTH - 20), (90, 90, 90, 255))

    index = np.zeros((1, 40, 40), np.uint8)
    index[0, :, 20:] = 1
    paletted = written(tmp_path / "pal.tif", index, **place)
    with rasterio.open(paletted, "r+") as data:
        data.write_colormap(1, {0: (10, 20, 30, 255), 1: (200, 100, 50, 255)})
    import_picture(paletted, out, target_crs=SITE_CRS)
    assert near(colour_at(out, EAST + 5, NORTH - 20), (10, 20, 30, 255))
    assert near(colour_at(out, EAST + 35, NORTH - 20), (200, 100, 50, 255))

    deep = np.zeros((3, 40, 40), np.uint16)
    deep[:, :, 20:] = 4000
    import_picture(written(tmp_path / "deep.tif", deep, **place), out, target_crs=SITE_CRS)
    assert near(colour_at(out, EAST + 5, NORTH - 20), (0, 0, 0, 255))
    assert near(colour_at(out, EAST + 35, NORTH - 20), (255, 255, 255, 255))

    clear = np.concatenate((quarters(40, 40), np.full((1, 40, 40), 255, np.uint8)))
    clear[3, :10] = 0
    see = written(tmp_path / "rgba.tif", clear, photometric="rgb", alpha="yes", **place)
    import_picture(see, out, target_crs=SITE_CRS)
    assert colour_at(out, EAST + 5, NORTH - 5)[3] == 0
    assert near(colour_at(out, EAST + 5, NORTH - 15), (200, 0, 0, 255))


def test_a_stretch_of_a_picture(tmp_path: Path) -> None:
    place = rasterio.Affine(1, 0, EAST, 0, -1, NORTH)
    path = written(tmp_path / "a.tif", quarters(), crs=SITE_CRS, transform=place)
    out = tmp_path / "out.tif"
    clip = (EAST + 90, NORTH - 50, EAST + 150, NORTH - 10)
    info = import_picture(path, out, target_crs=SITE_CRS, clip=clip)
    assert info.bounds[0] <= clip[0]
    assert info.bounds[2] >= clip[2]
    assert info.width < 80
    assert near(colour_at(out, EAST + 120, NORTH - 30), (0, 200, 0, 255))


def test_a_preview_to_point_at(tmp_path: Path) -> None:
    path = written(tmp_path / "scan.jpg", quarters(600, 800))
    seen = preview_picture(path, 200)
    assert seen.rgba.shape == (150, 200, 4)
    assert seen.scale == (4.0, 4.0)
    assert (seen.width, seen.height) == (800, 600)
    assert near(seen.rgba[30, 30].tolist(), (200, 0, 0, 255))
    assert near(seen.rgba[120, 150].tolist(), (255, 255, 255, 255))
    info = inspect_raster(path)
    assert not info.georeferenced
    assert (info.bands, info.dtype, info.format) == (3, "uint8", "JPEG")
