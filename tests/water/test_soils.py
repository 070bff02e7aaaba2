"""Test pits: the texture triangle, a falling level, dispersive clay, fitness for ponds."""

from __future__ import annotations

import math

import numpy as np
import pytest

from canvas.base.errors import BadData, InputError
from canvas.water.runoff import SoilGroup
from canvas.water.soils import (
    CLASSES,
    LEAST_CLAY,
    Layer,
    Pit,
    percolation,
    pond_fitness,
    texture_class,
    texture_named,
)

#: The classes as the Soil Survey Manual words them, from memory: sand, silt, clay in per cent.
WORDED = {
    "sand": lambda s, u, c: s >= 85 - 1e-9 and u + 1.5 * c < 15,
    "loamy_sand": lambda s, u, c: u + 1.5 * c >= 15 and u + 2 * c < 30,
    "sandy_loam": lambda s, u, c: (
        (7 <= c < 20 and s > 52 and u + 2 * c >= 30) or (c < 7 and u < 50 and u + 2 * c >= 30)
    ),
    "loam": lambda s, u, c: 7 <= c < 27 and 28 <= u < 50 and s <= 52,
    "silt_loam": lambda s, u, c: (u >= 50 and 12 <= c < 27) or (50 <= u < 80 and c < 12),
    "silt": lambda s, u, c: u >= 80 and c < 12,
    "sandy_clay_loam": lambda s, u, c: 20 <= c < 35 and u < 28 and s > 45,
    "clay_loam": lambda s, u, c: 27 <= c < 40 and 20 < s <= 45,
    "silty_clay_loam": lambda s, u, c: 27 <= c < 40 and s <= 20,
    "sandy_clay": lambda s, u, c: c >= 35 and s > 45,
    "silty_clay": lambda s, u, c: c >= 40 and u >= 40,
    "clay": lambda s, u, c: c >= 40 and s <= 45 and u < 40,
}


def test_every_whole_percentage_falls_in_the_class_the_manual_words() -> None:
    """All 5151 corners of a triangle of whole per cents; each lies in one class, and it is ours."""
    seen = set()
    for sand in range(101):
        for clay in range(101 - sand):
            silt = 100 - sand - clay
            ours = texture_class(sand, silt, clay)
            worded = [key for key, holds in WORDED.items() if holds(sand, silt, clay)]
            assert worded == [ours], (sand, silt, clay, ours, worded)
            seen.add(ours)
    assert seen == set(CLASSES)


@pytest.mark.parametrize(
    ("sand", "silt", "clay", "key"),
    [(92, 5, 3, "sand"), (82, 12, 6, "loamy_sand"), (65, 25, 10, "sandy_loam"),
     (40, 40, 20, "loam"), (20, 65, 15, "silt_loam"), (7, 87, 6, "silt"),
     (60, 13, 27, "sandy_clay_loam"), (32, 34, 34, "clay_loam"), (10, 56, 34, "silty_clay_loam"),
     (52, 6, 42, "sandy_clay"), (6, 47, 47, "silty_clay"), (22, 20, 58, "clay")],
)  # fmt: skip
def test_middles_of_the_classes(sand: float, silt: float, clay: float, key: str) -> None:
    """The usual middles of the twelve classes, from memory."""
    assert texture_class(sand, silt, clay) == key
    # Heights in a jar need not add up to a hundred.
    assert texture_class(sand * 0.6, silt * 0.6, clay * 0.6) == key


def test_least_clay_of_each_class_is_that_of_the_triangle() -> None:
    least = dict.fromkeys(CLASSES, 1.0)
    for sand in np.arange(0, 100.01, 0.5):
        for clay in np.arange(0, 100.01 - sand, 0.5):
            key = texture_class(sand, max(100 - sand - clay, 0.0), clay)
            least[key] = min(least[key], clay / 100)
    assert least == pytest.approx(LEAST_CLAY, abs=1e-9)


def test_no_soil_is_refused() -> None:
    for shares in ((0, 0, 0), (-1, 50, 51)):
        with pytest.raises(InputError):
            texture_class(*shares)


def test_words_for_soil() -> None:
    assert texture_named("Heavy clay") == "clay"
    assert texture_named("silty clay-loam, mottled") == "silty_clay_loam"
    assert texture_named("Silty loam") == "silt_loam"
    assert texture_named("gravel") is None


