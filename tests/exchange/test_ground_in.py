"""Heights in: unchanged where they can be, resampled honestly where they must be."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pyproj
import pytest
import rasterio
import rasterio.shutil
from numpy.typing import NDArray

from canvas.base.errors import BadData, InputError
from canvas.exchange.rasters import (
    crs_of,
    ground_record,
    import_ground,
    inspect_raster,
    open_grid,
)

EAST, NORTH, SITE_CRS = 632_600.0, 5_848_600.0, "EPSG:7854"
#: International and US survey foot [m] (NIST SP 811, appendix B).
FT, US_FT = 0.3048, 1200 / 3937
Floats = NDArray[np.float64]


#: Slope of the hill below where it is steepest.
STEEPEST = math.hypot(0.12 + 4 / 10, 0.07 + 4 / 14)


def hill(x: Floats, y: Floats) -> Floats:
    """A surface known everywhere: a slope with waves 60 to 90 m long [m]."""
    e, n = x - EAST, y - NORTH
    return np.asarray(250 + 0.12 * e - 0.07 * n + 4 * np.sin(e / 10) * np.cos(n / 14))


def written(
    path: Path, z: Floats, place: object, crs: str | None, *, dtype: str = "float32", **more: object
) -> Path:
    made = {"driver": "GTiff", "count": 1, "dtype": dtype, "crs": crs, "transform": place} | more
    with rasterio.open(path, "w", height=z.shape[0], width=z.shape[1], **made) as out:
        out.write(z.astype(dtype), 1)
    return path


def cells(place: rasterio.Affine, shape: tuple[int, int]) -> tuple[Floats, Floats]:
    cols, rows = np.meshgrid(np.arange(shape[1]) + 0.5, np.arange(shape[0]) + 0.5)
    return times(place, cols, rows)


def times(place: rasterio.Affine, cols: Floats, rows: Floats) -> tuple[Floats, Floats]:
    x = place.a * cols + place.b * rows + place.c
    return x, place.d * cols + place.e * rows + place.f


def test_a_cloud_optimised_ground_is_taken_over_unchanged(tmp_path: Path) -> None:
    """Written by GDAL's own COG driver; its overviews must not stand in for its cells."""
    place = rasterio.Affine(1, 0, EAST, 0, -1, NORTH + 600)
    z = hill(*cells(place, (600, 800)))
    plain = written(tmp_path / "plain.tif", z, place, SITE_CRS)
    path = tmp_path / "cog.tif"
    rasterio.shutil.copy(plain, path, driver="COG", compress="DEFLATE", blocksize=256)
    with rasterio.open(path) as source:
        assert source.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG"
        assert source.overviews(1)
    info = import_ground(path, tmp_path / "out.tif", target_crs=SITE_CRS, vertical_unit="m")
    assert (info.cell_m, info.width, info.height) == (1.0, 800, 600)
    np.testing.assert_array_equal(open_grid(tmp_path / "out.tif").z, z.astype(np.float32))


def test_a_ground_on_our_cells_is_taken_over_unchanged(tmp_path: Path) -> None:
    place = rasterio.Affine(2, 0, EAST, 0, -2, NORTH + 120)
    z = hill(*cells(place, (60, 80)))
    z[5, 7] = -9999
    path = written(tmp_path / "dem.tif", z, place, SITE_CRS, nodata=-9999)
    info = import_ground(path, tmp_path / "out.tif", target_crs=SITE_CRS, vertical_unit="m")
    grid = open_grid(tmp_path / "out.tif")
    assert (info.cell_m, info.width, info.height) == (2.0, 80, 60)
    assert grid.bounds == (EAST, NORTH, EAST + 160, NORTH + 120)
    assert np.isnan(grid.z[5, 7])
    z[5, 7] = np.nan
    np.testing.assert_array_equal(grid.z, z.astype(np.float32))
    assert info.missing == pytest.approx(1 / 4800)
    assert crs_of(tmp_path / "out.tif") == SITE_CRS


