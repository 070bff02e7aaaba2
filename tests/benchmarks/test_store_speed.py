"""Opening a site of 10 000 trees and committing one edit; reading by GDAL is the reference."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count
from pathlib import Path
from typing import Any

import pyogrio.raw
import pytest
from shapely.geometry import Point

from canvas.site.edits import put
from canvas.site.elements.vegetation import Tree
from canvas.site.facts import Site
from canvas.site.records import changed
from canvas.site.session import Session


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("large")
    trees = [Tree(id=f"t{i}", geometry=Point(i % 100, i // 100)) for i in range(10_000)]
    Session.start(folder, Site(crs="EPSG:7854"), trees).close()
    return folder


@pytest.fixture
def session(folder: Path) -> Iterator[Session]:
    with Session.open(folder) as made:
        yield made


def test_open_10_000_trees(folder: Path, benchmark: Any) -> None:
    benchmark(lambda: Session.open(folder).close())
    assert benchmark.stats.stats.median < 0.5


def test_reference_gdal_reads_10_000_trees(folder: Path, benchmark: Any) -> None:
    _, _, shapes, _ = benchmark(lambda: pyogrio.raw.read(folder / "site.gpkg", layer="tree"))
    assert len(shapes) == 10_000


def test_one_edit_among_10_000_trees(session: Session, benchmark: Any) -> None:
    numbers = count(1)

    def move() -> None:
        tree = session.plan.element("t500")
        session.apply(put("Move", [(tree, changed(tree, geometry=Point(next(numbers), 5)))]))

    benchmark(move)
    assert benchmark.stats.stats.median < 0.010
