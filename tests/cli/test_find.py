"""The verb that looks for places: what it tells, what it adds, what it refuses."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from canvas.base import resources
from canvas.cli import main
from canvas.site.session import Session


@pytest.fixture
def site(tmp_path: Path) -> Path:
    shutil.copytree(resources.samples() / "kestrel_rise" / "site", tmp_path / "site")
    return tmp_path / "site"


def test_places_for_a_platform_as_json_and_added_on_request(site: Path) -> None:
    done = CliRunner().invoke(
        main, ["find", str(site), "platforms", "--size", "16x10", "--json", "--add", "1"]
    )
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    assert told["format"] == "hillwright suggestions"
    scores = [each["score"] for each in told["suggestions"]]
    assert scores == sorted(scores, reverse=True)
    first = told["suggestions"][0]
    assert first["kind"] == "platform"
    assert {"Little earth", "Winter sun"} <= set(first["parts"])
    with Session.open(site, readonly=True) as session:
        added = list(session.plan.of_kind("platform"))
        assert any(item.geometry.area == pytest.approx(160.0) for item in added)


def test_a_track_is_told_in_words_with_a_caution(site: Path) -> None:
    with Session.open(site, readonly=True) as session:
        land = next(iter(session.plan.of_kind("site_boundary"))).geometry
    spot = land.representative_point()
    ends = ["--from", f"{spot.x - 40},{spot.y}", "--to", f"{spot.x + 40},{spot.y}"]
    done = CliRunner().invoke(main, ["find", str(site), "track", *ends, "--grade", "14"])
    assert done.exit_code == 0, done.output
    assert "nowhere steeper than" in done.output
    assert "licensed" in done.output


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["track", "--from", "here", "--to", "1,2"], "not two numbers"),
        (["platforms", "--size", "big"], "not two numbers"),
        (["platforms", "--add", "99"], "no place number 99"),
    ],
)
def test_trouble_is_named(site: Path, words: list[str], says: str) -> None:
    done = CliRunner().invoke(main, ["find", str(site), *words])
    assert done.exit_code == 2
    assert says in done.output