@pytest.mark.parametrize(("unit", "factor"), [("m", 1.0), ("ft", FT), ("us_ft", US_FT)])
def test_heights_are_brought_to_metres_as_asked(tmp_path: Path, unit: str, factor: float) -> None:
    place = rasterio.Affine(1, 0, EAST, 0, -1, NORTH)
    path = written(tmp_path / "dem.tif", np.full((8, 8), 1000.0), place, SITE_CRS)
    import_ground(path, tmp_path / "out.tif", target_crs=SITE_CRS, vertical_unit=unit)
    assert open_grid(tmp_path / "out.tif").z == pytest.approx(1000 * factor, rel=1e-6)


def test_the_unit_is_never_guessed(tmp_path: Path) -> None:
    place = rasterio.Affine(1, 0, EAST, 0, -1, NORTH)
    path = written(tmp_path / "dem.tif", np.full((8, 8), 100.0), place, SITE_CRS)
    with rasterio.open(path, "r+") as data:
        data.set_band_unit(1, "US survey foot")
    assert inspect_raster(path).unit_hint == "us_ft"
    out = tmp_path / "out.tif"
    info = import_ground(path, out, target_crs=SITE_CRS, vertical_unit="m")
    assert open_grid(out).z == pytest.approx(100.0)
    assert "us_ft" in info.notes[0]
    with pytest.raises(InputError):
        import_ground(path, out, target_crs=SITE_CRS, vertical_unit="")


@pytest.mark.parametrize(
    ("crs", "site_crs", "x", "y"),
    [
        ("EPSG:4326", SITE_CRS, 142.5, -37.5),
        ("EPSG:7844", SITE_CRS, 142.5, -37.5),
        ("EPSG:7855", SITE_CRS, 103_000.0, 5_840_000.0),  # the next zone, far outside it
    ],
)
def test_another_crs_is_resampled_within_centimetres(
    tmp_path: Path, crs: str, site_crs: str, x: float, y: float
) -> None:
    to = pyproj.Transformer.from_crs(crs, site_crs, always_xy=True)
    step = 1.0e-5 if abs(x) < 200 else 1.0
    place = rasterio.Affine(step, 0, x, 0, -step, y)
    east, north = to.transform(*cells(place, (300, 400)))

    def wave(e: Floats, n: Floats) -> Floats:
        e0, n0 = to.transform(x, y)
        return hill(e - e0 + EAST, n - n0 + NORTH)

    path = written(tmp_path / "dem.tif", wave(east, north), place, crs, dtype="float64")
    info = import_ground(path, tmp_path / "out.tif", target_crs=site_crs, vertical_unit="m")
    grid = open_grid(tmp_path / "out.tif")
    gx, gy = np.meshgrid(grid.x_m(), grid.y_m())
    back = pyproj.Transformer.from_crs(site_crs, crs, always_xy=True)
    cols, rows = times(~place, *back.transform(gx, gy))
    off = np.abs(grid.z - wave(gx, gy))
    # Cubic convolution of waves 60 m long at 1 m cells: far below any survey's accuracy.
    assert off[(cols > 3) & (cols < 397) & (rows > 3) & (rows < 297)].max() < 0.02
    # In the outer half cell the last height holds: off by the slope at most.
    known = np.isfinite(grid.z)
    assert off[known].max() < 0.5 * STEEPEST * 1.2
    assert not known[(cols < -0.02) | (cols > 400.02) | (rows < -0.02) | (rows > 300.02)].any()
    assert 0.8 < info.cell_m < 1.2
    assert info.crs_of_file == crs


def test_missing_cells_neither_spread_nor_fill(tmp_path: Path) -> None:
    place = rasterio.Affine(1, 0, 0, 0, -1, 0) @ rasterio.Affine.rotation(20)
    place = rasterio.Affine.translation(EAST, NORTH) @ place
    z = hill(*cells(place, (120, 120)))
    z[40:60, 50:80] = np.nan
    path = written(tmp_path / "dem.tif", z, place, SITE_CRS, nodata=math.nan)
    import_ground(path, tmp_path / "out.tif", target_crs=SITE_CRS, vertical_unit="m")
    grid = open_grid(tmp_path / "out.tif")
    x, y = np.meshgrid(grid.x_m(), grid.y_m())
    cols, rows = times(~place, x, y)
    inside = (cols > 0) & (rows > 0) & (cols < 120) & (rows < 120)
    # Cells between the two sides, but for those on the very line.
    deep = np.minimum(15 - np.abs(cols - 65), 10 - np.abs(rows - 50))
    sure = inside & (np.abs(deep) > 0.02)
    known = np.isfinite(grid.z)
    np.testing.assert_array_equal(known[sure], (deep < 0)[sure])
    assert not known[(cols < -0.02) | (rows < -0.02) | (cols > 120.02) | (rows > 120.02)].any()
    off = np.abs(grid.z - hill(x, y))
    clear = (deep < -4) & (cols > 4) & (rows > 4) & (cols < 116) & (rows < 116)
    assert off[clear].max() < 0.02
    assert off[known].max() < 0.5 * STEEPEST * 1.2


