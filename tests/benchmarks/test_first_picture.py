"""From opening a site to its first whole picture on the map: the sample, and 10 000 plants.

The reference in the same run is the plain way: read, study, lay out and paint one thing after the
other in one thread. Run by hand: `pytest tests/benchmarks/test_first_picture.py -s`.
"""

from __future__ import annotations

import time
from dataclasses import replace

import crowded
import numpy as np
import pytest
from PySide6.QtGui import QPainter

from canvas.desk.bench import Bench
from canvas.desk.map_picture import blank, view_of
from canvas.desk.mapview import MapView
from canvas.drawing.build import all_layers
from canvas.drawing.palette import PALETTES
from canvas.paint.painter import paint_layers
from canvas.site.samples import copy_sample
from canvas.site.session import Session
from canvas.study.land import Land
from canvas.study.study import Study

TIMES = 3
SITES = ("sample", "10 000 plants")


@pytest.fixture(params=SITES)
def folder(request, tmp_path):
    if request.param == SITES[0]:
        copy_sample("kestrel_rise", tmp_path / "site")
    else:
        crowded.session(tmp_path).close()
    return tmp_path / "site"


def opened(folder, qtbot) -> tuple[float, float, MapView]:
    """Return how long until the first whole picture, and until all is checked [ms]."""
    bench = Bench()
    view = MapView(bench)
    qtbot.addWidget(view)
    view.resize(1920, 1080)
    view.show()
    crowded.rest(0.05)
    start = time.perf_counter()
    bench.open_session(Session.open(folder))
    crowded.wait(lambda: view.sharp)
    shown = time.perf_counter() - start
    assert view._still.layout.plan.layers, "the picture is empty"
    crowded.wait(lambda: bench.study is not None and not bench.jobs.busy)
    return shown * 1000, (time.perf_counter() - start) * 1000, view


def plain(folder, view: MapView) -> float:
    """Return how long the same picture takes one thing after the other [ms]: the reference."""
    bench = view.bench
    start = time.perf_counter()
    plan = bench.session.plan
    study = Study(plan, Land.load(plan, folder), year=bench.look.year)
    # The first picture is shown before anything is checked.
    look = replace(bench.look, scale=view.scale, findings=False)
    layers = all_layers(study, look, folder=folder, bounds=view.view_bounds())
    image = blank(view.camera, PALETTES["light"]["paper"])
    painter = QPainter(image)
    paint_layers(painter, layers, view_of(view.camera), PALETTES["light"])
    painter.end()
    return (time.perf_counter() - start) * 1000


def test_first_picture(folder, qtbot):
    shown, checked, references = [], [], []
    for _ in range(TIMES):
        first, whole, view = opened(folder, qtbot)
        shown.append(first)
        checked.append(whole)
        references.append(plain(folder, view))
        count = len(view.bench.plan)
        view.close_canvas()
        view.bench.close()
    print(
        f"{count} records: first picture after {np.median(shown):.0f} ms, all checked after "
        f"{np.median(checked):.0f} ms; the plain way takes {np.median(references):.0f} ms"
    )
    # It is painted with room around the view, from threads that take turns.
    assert np.median(shown) < 2.0 * np.median(references) + 300.0