@pytest.mark.parametrize("rate", [2.0, 12.0, 90.0])
@pytest.mark.parametrize("hole_mm", [100.0, 300.0])
def test_percolation_gives_back_the_rate_it_was_made_with(rate: float, hole_mm: float) -> None:
    """Bottom and wall soak alike: dh/dt = −K (2h/r + 1), so h + r/2 falls as exp(−2 K t / r)."""
    radius = hole_mm / 2
    minutes = np.arange(0.0, 61.0, 10.0)
    depth = (300 + radius / 2) * np.exp(-2 * rate * minutes / 60 / radius) - radius / 2
    found = percolation(list(zip(minutes, np.maximum(depth, 0.0), strict=True)), hole_mm)
    if depth[-1] > 0:
        assert found.soaks_mm_h == pytest.approx(rate, rel=1e-6)
        assert found.falls_mm_h > found.soaks_mm_h


def test_percolation_counts_what_came_after_the_last_filling() -> None:
    once = [(0.0, 300.0), (30.0, 280.0), (60.0, 262.0)]
    refilled = [(-60.0 + 60, 300.0), (20.0, 250.0), (40.0, 300.0), (70.0, 280.0), (100.0, 262.0)]
    assert percolation(refilled, 300).soaks_mm_h == pytest.approx(percolation(once, 300).soaks_mm_h)
    # 18 mm in half an hour: 36 mm/h, 25 mm in 41.7 min.
    assert percolation(once, 300).falls_mm_h == pytest.approx(36.0)
    assert percolation(once, 300).minutes_per_25_mm == pytest.approx(41.667, abs=0.01)


def test_percolation_of_no_sense() -> None:
    with pytest.raises(BadData, match="two readings"):
        percolation([(0.0, 300.0)], 300)
    with pytest.raises(BadData, match="must rise"):
        percolation([(0.0, 300.0), (0.0, 290.0)], 300)
    tight = percolation([(0.0, 300.0), (60.0, 300.0)], 300)
    assert tight.soaks_mm_h == 0
    assert math.isinf(tight.minutes_per_25_mm)


def test_a_hole_that_still_slows_is_told() -> None:
    assert percolation([(0, 300), (10, 260), (20, 235), (30, 222)], 300).slowing
    assert not percolation([(0, 300), (10, 290), (20, 280), (30, 270)], 300).slowing


def test_the_soil_group() -> None:
    clay = Pit(1.5, (Layer(0, 0.3, "loam"), Layer(0.3, 1.5, "clay")))
    # TR-55's list of 1986: clay is D, loam B.
    assert clay.group == (SoilGroup.D, "texture by tightest horizon")
    assert Pit(1.5, (Layer(0, 1.5, "loam"),)).group[0] is SoilGroup.B
    # A rate beats the texture: 20 mm/h is B by the list of 2009.
    wet = percolation([(0, 300), (10, 260), (20, 224)], 300)
    assert wet.soaks_mm_h > 36.1
    assert Pit(1.5, clay.layers, soaked=wet).group == (SoilGroup.A, "measured soaking")
    # Rock near the surface beats both.
    assert Pit(1.5, clay.layers, rock_m=0.4, soaked=wet).group == (SoilGroup.D, "rock at 0.4 m")
    assert Pit(1.0).group is None


def test_the_rate_to_design_with() -> None:
    soaked = percolation([(0, 300), (30, 280), (60, 262)], 300)
    assert Pit(1.5, soaked=soaked).rate_mm_h == pytest.approx(soaked.soaks_mm_h / 2)
    # The US EPA manual's table: clay loam 1.02 mm/h.
    assert Pit(1.5, (Layer(0, 1, "clay_loam"),)).rate_mm_h == pytest.approx(1.02)
    assert Pit(1.5, (Layer(0, 1, "silt"),)).rate_mm_h == pytest.approx(6.60)


def test_fitness_for_a_pond() -> None:
    clay = Pit(1.5, shares=(20, 30, 50), crumb=1)
    assert pond_fitness(clay).verdict == "Fit"
    assert pond_fitness(Pit(1.5, shares=(20, 30, 50), crumb=3)).verdict == "Unfit"
    assert "dispersive" in pond_fitness(Pit(1.5, shares=(20, 30, 50), crumb=4)).words()
    assert pond_fitness(Pit(1.5, shares=(85, 10, 5), crumb=1)).verdict == "Unfit"
    assert pond_fitness(Pit(1.5, shares=(60, 25, 15), crumb=1)).verdict == "Doubtful"
    assert "no crumb test" in pond_fitness(Pit(1.5, shares=(20, 30, 50))).words()
    leaks = percolation([(0, 300), (60, 250)], 300)
    told = pond_fitness(Pit(1.5, shares=(20, 30, 50), crumb=1, soaked=leaks)).words()
    assert "more than 50" in told
