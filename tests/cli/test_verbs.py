"""Every verb, by its exact words, exit codes and documented JSON."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import rasterio
from click.testing import CliRunner, Result
from shapely import Point, Polygon

from canvas.base.grid import Grid
from canvas.cli import main
from canvas.exchange.rasters import open_grid, write_grid
from canvas.site.edits import add
from canvas.site.elements.building import Building
from canvas.site.elements.land import SiteBoundary
from canvas.site.elements.vegetation import Tree
from canvas.site.elements.water import SepticTank, Well
from canvas.site.facts import Ground, Site, Waiver
from canvas.site.session import Session
from made import EAST, NORTH, plane


def run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


def rectangle(x: float, y: float, w: float, h: float) -> Polygon:
    x, y = EAST + x, NORTH + y
    return Polygon([(x, y), (x + w, y), (x + w, y + h), (x, y + h)])


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """A small site with ground, a boundary, and a well too near a septic tank."""
    folder = tmp_path / "hill"
    facts = Site(name="The hill", crs="EPSG:7854", heights_datum="AHD", rule_sets="california")
    ground = tmp_path / "made.tif"
    write_grid(ground, plane(slope_north=0.10), "EPSG:7854", unit="m")
    with Session.start(folder, facts) as session:
        file = session.adopt(ground)
        record = Ground(file=file, source="made up", accuracy_m=0.1, datum="AHD")
        items = [
            record,
            SiteBoundary(id="edge", name="Our land", geometry=rectangle(10, 10, 150, 150)),
            Well(id="well", name="The well", geometry=Point(EAST + 60, NORTH + 60)),
            SepticTank(id="tank", geometry=Point(EAST + 65, NORTH + 60)),
            Tree(id="oak", geometry=Point(EAST + 100, NORTH + 100), species="Quercus ilex"),
        ]
        session.apply(add("Draw", items))
    return folder


def test_facts_in_words_and_json(site: Path) -> None:
    words = run("facts", site)
    assert words.exit_code == 0
    assert "The hill" in words.output
    assert "2.250\xa0ha" in words.output
    told = json.loads(run("facts", site, "--json").output)
    assert (told["format"], told["version"]) == ("hillwright facts", 1)
    edge = next(item for item in told["elements"] if item["id"] == "edge")
    area = next(fact for fact in edge["facts"] if fact["key"] == "area_m2")
    assert (area["value"], area["unit"], area["basis"]) == (22500.0, "m2", "on the grid")


@pytest.mark.parametrize("named", ["well", "The well", "the WELL", "Well"])
def test_facts_of_one_element(site: Path, named: str) -> None:
    told = json.loads(run("facts", site, named, "--json").output)
    assert [item["id"] for item in told["elements"]] == ["well"]


def test_facts_of_nobody_says_who_there_is(site: Path) -> None:
    found = run("facts", site, "the moon")
    assert found.exit_code == 2
    assert "the moon" in found.output
    assert "The well" in found.output


def test_check_tells_failing_findings_by_exit_code(site: Path) -> None:
    found = run("check", site, "--json")
    told = json.loads(found.output)
    assert found.exit_code == 1
    failing = [each for each in told["findings"] if each["failing"]]
    near = [each for each in failing if {"well", "tank"} <= set(each["elements"])]
    # 50 ft or more between a well and a septic tank in every California table the rules quote.
    assert near
    assert near[0]["measured"] == pytest.approx(4.5, abs=1.6)
    assert near[0]["where"]["type"] in ("LineString", "Point")
    lon, lat = np.ravel(near[0]["where"]["coordinates"])[:2]
    assert 141 < lon < 144
    assert -38 < lat < -36
    assert sum(told["counts"].values()) == len(told["findings"])


def test_check_by_other_rules_and_waived(site: Path) -> None:
    clean = run("check", site, "--rules", "victoria")
    assert clean.exit_code in (0, 1)
    assert "[california" not in clean.output
    keys = [e["key"] for e in json.loads(run("check", site, "--json").output)["findings"]]
    with Session.open(site) as session:
        session.apply(add("Waive", [Waiver(finding=key, reason="seen to") for key in keys]))
    waived = run("check", site)
    assert waived.exit_code == 0
    assert "seen to" in waived.output
    assert f"0 failing, 0 advice, {len(keys)} waived" in waived.output


def test_check_names_unknown_rule_sets(site: Path) -> None:
    found = run("check", site, "--rules", "atlantis")
    assert found.exit_code == 2
    assert "atlantis" in found.output


@pytest.mark.parametrize(
    ("kind", "value"), [("slope", 0.10), ("aspect", 180.0), ("height", 110.0), ("slope_classes", 2)]
)
def test_maps_are_geotiffs_any_program_reads(
    site: Path, tmp_path: Path, kind: str, value: float
) -> None:
    out = tmp_path / "out.tif"
    assert run("map", site, kind, out).exit_code == 0
    with rasterio.open(out) as opened:
        assert opened.crs.to_epsg() == 7854
        # 100 m north of the grid's corner on ground of 10 %: 110 m high, falling to the south.
        row, col = opened.index(EAST + 100, NORTH + 100)
        assert opened.read(1)[row, col] == pytest.approx(value, abs=0.06)


def test_energy_map_takes_a_month(site: Path, tmp_path: Path) -> None:
    for month in (0, 6, 12):
        out = tmp_path / f"{month}.tif"
        assert run("map", site, "energy", out, "--month", month).exit_code == 0
    june = open_grid(tmp_path / "6.tif").z
    # Ground falling south in the southern hemisphere lies out of the winter sun.
    assert np.nanmean(june) < 0.95


def test_unknown_map_lists_those_there_are(site: Path, tmp_path: Path) -> None:
    found = run("map", site, "gravity", tmp_path / "x.tif")
    assert found.exit_code == 2
    assert "hillshade" in found.output


def test_sheet_as_pdf_and_png(site: Path, tmp_path: Path) -> None:
    pdf, png = tmp_path / "plan.pdf", tmp_path / "plan.png"
    assert run("sheet", site, pdf, "--paper", "A3", "--scale", 1000).exit_code == 0
    assert pdf.read_bytes().startswith(b"%PDF")
    assert run("sheet", site, png, "--paper", "A4", "--portrait").exit_code == 0
    assert png.read_bytes().startswith(b"\x89PNG")
    wrong = run("sheet", site, pdf, "--paper", "A17")
    assert wrong.exit_code == 2
    assert "A17" in wrong.output


@pytest.mark.parametrize("suffix", ["geojson", "gpx", "kml", "csv", "gpkg"])
def test_export_and_import_there_and_back(site: Path, tmp_path: Path, suffix: str) -> None:
    out = tmp_path / f"trees.{suffix}"
    assert run("export", site, out, "--kind", "tree").exit_code == 0
    other = tmp_path / "other"
    with Session.start(other, Site(name="Other", crs="EPSG:7854")):
        pass
    brought = run("import", other, out, "--as", "tree")
    assert brought.exit_code == 0, brought.output
    assert "Brought in: 1" in brought.output
    with Session.open(other) as session:
        (tree,) = session.plan.of(Tree)
    assert tree.geometry.distance(Point(EAST + 100, NORTH + 100)) < 0.05


def test_import_of_what_cannot_be_says_why(site: Path, tmp_path: Path) -> None:
    file = tmp_path / "x.geojson"
    file.write_text("{}")
    found = run("import", site, file, "--as", "tree")
    assert found.exit_code == 2
    assert "x.geojson" in found.output
    wrong = run("import", site, file, "--as", "dragon")
    assert wrong.exit_code == 2
    assert "dragon" in wrong.output


def test_start_offers_the_utm_zone_of_the_boundary(tmp_path: Path) -> None:
    boundary = tmp_path / "edge.geojson"
    ring = [[-8.05, 39.6], [-8.048, 39.6], [-8.048, 39.602], [-8.05, 39.602], [-8.05, 39.6]]
    boundary.write_text(
        json.dumps(
            {
                "type": "Feature",
                "properties": {},
                "geometry": {"type": "Polygon", "coordinates": [ring]},
            }
        )
    )
    folder = tmp_path / "new"
    made = run("start", folder, "--name", "West", "--boundary", boundary)
    assert made.exit_code == 0, made.output
    with Session.open(folder) as session:
        # Longitude 8 W lies in UTM zone 29, north.
        assert session.plan.site.crs == "EPSG:32629"
        assert len(session.plan.of(SiteBoundary)) == 1


def test_start_with_ground_wants_its_unit(tmp_path: Path) -> None:
    ground = tmp_path / "g.tif"
    write_grid(ground, Grid(np.full((50, 50), 328.084), EAST, NORTH + 50, 1.0), "EPSG:7854")
    refused = run("start", tmp_path / "a", "--name", "A", "--ground", ground)
    assert refused.exit_code == 2
    assert "--vertical-unit" in refused.output
    made = run("start", tmp_path / "b", "--name", "B", "--ground", ground, "--vertical-unit", "ft")
    assert made.exit_code == 0, made.output
    with Session.open(tmp_path / "b") as session:
        (record,) = session.plan.of(Ground)
        # 328.084 international feet are 100 m.
        assert np.nanmean(open_grid(session.path_of(record.file)).z) == pytest.approx(100, abs=1e-3)


def test_start_takes_the_unit_a_ground_states(tmp_path: Path) -> None:
    ground = tmp_path / "g.tif"
    flat = Grid(np.full((50, 50), 328.084), EAST, NORTH + 50, 1.0)
    write_grid(ground, flat, "EPSG:7854", unit="ft")
    made = run("start", tmp_path / "a", "--name", "A", "--ground", ground)
    assert made.exit_code == 0, made.output
    with Session.open(tmp_path / "a") as session:
        (record,) = session.plan.of(Ground)
        assert np.nanmean(open_grid(session.path_of(record.file)).z) == pytest.approx(100, abs=1e-3)


def test_start_that_fails_leaves_nothing_behind(tmp_path: Path) -> None:
    broken = tmp_path / "edge.geojson"
    broken.write_text("{")
    folder = tmp_path / "new"
    failed = run("start", folder, "--name", "N", "--crs", "EPSG:7854", "--boundary", broken)
    assert failed.exit_code == 2
    assert not folder.exists()


def test_start_over_the_180th_meridian_finds_its_zone(tmp_path: Path) -> None:
    ring = [
        [179.9995, -17],
        [-179.9985, -17],
        [-179.9985, -16.998],
        [179.9995, -16.998],
        [179.9995, -17],
    ]
    boundary = tmp_path / "edge.geojson"
    boundary.write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}))
    made = run("start", tmp_path / "f", "--name", "F", "--boundary", boundary)
    assert made.exit_code == 0, made.output
    with Session.open(tmp_path / "f") as session:
        # Its middle lies at 179.9995 W: zone 1, south.
        assert session.plan.site.crs == "EPSG:32701"


@pytest.mark.parametrize("crs", ["EPSG:2048", "EPSG:3031"])
def test_start_refuses_axes_that_do_not_run_east_and_north(tmp_path: Path, crs: str) -> None:
    refused = run("start", tmp_path / "x", "--name", "X", "--crs", crs)
    assert refused.exit_code == 2
    assert "east and north" in refused.output


def test_a_grid_that_stretches_is_told_of(tmp_path: Path) -> None:
    folder = tmp_path / "web"
    with Session.start(folder, Site(name="W", crs="EPSG:3857")) as session:
        x, y = 1_000_000.0, 10_400_000.0
        corners = [(x, y), (x + 100, y), (x + 100, y + 100), (x, y + 100)]
        session.apply(add("Draw", [SiteBoundary(geometry=Polygon(corners))]))
    assert "every distance" in run("facts", folder).output


def test_check_says_what_it_could_not_check(site: Path) -> None:
    nothing = run("check", site, "--rules", "")
    assert nothing.exit_code == 2
    assert "no rule set" in nothing.output
    for raster in site.glob("*.tif"):
        raster.unlink()
    with Session.open(site) as session:
        house = Building(name="House", geometry=rectangle(40, 100, 10, 10))
        session.apply(add("Build", [house]))
    blind = run("check", site, "--rules", "good_practice")
    assert "NOT CHECKED" in blind.output
    told = json.loads(run("check", site, "--rules", "good_practice", "--json").stdout)
    assert "no ground" in told["unchecked"][0]


def test_start_refuses_degrees_and_a_folder_in_use(site: Path, tmp_path: Path) -> None:
    degrees = run("start", tmp_path / "c", "--name", "C", "--crs", "EPSG:4326")
    assert degrees.exit_code == 2
    assert "degrees" in degrees.output
    assert not (tmp_path / "c").exists()
    again = run("start", site, "--name", "Again", "--crs", "EPSG:7854")
    assert again.exit_code == 2


def test_no_site_no_traceback(tmp_path: Path) -> None:
    for words in (
        ["facts", tmp_path],
        ["check", tmp_path],
        ["sheet", tmp_path, tmp_path / "x.pdf"],
    ):
        found = run(*words)
        assert found.exit_code == 2
        assert "Traceback" not in found.output


@pytest.mark.parametrize("verb", sorted(main.commands))
def test_every_verb_shows_an_example(verb: str) -> None:
    shown = run(verb, "--help")
    assert shown.exit_code == 0
    assert f"hillwright {verb}" in shown.output.split("Example:")[1]


def test_verbs_are_the_ones_promised() -> None:
    promised = {
        "open", "sample", "start", "facts", "check", "map", "lines", "find", "earth", "storm",
        "ground", "sheet", "export", "import",
    }  # fmt: skip
    assert set(main.commands) == promised


def test_only_open_and_sheet_reach_qt(site: Path, tmp_path: Path) -> None:
    script = (
        "import sys\nfrom canvas.cli import main\n"
        "try:\n    main(sys.argv[1:])\nexcept SystemExit:\n    pass\n"
        "assert not [m for m in sys.modules if m.startswith('PySide6')], 'Qt was loaded'\n"
    )
    out = str(tmp_path / "out.geojson")
    for words in (["facts", str(site)], ["check", str(site)], ["export", str(site), out]):
        done = subprocess.run(
            [sys.executable, "-c", script, *words], capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr


def test_building_area_in_us_units(site: Path) -> None:
    with Session.open(site) as session:
        from canvas.site.edits import put
        from canvas.site.records import changed

        facts = session.plan.site
        session.apply(put("Units", [(facts, changed(facts, units="us"))]))
        house = Building(id="house", name="House", geometry=rectangle(40, 40, 10, 10))
        session.apply(add("Build", [house]))
    # 100 m2 are 1076.39 ft2 (NIST SP 811: 1 ft2 = 0.09290304 m2).
    assert "1\u202f076" in run("facts", site, "House").output
