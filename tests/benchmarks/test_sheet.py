"""A sheet with ten thousand plants: under 3 s, under 5 MB. Run by hand.

The reference in the same run is matplotlib drawing as many crowns to a PDF, as circles only.
"""

from __future__ import annotations

import time

import drawn_site
import pytest

from canvas.drawing.look import Look
from canvas.paint.export import write_pdf
from canvas.sheets.plan_sheet import SheetOptions, plan_sheet

PLANTS = 10_000
MOST_S = 3.0
MOST_BYTES = 5_000_000


@pytest.fixture(scope="module")
def planted():
    study = drawn_site.study(PLANTS)
    study.contours(1.0)  # compiled once, before the clock runs
    study.findings()
    return study


def matplotlib_crowns(study, path):
    """Draw the crowns alone with matplotlib and return the seconds it took."""
    import matplotlib

    matplotlib.use("pdf")
    from matplotlib.collections import EllipseCollection
    from matplotlib.figure import Figure

    start = time.perf_counter()
    trees = study.plan.of_kind("tree")
    figure = Figure(figsize=(33.1, 23.4))
    axes = figure.add_subplot()
    sizes = [tree.mature_crown_m for tree in trees]
    axes.add_collection(
        EllipseCollection(
            sizes, sizes, [0.0] * len(trees), units="x", edgecolors="k", facecolors="g",
            offsets=[(tree.geometry.x, tree.geometry.y) for tree in trees],
            transOffset=axes.transData,
        )
    )  # fmt: skip
    axes.autoscale_view()
    figure.savefig(path)
    return time.perf_counter() - start


@pytest.mark.parametrize("paper", ["A3", "A1"])
def test_sheet_with_ten_thousand_plants(benchmark, planted, tmp_path, paper, qapp):
    path = tmp_path / "plan.pdf"
    options = SheetOptions(paper=paper, look=Look(year=8, findings=False))

    def print_it():
        # A study that has answered nothing yet but its contours and findings.
        write_pdf(plan_sheet(planted.preview(planted.plan), options), path)

    benchmark.pedantic(print_it, rounds=3)
    reference = matplotlib_crowns(planted, tmp_path / "reference.pdf")
    benchmark.extra_info |= {"bytes": path.stat().st_size, "matplotlib_s": round(reference, 2)}
    assert benchmark.stats["median"] < MOST_S
    assert path.stat().st_size < MOST_BYTES
