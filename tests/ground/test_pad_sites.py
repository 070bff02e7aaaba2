"""Places for a platform: earth by the formula of an even slope, least on the gentlest ground."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from canvas.base.errors import InputError
from canvas.ground.pad_sites import apart, pad_sites
from made_ground import plane


def test_earth_on_an_even_slope_is_the_wedges():
    ground = plane(200.0, 2.0, 0.2, 30.0)
    sites = pad_sites(ground, 20.0, 12.0)
    # Half the depth is cut by a wedge of slope × depth / 2: length × depth² × slope / 8.
    assert sites[0].earth_m3 == pytest.approx(20 * 12**2 * 0.2 / 8, rel=0.02)
    assert sites[0].drop_m == pytest.approx(12 * 0.2, rel=0.01)
    assert sites[0].slope == pytest.approx(0.2, rel=0.01)


def test_the_long_side_runs_along_the_contour():
    ground = plane(200.0, 2.0, 0.2, 30.0)
    inside = shapely.box(*ground.bounds).buffer(-20.0)
    found = pad_sites(ground, 20.0, 12.0, within=inside)[0]
    corners = shapely.get_coordinates(found.outline)[:4]
    z = ground.sample(corners[:, 0], corners[:, 1])
    sides = np.hypot(*np.diff(np.vstack((corners, corners[:1])), axis=0).T)
    levels = np.abs(np.diff(np.append(z, z[0])))
    assert levels[np.argmax(sides)] == pytest.approx(0.0, abs=1e-6)


def test_the_gentlest_ground_comes_first_and_what_is_kept_stays_clear():
    ground = plane(200.0, 2.0, 0.2)
    x, _ = np.meshgrid(ground.x_m(), ground.y_m())
    middle = (ground.bounds[0] + ground.bounds[2]) / 2
    gentle = ground.like(np.where(x > middle, ground.z, ground.z * 0.3))
    first = pad_sites(gentle, 16.0, 10.0)[0]
    assert first.outline.centroid.x < middle
    off = shapely.box(*gentle.bounds).intersection(shapely.box(0, 0, middle + 10, 1e9))
    kept = pad_sites(gentle, 16.0, 10.0, keep_off=off)
    assert kept
    assert all(not site.outline.intersects(off) for site in kept)


def test_places_named_do_not_overlap_and_nonsense_is_refused():
    sites = apart(pad_sites(plane(200.0, 2.0, 0.1), 20.0, 12.0), 4)
    assert len(sites) == 4
    for i, site in enumerate(sites):
        assert all(not site.outline.intersects(other.outline) for other in sites[i + 1 :])
    with pytest.raises(InputError):
        pad_sites(plane(200.0, 2.0, 0.1), 0.0, 12.0)
