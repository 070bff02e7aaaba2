"""How water works along a hill are drawn, and their sections with dimensions."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, Point

from canvas.base.grid import Grid
from canvas.drawing.build import element_entries
from canvas.drawing.details.registry import Detail, details
from canvas.drawing.entries import Areas, Lines, Stamps, Text
from canvas.drawing.look import Look
from canvas.drawing.palette import PALETTES
from canvas.site.elements.ponds import DugPond
from canvas.site.elements.swales import CheckDam, Drain, LevelSill, Swale
from canvas.site.records import changed
from canvas.study.study import Study
from made import EAST, NORTH, study_of


def hill() -> Grid:
    """One in eight, with a gully 2 m deep up its east side."""
    row, col = np.mgrid[0:200, 0:200]
    x, y = col + 0.5, 200 - row - 0.5
    z = 150 + 0.125 * y - 2.0 * np.exp(-(((x - 160) / 4) ** 2))
    return Grid(z, EAST, NORTH + 200, 1.0)


def line(*points: tuple[float, float]) -> LineString:
    return LineString([(EAST + x, NORTH + y) for x, y in points])


SWALE = Swale(id="swale", name="Top", geometry=line((30, 100), (120, 100)), sill="end")
DRAIN = Drain(id="drain", geometry=line((30, 140.4), (120, 136.8)), design_flow_m3s=0.05)
SILL = LevelSill(id="sill", geometry=line((60, 60), (72, 60)))
CHECK = CheckDam(id="check", geometry=line((151, 60), (169, 60)))


@pytest.fixture(scope="module")
def study() -> Study:
    return study_of(SWALE, DRAIN, SILL, CHECK, grid=hill())


def entries(study: Study, ident: str, scale: float):
    return element_entries(study, study.plan.element(ident), Look(scale=scale, palette="paper"))


def arrows(drawn) -> np.ndarray:
    found = [e for e in drawn if isinstance(e, Stamps) and e.symbol == "flow"]
    return np.vstack([np.column_stack((e.xy, e.turn_deg)) for e in found])


@pytest.mark.parametrize("scale", [500, 1000, 2000])
def test_a_swale_is_water_bank_and_sill_with_arrows_to_it(study: Study, scale: float) -> None:
    drawn = entries(study, "swale", scale)
    assert {e.fill.role for e in drawn if isinstance(e, Areas) and e.fill} == {"water_fill"}
    roles = {e.stroke.role for e in drawn if isinstance(e, Lines)}
    assert roles >= {"water", "earth"}
    # Along the channel all arrows run east, to the sill at its end; over the sill they run south.
    found = arrows(drawn)
    along = found[np.abs(found[:, 1] - (NORTH + 100)) < 0.5]
    before = along[along[:, 0] < EAST + 116]
    assert len(before)
    assert before[:, 2] == pytest.approx(90, abs=1)
    over = found[found[:, 1] < NORTH + 98.5]
    assert len(over)
    assert over[:, 2] == pytest.approx(180, abs=5)


@pytest.mark.parametrize("ident", ["swale", "pond"])
def test_no_tint_of_water_hides_the_depth_of_rain(ident: str) -> None:
    pond = DugPond(id="pond", geometry=Point(EAST + 60, NORTH + 60).buffer(12))
    study = study_of(SWALE, pond, grid=hill())
    for shading, there in (("rain_depth", False), ("slope", True)):
        look = Look(scale=500, palette="paper", shading=shading)
        drawn = element_entries(study, study.plan.element(ident), look)
        roles = {e.fill.role for e in drawn if isinstance(e, Areas) and e.fill}
        assert ("water_fill" in roles) == there
        # Its edge is drawn all the same.
        assert "water" in {e.stroke.role for e in drawn if isinstance(e, Lines)}


def test_arrows_run_the_way_a_drain_falls(study: Study) -> None:
    east = arrows(entries(study, "drain", 500))
    assert np.all(np.abs(east[:, 2] - 92.3) < 5)
    turned = changed(DRAIN, grade=-0.005)
    back = arrows(element_entries(study, turned, Look(scale=500, palette="paper")))
    assert np.all(np.abs(back[:, 2] - 272.3) < 5)


def test_levels_are_written_where_there_is_room(study: Study) -> None:
    # 150 + 0.125 x 100 at the lip.
    words = [e.words for e in entries(study, "swale", 500) if isinstance(e, Text)]
    assert any("Top" in each and "162.50" in each for each in words)
    far = [e.words for e in entries(study, "swale", 5000) if isinstance(e, Text)]
    assert not any("162.50" in each for each in far)
    fall = [e.words for e in entries(study, "drain", 500) if isinstance(e, Text)]
    assert any("1:200" in each for each in fall)


def test_rock_and_logs_differ_without_colour(study: Study) -> None:
    rock = entries(study, "check", 500)
    log = element_entries(study, changed(CHECK, made_of="log"), Look(scale=500, palette="paper"))
    assert any(isinstance(e, Stamps) and e.symbol == "ring" for e in rock)
    assert not any(isinstance(e, Stamps) and e.symbol == "ring" for e in log)
    # The gully falls south: over the notch the water goes that way.
    assert arrows(rock)[:, 2] == pytest.approx(180, abs=5)


def words_of(detail: Detail) -> list[str]:
    return [e.words.replace("\xa0", " ") for e in detail.entries if isinstance(e, Text)]


def test_a_swales_sections_are_to_scale_and_dimensioned(study: Study) -> None:
    middle, sill = details(SWALE, study)
    assert middle.scale.startswith("1:")
    assert "sill" in sill.title
    told = words_of(middle)
    # 1.0 m bottom, 3.0 m at the lip, 0.5 m deep, bank 0.5 m wide and 0.3 m high, sill at 0.15.
    for figure in ("1.00 m", "3.00 m", "0.50 m", "bank 0.30 m", "freeboard 0.15 m", "2 : 1"):
        assert figure in told, figure
    assert any("water 162.65 m" in each for each in told)
    assert any("indicative" in each for each in told)
    # At its sill the bank is lowered to where water runs over: no bank of 0.30, no freeboard.
    said = words_of(sill)
    assert "sill 0.15 m" in said
    assert not any("bank 0" in each or "freeboard" in each for each in said)
    # The dimensions' own lines are as long on paper as what they measure.
    scale = float(middle.scale[2:])
    measured = [
        np.ptp(path[:, 0])
        for e in middle.entries
        if isinstance(e, Lines) and e.stroke.role == "dimension" and not e.stroke.dash_mm
        for path in e.paths
    ]
    for metres in (1.0, 3.0, 0.5):
        assert any(abs(mm - 1000 * metres / scale) < 1e-6 for mm in measured), metres


@pytest.mark.parametrize("item", [SWALE, DRAIN, SILL, CHECK], ids=lambda item: item.id)
def test_all_that_is_drawn_lies_on_the_paper_in_inks_there_are(study: Study, item) -> None:
    made = details(item, study)
    assert made
    for detail in made:
        for entry in detail.entries:
            match entry:
                case Lines(paths=paths, stroke=stroke):
                    xy, role = np.vstack(paths), stroke.role
                case Areas(polygons=polygons, fill=fill):
                    xy, role = np.vstack([ring for rings in polygons for ring in rings]), fill.role
                case Text():
                    xy, role = np.array([[entry.x, entry.y]]), entry.role
            assert role in PALETTES["paper"]
            assert np.isfinite(xy).all()
            assert (xy >= -0.01).all()
            assert (xy[:, 0] <= detail.width_mm + 0.01).all()
            assert (xy[:, 1] <= detail.height_mm + 0.01).all()


def test_a_drains_section_shows_the_design_flow(study: Study) -> None:
    (section,) = details(DRAIN, study)
    assert "design flow" in section.title
    face, through = details(CHECK, study)
    assert "0.60 m" in words_of(face)
    assert "1.20 m" in words_of(face)
    assert "apron 1.20 m" in words_of(through)


def test_what_cannot_be_built_has_no_section() -> None:
    level = Swale(geometry=line((30, 100), (120, 100)), sill_above_m=0.5, bank_m=0.3)
    study = study_of(level, grid=hill())
    assert details(level, study) == []
    drawn = element_entries(study, level, Look(scale=500, palette="paper"))
    assert any(isinstance(e, Lines) for e in drawn)
