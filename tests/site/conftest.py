"""Sites to write to, and records to put in them. Invented data."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from canvas.site.facts import Phase, Site
from canvas.site.session import Session
from canvas.site.store import geopackage

CRS = "EPSG:7854"


@pytest.fixture
def site() -> Site:
    return Site(name="Made up", crs=CRS, heights_datum="AHD")


@pytest.fixture
def session(tmp_path: Path, site: Site) -> Iterator[Session]:
    """A fresh site with one phase, open for writing."""
    with Session.start(tmp_path / "site", site, [Phase(id="first", name="First")]) as made:
        yield made


@pytest.fixture
def foreign() -> Callable[..., list[tuple[object, ...]]]:
    """Another program: runs one statement on a site file and lets go of it again."""

    def run(folder: Path, sql: str, *values: object) -> list[tuple[object, ...]]:
        con = sqlite3.connect(folder / "site.gpkg", isolation_level=None)
        try:
            geopackage.register_functions(con)
            return con.execute(sql, values).fetchall()
        finally:
            con.close()

    return run
