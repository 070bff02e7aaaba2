"""The sample site's ground: big enough, drained everywhere, and shaped like a hill people farm."""

from __future__ import annotations

import numpy as np
import pyflwdir
import rasterio
import shapely
from pyproj import Geod
from rasterio.features import rasterize

from sample_sites.kestrel_rise.make import landscape


def inside_mask(dem, land):
    shape = [shapely.geometry.mapping(land.boundary)]
    return rasterize(shape, out_shape=dem.z.shape, transform=dem.transform).astype(bool)


def test_boundary_is_about_seven_hectares_on_the_ellipsoid(land):
    ring = landscape.turned(land.boundary, 7854, 4326)
    # Independent of our own arithmetic: geodesic area from PROJ's Geod on GRS 80.
    area, _ = Geod(ellps="GRS80").geometry_area_perimeter(ring)
    assert 65_000 < abs(area) < 75_000
    corners = len(land.boundary.exterior.coords) - 1
    assert 5 <= corners <= 7


def test_ground_file_says_what_it_is():
    with rasterio.open(landscape.GROUND_TIF) as source:
        assert source.crs.to_epsg() == 7854
        assert source.res == (1.0, 1.0)
        assert source.dtypes == ("float32",)
        assert min(source.shape) >= 700
        assert source.profile["compress"] == "deflate"
        levels = source.read(1)
    assert np.isfinite(levels).all()
    assert np.allclose(levels, np.round(levels, 2), atol=1e-4)  # whole centimetres


def test_relief_and_slopes_are_those_of_a_grazed_hill(dem, land):
    inside = inside_mask(dem, land)
    assert 30 <= np.ptp(dem.z) <= 60
    assert 30 <= np.ptp(dem.z[inside]) <= 60
    down, right = np.gradient(dem.z)
    slope = np.hypot(down, right)[inside]
    low, middle, high = np.quantile(slope, (0.1, 0.5, 0.9))
    assert low > 0.05
    assert 0.08 < middle < 0.2
    assert high < 0.3


def test_no_pits(dem):
    # An independent priority-flood: where it raises nothing, every cell already drains.
    filled, _ = pyflwdir.dem.fill_depressions(dem.z.astype(np.float32), nodata=-9999.0)
    assert float(np.abs(filled - dem.z).max()) < 1e-4


def test_ground_reaches_past_the_watershed_above_the_boundary(dem, land):
    flow = pyflwdir.from_dem(
        dem.z.astype(np.float32), nodata=-9999.0, transform=dem.transform, latlon=False
    )
    drains_in = inside_mask(dem, land).ravel()
    downstream = flow.idxs_ds
    for cell in flow.idxs_seq:  # from the outlets up
        if drains_in[downstream[cell]]:
            drains_in[cell] = True
    rows, cols = np.nonzero(drains_in.reshape(dem.z.shape))
    height, width = dem.z.shape
    to_edge = min(rows.min(), cols.min(), height - 1 - rows.max(), width - 1 - cols.max())
    assert to_edge >= 30  # metres of ground beyond the divide all round
    catchment = drains_in.sum() / 1e4
    assert 12 < catchment < 45  # ha: the land and what drains on to it


def test_water_lines_run_downhill_and_join(dem, land):
    wall = land.named("neighbour's dam").geometry.buffer(12)  # the one gully that is dammed
    for feature in land.of("watercourse"):
        xy = shapely.get_coordinates(shapely.segmentize(feature.geometry, 2.0))
        xy = xy[~shapely.contains_xy(wall, *xy.T)]
        level = dem.level(*xy.T)
        rise = level - np.minimum.accumulate(level)
        assert level[0] - level[-1] > 3, feature.name
        assert rise.max() < 0.6, feature.name
    creek = land.named("Kestrel Creek").geometry
    for name in ("south-west gully", "spur gully", "east gully", "north gully"):
        assert land.named(name).geometry.distance(creek) < 1.5, name


def test_creek_is_cut_half_a_metre_to_a_metre(dem, land):
    inside = shapely.intersection(land.named("Kestrel Creek").geometry, land.boundary)
    xy = shapely.get_coordinates(shapely.segmentize(inside, 5.0))
    ahead = np.gradient(xy, axis=0)
    ahead /= np.hypot(*ahead.T)[:, None]
    left = np.column_stack([-ahead[:, 1], ahead[:, 0]])
    bed = np.min([dem.level(*(xy + k * left).T) for k in (-1, 0, 1)], axis=0)
    banks = [dem.level(*(xy + k * left).T) for k in (-4, 4)]
    assert 0.5 <= np.median(np.minimum(*banks) - bed) <= 1.3
