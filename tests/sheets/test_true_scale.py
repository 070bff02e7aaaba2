"""True scale, measured in the PDF's own operators: within 0.1 mm on paper."""

from __future__ import annotations

import itertools

import drawn_site
import numpy as np
import pdf_ink
import pytest

from canvas.drawing.look import Look
from canvas.paint.export import write_pdf
from canvas.sheets.papers import PAPERS, US_SCALES
from canvas.sheets.plan_sheet import SheetOptions, plan_sheet

WITHIN_MM = 0.1
#: Sides in millimetres, by hand: ISO 216; US sizes as inches x 25.4.
SIDES = {
    "A4": (210, 297), "A3": (297, 420), "A2": (420, 594), "A1": (594, 841), "A0": (841, 1189),
    "ANSI A": (215.9, 279.4), "ANSI B": (279.4, 431.8), "ANSI C": (431.8, 558.8),
    "ANSI D": (558.8, 863.6), "ANSI E": (863.6, 1117.6), "Arch A": (228.6, 304.8),
    "Arch B": (304.8, 457.2), "Arch C": (457.2, 609.6), "Arch D": (609.6, 914.4),
    "Arch E": (914.4, 1219.2), "Arch E1": (762.0, 1066.8),
}  # fmt: skip
SCALES = (100.0, 200.0, 250.0, 500.0, 1000.0, 2000.0, 240.0, 333.0)


def boundary_mm(scale):
    """Return the boundary's corners on paper from its first, closed, in millimetres."""
    corners = np.array([*drawn_site.CORNERS, drawn_site.CORNERS[0]], float)
    return (corners - corners[0]) * 1000 / scale


def printed(study, tmp_path, **options):
    look = Look(year=8, contour_interval_m=0.0)
    pages = plan_sheet(study, SheetOptions(look=look, **options))
    path = tmp_path / "sheet.pdf"
    write_pdf(pages, path)
    return pages[0], pdf_ink.read(path)[0]


def check(page, ink, scale):
    """Measure boundary, diagonals, ticks and a symbol on a printed page."""
    frame = page.frames[0]
    assert frame.scale == pytest.approx(scale)
    wanted = boundary_mm(scale)
    # Corners may be listed from any start, either way round.
    ring = wanted[:-1]
    tries = []
    for shift in range(len(ring)):
        for way in (1, -1):
            turned = np.roll(ring, -shift, axis=0)[::way]
            tries.append(np.vstack([turned, turned[:1]]))
    found = [p for w in tries for p in ink.shaped_like(w, WITHIN_MM)]
    assert found, "the boundary is not on the sheet at this scale"
    drawn = found[0].points[:-1]
    for a, b in itertools.combinations(range(len(drawn)), 2):
        on_paper = np.hypot(*(drawn[a] - drawn[b]))
        # Each pair of corners: every side and every diagonal.
        assert np.abs(np.hypot(*(ring[:, None] - ring[None]).T) - on_paper).min() <= WITHIN_MM
    # A page is a whole number of points in the file, up to 0.18 mm off; places count from the
    # upper left corner, where drawing starts.
    low = ink.height_mm - page.height_mm
    check_ticks(frame, ink, found[0].points, low)
    check_tank(frame, ink, scale, low)


def paper_of(frame, x, y, low):
    """Return where ground lies on paper [mm]: worked out here, from the frame alone."""
    left = frame.left_mm + frame.width_mm / 2
    foot = low + frame.bottom_mm + frame.height_mm / 2
    return np.array(
        [
            left + (x - frame.centre_x) * 1000 / frame.scale,
            foot + (y - frame.centre_y) * 1000 / frame.scale,
        ]
    )


def check_ticks(frame, ink, boundary, low):
    """Coordinate crosses stand on whole coordinates, seen from the printed boundary."""
    corner = boundary[
        np.argmin(np.abs(boundary - paper_of(frame, *drawn_site.at((0, 0))[0], low)).sum(axis=1))
    ]
    crosses = [
        p.points.mean(axis=0)
        for p in ink.paths
        if len(p.points) == 2
        and p.painted == "S"
        and np.hypot(*(p.points[1] - p.points[0])) == pytest.approx(2.4, abs=0.02)
        and p.width_mm == pytest.approx(0.18, abs=0.01)
    ]
    assert len(crosses) >= 2
    home = np.array(drawn_site.at((0, 0))[0])
    ground = (np.array(crosses) - corner) * frame.scale / 1000 + home
    for values in ground.T:
        apart = np.diff(np.unique(values.round(0)))
        if not len(apart):
            continue
        step = apart.min()
        assert step in (5, 10, 20, 50, 100, 200, 500)
        off_m = np.abs(values - np.round(values / step) * step)
        assert (off_m * 1000 / frame.scale).max() <= WITHIN_MM


def check_tank(frame, ink, scale, low):
    """The tank, six metres across, is that wide, where it stands."""
    place = paper_of(frame, *drawn_site.at((142, 112))[0], low)
    window = (frame.left_mm, frame.left_mm + frame.width_mm)
    if not window[0] < place[0] < window[1]:
        return
    rings = ink.rings(6000.0 / scale, WITHIN_MM)
    assert rings
    assert min(np.hypot(*(middle - place)) for middle in rings) <= WITHIN_MM


@pytest.mark.parametrize("name", list(SIDES))
@pytest.mark.parametrize("landscape", [True, False])
def test_every_paper_at_best_fit(bare, tmp_path, name, landscape):
    page, ink = printed(bare, tmp_path, paper=name, landscape=landscape)
    short, long = SIDES[name]
    width, height = (long, short) if landscape else (short, long)
    # Page sizes are whole points in the file: half a point is 0.18 mm.
    assert ink.width_mm == pytest.approx(width, abs=0.18)
    assert ink.height_mm == pytest.approx(height, abs=0.18)
    check(page, ink, page.frames[0].scale)


@pytest.mark.parametrize("scale", SCALES)
def test_chosen_scales(bare, tmp_path, scale):
    check(*printed(bare, tmp_path, paper="A0", scale=scale), scale)


@pytest.mark.parametrize("name", ["ANSI D", "Arch E"])
def test_us_customary_scales(tmp_path, name):
    study = drawn_site.study(0, units="us")
    keep = ("edge", "tank", "bore", "bm")
    study = study.moved(
        study.plan.without(*(e.id for e in study.plan.elements() if e.id not in keep))
    )
    page, ink = printed(study, tmp_path, paper=name)
    assert page.frames[0].scale in US_SCALES
    check(page, ink, page.frames[0].scale)
    # One inch on paper is so many whole feet: the boundary's south side measures that.
    feet = page.frames[0].scale / 12
    assert feet == round(feet)


def test_the_papers_are_the_standard_sizes():
    assert set(PAPERS) == set(SIDES)
    for name, sides in SIDES.items():
        assert (PAPERS[name].width_mm, PAPERS[name].height_mm) == pytest.approx(sides)


def test_symbol_of_fixed_size_on_paper(bare, tmp_path):
    for scale in (500.0, 1000.0):
        page, ink = printed(bare, tmp_path, paper="A1", scale=scale)
        low = ink.height_mm - page.height_mm
        place = paper_of(page.frames[0], *drawn_site.at((205, 60))[0], low)
        near = [m for m in ink.rings(2.6, WITHIN_MM) if np.hypot(*(m - place)) <= WITHIN_MM]
        assert near, "the bore's ring is not 2.6 mm across where the bore is"
