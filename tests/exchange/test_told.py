"""What was left out is told by reason, not by line."""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner

from canvas.cli import main
from canvas.exchange.incoming import Skipped, told
from canvas.site.facts import Site
from canvas.site.session import Session


def test_one_line_for_each_reason_with_count_and_first_places():
    skipped = [Skipped(f"feature {n}", "an area is needed") for n in range(1, 166)]
    skipped.insert(7, Skipped("feature 300", "it has no shape"))
    assert told(skipped) == (
        "165 (feature 1, feature 2, feature 3 …): an area is needed",
        "feature 300: it has no shape",
    )


def test_two_places_are_both_named():
    assert told([Skipped("line 2", "empty"), Skipped("line 9", "empty")]) == (
        "2 (line 2, line 9): empty",
    )


def test_nothing_left_out_says_nothing():
    assert told([]) == ()


def test_the_command_line_tells_the_same(tmp_path: Path):
    Session.start(tmp_path / "hill", Site(crs="EPSG:7854")).close()
    points = [
        {"type": "Feature", "properties": {}, "geometry": {"type": "Point", "coordinates": c}}
        for c in ([137.0 + k / 1e4, -35.0] for k in range(40))
    ]
    ring = [[137.0, -35.0], [137.001, -35.0], [137.001, -35.001], [137.0, -35.0]]
    area = {"type": "Feature", "properties": {}, "geometry": {"type": "Polygon",
            "coordinates": [ring]}}  # fmt: skip
    file = tmp_path / "mixed.geojson"
    file.write_text(json.dumps({"type": "FeatureCollection", "features": [area, *points]}))
    said = CliRunner().invoke(main, ["import", str(tmp_path / "hill"), str(file), "--as", "zone"])
    left = [line for line in said.output.splitlines() if line.startswith("Left out")]
    assert len(left) == 1
    assert left[0].startswith("Left out, 40 (feature 2, feature 3, feature 4 …): ")