@pytest.mark.parametrize(("dx", "dy"), [(2.0, 1.0), (0.5, 0.7)])
def test_oblong_cells_become_square(tmp_path: Path, dx: float, dy: float) -> None:
    place = rasterio.Affine(dx, 0, EAST, 0, -dy, NORTH)
    z = hill(*cells(place, (200, 150)))
    path = written(tmp_path / "dem.tif", z, place, SITE_CRS)
    info = import_ground(path, tmp_path / "out.tif", target_crs=SITE_CRS, vertical_unit="m")
    assert info.cell_m == pytest.approx(min(dx, dy))
    grid = open_grid(tmp_path / "out.tif")
    x, y = np.meshgrid(grid.x_m(), grid.y_m())
    assert np.nanmax(np.abs(grid.z - hill(x, y))[6:-6, 6:-6]) < 0.03


def test_only_the_stretch_asked_for(tmp_path: Path) -> None:
    place = rasterio.Affine(1, 0, EAST, 0, -1, NORTH)
    path = written(tmp_path / "dem.tif", hill(*cells(place, (500, 500))), place, SITE_CRS)
    clip = (EAST + 100, NORTH - 200, EAST + 180, NORTH - 150)
    out = tmp_path / "out.tif"
    import_ground(path, out, target_crs=SITE_CRS, vertical_unit="m", clip=clip)
    grid = open_grid(out)
    assert grid.bounds == clip
    x, y = np.meshgrid(grid.x_m(), grid.y_m())
    assert np.abs(grid.z - hill(x, y)).max() < 1e-4
    with pytest.raises(BadData, match="doesn't reach"):
        import_ground(
            path, out, target_crs=SITE_CRS, vertical_unit="m",
            clip=(EAST + 900, NORTH, EAST + 950, NORTH + 9),
        )  # fmt: skip


def test_undeclared_missing_data_is_recognised(tmp_path: Path) -> None:
    place = rasterio.Affine(1, 0, EAST, 0, -1, NORTH)
    z = np.full((20, 20), 300.0)
    z[0, :] = -32768
    z[1, 0] = 3.4e38
    path = written(tmp_path / "dem.tif", z, place, SITE_CRS)
    info = import_ground(path, tmp_path / "out.tif", target_crs=SITE_CRS, vertical_unit="m")
    assert np.isnan(open_grid(tmp_path / "out.tif").z).sum() == 21
    assert any("21 cells" in note for note in info.notes)
    assert (info.lowest_m, info.highest_m) == (300.0, 300.0)


def test_scaled_integers(tmp_path: Path) -> None:
    place = rasterio.Affine(1, 0, EAST, 0, -1, NORTH)
    path = written(
        tmp_path / "dem.tif", np.full((9, 9), 5000.0), place, SITE_CRS, dtype="int16", nodata=-1
    )
    with rasterio.open(path, "r+") as data:
        data.scales, data.offsets = (0.1,), (-100.0,)
    import_ground(path, tmp_path / "out.tif", target_crs=SITE_CRS, vertical_unit="m")
    assert open_grid(tmp_path / "out.tif").z == pytest.approx(400.0)


ASCII = """ncols 3
nrows 2
{corner}
cellsize 5
NODATA_value -9999
1 2 3
4 -9999 6
"""


