"""Lines of the ground written as GeoJSON, read back by an independent library."""

from __future__ import annotations

import json
from pathlib import Path

import pyogrio
import pytest
from click.testing import CliRunner

from canvas.base import resources
from canvas.cli import main

SITE = str(resources.samples() / "kestrel_rise" / "site")


def run(*words: str) -> str:
    """Run a verb that must succeed."""
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 0, result.output
    return result.output


@pytest.mark.parametrize("kind", ["drainage", "valleys", "ridges", "keypoints"])
def test_lines_come_out_as_geojson(kind: str, tmp_path: Path) -> None:
    out = tmp_path / f"{kind}.geojson"
    assert "written" in run("lines", SITE, kind, str(out))
    info = pyogrio.read_info(out)
    assert info["features"] > 0
    assert info["crs"] == "EPSG:4326"
    assert info["geometry_type"] == ("Point" if kind == "keypoints" else "LineString")


def test_the_way_of_a_drop_starts_where_it_fell(tmp_path: Path) -> None:
    out = tmp_path / "drop.geojson"
    run("lines", SITE, "drop", str(out), "--at", _middle())
    feature = json.loads(out.read_text())["features"][0]
    assert feature["properties"]["length_m"] > 0
    assert feature["properties"]["fall_m"] > 0


def _middle() -> str:
    from canvas.exchange.rasters import open_grid

    west, south, east, north = open_grid(Path(SITE) / _ground()).bounds
    return f"{(west + east) / 2},{(south + north) / 2}"


def _ground() -> str:
    return next(p.name for p in Path(SITE).glob("ground*.tif"))


def test_another_suffix_and_kind_are_refused(tmp_path: Path) -> None:
    told = CliRunner().invoke(main, ["lines", SITE, "ridges", str(tmp_path / "r.shp")])
    assert told.exit_code == 2
    told = CliRunner().invoke(main, ["lines", SITE, "rivers", str(tmp_path / "r.geojson")])
    assert told.exit_code == 2
    assert "drainage, valleys" in told.output


def test_a_catchment_comes_out_as_an_area(tmp_path: Path) -> None:
    out = tmp_path / "catchment.geojson"
    run("lines", SITE, "catchment", str(out), "--at", _middle())
    feature = json.loads(out.read_text())["features"][0]
    assert feature["geometry"]["type"] == "MultiPolygon"
    assert feature["properties"]["catchment_m2"] > 0
