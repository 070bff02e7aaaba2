"""Sections through pads: at true scale, with the levels and batters of the work itself."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, box

from canvas.drawing.details.crosscut import BUILT, EXISTING
from canvas.drawing.details.registry import Detail, details
from canvas.drawing.entries import Areas, Lines, Text
from canvas.ground.volumes import even_slope_bench
from canvas.site.elements.earthworks import BorrowPit, Heap, Platform, Terraces
from canvas.study.study import Study
from made import EAST, NORTH, plane, study_of

X, Y = EAST + 100, NORTH + 100


def made(item: object, slope: float = 0.2) -> tuple[Study, list[Detail]]:
    study = study_of(item, grid=plane(slope_north=slope))
    return study, details(item, study)  # type: ignore[arg-type]


def scale_of(detail: Detail) -> float:
    return float(detail.scale.removeprefix("1:"))


def drawn(detail: Detail, stroke: object) -> np.ndarray:
    """Return the one line drawn with a stroke [mm]."""
    return next(e.paths[0] for e in detail.entries if isinstance(e, Lines) and e.stroke == stroke)


def words(detail: Detail) -> str:
    return " | ".join(e.words for e in detail.entries if isinstance(e, Text))


def test_a_pads_section_is_the_even_slopes_bench_at_true_scale() -> None:
    """Handbook 5.4, row 1 (arithmetic): 12 m across a slope of 0.20, cut 1:1, fill 2:1."""
    pad = Platform(
        name="Yard", soil="clay", strip_m=0.0, respread_m=0.0,
        geometry=box(X - 40, Y - 6, X + 40, Y + 6),
    )  # fmt: skip
    _, (down, along) = made(pad)
    form = even_slope_bench(12, 0.2, 1, 2, 0.9)
    mm = 1000 / scale_of(down)
    line = drawn(down, BUILT)
    level = np.median(line[:, 1])
    flat = line[np.abs(line[:, 1] - level) < 0.02]
    assert flat[-1, 0] - flat[0, 0] == pytest.approx(12 * mm, abs=0.5)
    ground = np.interp(line[:, 0], *drawn(down, EXISTING).T)
    apart = line[:, 1] - ground
    moved = line[np.abs(apart) > 0.05]
    assert moved[-1, 0] - moved[0, 0] == pytest.approx(form.footprint_m * mm, abs=1.0)
    # The area between the two lines is the form's, by trapezoids on the paper.
    cut = float(np.trapezoid(np.maximum(-apart, 0), line[:, 0])) / mm**2
    fill = float(np.trapezoid(np.maximum(apart, 0), line[:, 0])) / mm**2
    assert cut == pytest.approx(form.cut_m2, rel=0.03)
    assert fill == pytest.approx(form.fill_m2, rel=0.03)
    for part in ("12.00", "1 : 1", "2 : 1", "cut ", "fill ", "Cut ", "indicative"):
        assert part in words(down), part
    assert "80.00" in words(along)


def test_a_wall_stands_where_the_batter_would() -> None:
    pad = Platform(walls="downhill", geometry=box(X - 10, Y - 6, X + 10, Y + 6))
    study, (down, _) = made(pad)
    height = next(f for f in study.facts(pad.id) if f.key == "wall_height_m").value
    assert isinstance(height, float)
    assert f"wall {height:.2f}" in words(down)
    assert any(isinstance(e, Areas) and e.fill and e.fill.role == "brick" for e in down.entries)
    assert "fill " not in words(down).split("Cut ")[0]


def test_terraces_show_every_bench_with_its_level() -> None:
    item = Terraces(geometry=LineString([(X - 30, Y), (X + 30, Y)]), benches=3)
    study, (only,) = made(item)
    work = study.work(item.id)
    assert work is not None
    told = words(only)
    for bench in work.thing.benches:
        assert f"{bench.level_m:.2f}" in told
    assert "3 benches" in told


@pytest.mark.parametrize("item", [
    Heap(geometry=box(X - 12, Y - 8, X + 12, Y + 8)),
    BorrowPit(geometry=box(X - 12, Y - 8, X + 12, Y + 8)),
    Platform(geometry=box(X - 12, Y - 8, X + 12, Y + 8), fall=0.03),
])  # fmt: skip
@pytest.mark.parametrize("slope", [0.0, 0.15])
def test_sections_lie_on_their_paper(item: object, slope: float) -> None:
    _, found = made(item, slope)
    if isinstance(item, (Heap, BorrowPit)):
        assert "1.50" in words(found[0])
    for detail in found:
        assert detail.width_mm < 220
        for entry in detail.entries:
            for path in entry.paths if isinstance(entry, Lines) else ():
                assert np.isfinite(path).all()
                assert path.min() >= 0
                assert (path.max(axis=0) <= (detail.width_mm, detail.height_mm)).all()


def test_what_cannot_be_built_has_no_section() -> None:
    assert made(Platform(level="set", geometry=box(X, Y, X + 9, Y + 9)))[1] == []