@pytest.mark.parametrize(
    "corner", ["xllcorner 632600\nyllcorner 5848600", "xllcenter 632602.5\nyllcenter 5848602.5"]
)
def test_esri_ascii(tmp_path: Path, corner: str) -> None:
    path = tmp_path / "dem.asc"
    path.write_text(ASCII.format(corner=corner))
    out = tmp_path / "out.tif"
    with pytest.raises(BadData, match="coordinate reference system"):
        import_ground(path, out, target_crs=SITE_CRS, vertical_unit="m")
    import_ground(path, out, target_crs=SITE_CRS, vertical_unit="m", file_crs=SITE_CRS)
    grid = open_grid(out)
    assert grid.bounds == (EAST, NORTH, EAST + 15, NORTH + 10)
    np.testing.assert_array_equal(grid.z, [[1, 2, 3], [4, np.nan, 6]])


def test_esri_ascii_with_its_crs_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "dem.asc"
    path.write_text(ASCII.format(corner="xllcorner 632600\nyllcorner 5848600"))
    path.with_suffix(".prj").write_text(pyproj.CRS(SITE_CRS).to_wkt("WKT1_ESRI"))
    info = inspect_raster(path)
    assert (info.crs, info.format, info.cell_m) == (SITE_CRS, "AAIGrid", pytest.approx(5, rel=1e-3))
    import_ground(path, tmp_path / "out.tif", target_crs=SITE_CRS, vertical_unit="m")
    assert open_grid(tmp_path / "out.tif").bounds[0] == EAST


@pytest.mark.parametrize(
    ("name", "line", "head"),
    [
        ("a.xyz", "{x:.1f} {y:.1f} {z:.2f}", ""),
        ("b.csv", "{x:.1f},{y:.1f},{z:.2f}", "X,Y,Z\n"),
        ("c.txt", "{x:.1f};{y:.1f};{z:.2f}", "Ost;Nord;Höhe\n"),
        ("d.txt", "{x:.1f}\t{y:.1f}\t{z:.2f}\t7", ""),
    ],
)
@pytest.mark.parametrize("order", ["rows", "columns", "any"])
def test_points_on_a_grid_in_any_order(
    tmp_path: Path, name: str, line: str, head: str, order: str
) -> None:
    x, y = np.meshgrid(EAST + 0.5 + np.arange(6), NORTH + 0.5 + np.arange(4)[::-1])
    z = hill(x, y)
    points = list(zip(x.ravel(), y.ravel(), z.ravel(), strict=True))
    if order == "columns":
        points.sort()
    if order == "any":
        np.random.default_rng(3).shuffle(points)
    del points[5]
    path = tmp_path / name
    rows = [line.format(x=px, y=py, z=pz) for px, py, pz in points]
    path.write_text(head + "\n".join(rows) + "\n", encoding="utf-8")
    out = tmp_path / "out.tif"
    import_ground(path, out, target_crs=SITE_CRS, vertical_unit="m", file_crs=SITE_CRS)
    grid = open_grid(out)
    assert grid.bounds == (EAST, NORTH, EAST + 6, NORTH + 4)
    assert np.isnan(grid.z).sum() == 1
    assert np.nanmax(np.abs(grid.z - z)) < 0.006


def test_points_with_decimal_commas(tmp_path: Path) -> None:
    path = tmp_path / "dgm.xyz"
    rows = [f"{c},5;{r},5;{c * 10 + r},25" for r in range(3) for c in range(4)]
    path.write_text("\r\n".join(rows))
    out = tmp_path / "out.tif"
    import_ground(path, out, target_crs=SITE_CRS, vertical_unit="m", file_crs=SITE_CRS)
    grid = open_grid(out)
    assert grid.bounds == (0, 0, 4, 3)
    assert grid.sample(3.5, 2.5) == pytest.approx(32.25)


def test_the_record_carries_what_is_known(tmp_path: Path) -> None:
    place = rasterio.Affine(1, 0, EAST, 0, -1, NORTH)
    path = written(tmp_path / "dem.tif", np.full((8, 8), 9.0), place, SITE_CRS)
    info = import_ground(path, tmp_path / "out.tif", target_crs=SITE_CRS, vertical_unit="m")
    record = ground_record(
        info, "ground.tif", source="County lidar", surveyed="2024-02-01", accuracy_m=0.1,
        bare_earth=False, datum="AHD",
    )  # fmt: skip
    assert (record.cell_m, record.surface, record.accuracy_m) == (1.0, "canopy", 0.1)
    assert (record.source, record.surveyed, record.datum) == ("County lidar", "2024-02-01", "AHD")
