"""A made-up site with ten thousand plants, ground and an aerial, to be slow with. Invented data."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import rasterio
import rasterio.shutil
from PySide6.QtWidgets import QApplication
from rasterio.transform import Affine
from scipy.ndimage import zoom
from shapely.geometry import Point, Polygon, box

from canvas.base.grid import Grid
from canvas.exchange.geotiff import write_grid
from canvas.site.edits import add
from canvas.site.facts import Ground, Picture, Site
from canvas.site.records import kind
from canvas.site.session import Session
from canvas.tools.plane import along

EAST, NORTH = 614_000.0, 5_860_000.0
CROWN_M = 5.0
#: The whole site fits 1920 × 1080 pixels with crowns of this width.
CROWN_PX = 12.0
COLS, ROWS = 132, 76
PLANTS = 10_000


def make_picture(path: Path, size: int = 4000, pixel_m: float = 0.25) -> None:
    """Write an aerial of made-up patches with grain, stored as imported pictures are."""
    rng = np.random.default_rng(3)
    rgb = np.full((3, size, size), 110.0)
    for step, strength in ((400, 40.0), (100, 25.0), (20, 14.0), (4, 8.0), (1, 3.0)):
        coarse = rng.normal(0, strength, (3, size // step + 2, size // step + 2))
        zoomed = [zoom(band, step, order=1)[:size, :size] if step > 1 else band for band in coarse]
        rgb += np.array([band[:size, :size] for band in zoomed])
    rgb = np.clip(rgb, 0, 255).astype(np.uint8)
    profile = {
        "driver": "GTiff", "width": size, "height": size, "count": 3, "dtype": "uint8",
        "crs": "EPSG:7854", "transform": Affine(pixel_m, 0, EAST - 100, 0, -pixel_m, NORTH + 700),
        "photometric": "rgb",
    }  # fmt: skip
    plain = path.with_name("plain.tif")
    with rasterio.open(plain, "w", **profile) as made:
        made.write(rgb)
    rasterio.shutil.copy(
        plain, path, driver="COG", blocksize=512, overview_resampling="AVERAGE",
        compress="JPEG", quality=90,
    )  # fmt: skip


def session(folder: Path) -> Session:
    """Return the site, begun in `folder`/site."""
    rng = np.random.default_rng(7)
    pitch = CROWN_M * 14.0 / CROWN_PX
    tree = kind("tree").cls
    records = [
        tree(
            geometry=Point(EAST + col * pitch + rng.uniform(0, 1), NORTH + row * pitch),
            crown_m=CROWN_M, height_m=5.0, mature_crown_m=CROWN_M, mature_height_m=6.0,
        )
        for row in range(ROWS)
        for col in range(COLS)
    ]  # fmt: skip
    records = records[:PLANTS]
    wide, high = COLS * pitch, ROWS * pitch
    records.append(kind("site_boundary").cls(geometry=box(EAST, NORTH, EAST + wide, NORTH + high)))
    for k in range(40):
        middle = along((EAST + wide / 2, NORTH + high / 2), k * 9.0, 40.0 + 3 * k)
        ring = [along(middle, turn, 8.0) for turn in (0, 90, 180, 270)]
        records.append(kind("garden_bed").cls(geometry=Polygon(ring)))
    made = Session.start(folder / "site", Site(name="Frames", crs="EPSG:7854"), records)
    row, col = np.mgrid[0:1000, 0:1000]
    z = 150 + 25 * np.sin(row / 120) * np.cos(col / 150) + 0.02 * col
    write_grid(folder / "ground.tif", Grid(z, EAST - 100, NORTH + 800, 1.0), "EPSG:7854")
    make_picture(folder / "aerial.tif")
    ground = Ground(file=made.adopt(folder / "ground.tif"), cell_m=1.0, accuracy_m=0.1)
    picture = Picture(file=made.adopt(folder / "aerial.tif"), pixel_m=0.25)
    made.apply(add("Bring in", [ground, picture]))
    return made


def wait(until: Callable[[], bool], seconds: float = 60.0, *, fail: bool = True) -> float:
    """Let the desk work until something is so; return how long it took [ms].

    `QTest.qWait` will not do: it keeps the interpreter to itself, and every worker waits.
    """
    start = time.perf_counter()
    while not until():
        QApplication.processEvents()
        if time.perf_counter() - start > seconds:
            assert not fail, "it never came"
            break
        time.sleep(0.001)
    return (time.perf_counter() - start) * 1000


def rest(seconds: float) -> None:
    """Leave the desk alone for a while."""
    wait(lambda: False, seconds, fail=False)
