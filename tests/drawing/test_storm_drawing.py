"""The chain as a diagram, hydrographs, and spills on the map."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString

from canvas.base.quantity import UnitSystem
from canvas.drawing.build import plan_layers
from canvas.drawing.chain_diagram import chain_diagram
from canvas.drawing.details.registry import site_details
from canvas.drawing.entries import Lines, Stamps, Text
from canvas.drawing.flow_chart import flow_chart
from canvas.drawing.look import Look
from canvas.drawing.palette import PALETTES
from canvas.drawing.spills import KEY
from canvas.site.elements.swales import Swale
from canvas.site.storms import DesignStorm
from canvas.study.schedules import schedules
from canvas.study.study import Study
from made import EAST, NORTH, plane, study_of


def studied(depth_mm: float, **fields: object) -> Study:
    lines = {y: LineString([(EAST + 60, NORTH + y), (EAST + 140, NORTH + y)]) for y in (150, 80)}
    swales = [Swale(id=f"s{y}", name=f"Swale {y}", geometry=g, **fields) for y, g in lines.items()]  # type: ignore[arg-type]
    return study_of(DesignStorm(depth_mm=depth_mm, group="D"), *swales, grid=plane())


@pytest.fixture(scope="module")
def study() -> Study:
    found = studied(100.0)
    found.chain()
    return found


@pytest.mark.parametrize("size", [(60.0, 30.0), (200.0, 40.0), (120.0, 160.0)])
def test_what_feeds_another_stands_above_it_and_all_fits(
    study: Study, size: tuple[float, float]
) -> None:
    made = chain_diagram(study.chain(), *size)
    upper, lower = made.boxes["s150"], made.boxes["s80"]
    assert upper[1] > lower[1] + lower[3]
    for left, bottom, wide, high in made.boxes.values():
        assert left >= 0
        assert bottom >= 0
        assert left + wide <= made.width_mm + 1e-6
        assert bottom + high <= made.height_mm + 1e-6
    assert made.at(upper[0] + 1, upper[1] + 1) == "s150"
    assert made.at(-5.0, -5.0) == ""


def test_arrows_carry_volume_and_peak(study: Study) -> None:
    made = chain_diagram(study.chain(), 150.0, 60.0)
    words = " ".join(e.words for e in made.entries if isinstance(e, Text))
    found = study.chain().routed("s150")
    assert found is not None
    assert f"{found.spilled_m3:.0f} m³" in words.replace("\N{NO-BREAK SPACE}", " ")
    assert "off the land" in words
    assert "Swale 150" in words


def test_what_is_over_capacity_says_so_in_words_and_in_the_warning_ink() -> None:
    made = chain_diagram(studied(450.0, sill_m=0.5).chain(), 150.0, 60.0)
    words = [e for e in made.entries if isinstance(e, Text) and e.role == "warning"]
    assert any("OVER" in e.words for e in words)
    assert any(isinstance(e, Lines) and e.stroke.role == "warning" for e in made.entries)


def test_every_ink_is_one_there_is(study: Study) -> None:
    made = chain_diagram(study.chain(), 150.0, 60.0, chosen="s80")
    roles = {e.stroke.role for e in made.entries if isinstance(e, Lines)}
    roles |= {e.role for e in made.entries if isinstance(e, Text)}
    for palette in PALETTES.values():
        assert roles <= set(palette)


def test_hydrographs_are_thinned_but_keep_their_peak(study: Study) -> None:
    chart = flow_chart(study.chain(), "s80", 120.0, 50.0)
    assert chart is not None
    _, came, _ = study.chain().flows("s80")
    assert chart.range[3] >= came.max()
    assert flow_chart(study.chain(), "nobody", 120.0, 50.0) is None


def test_spills_are_on_the_map_when_wanted_with_arrows_the_way_water_runs(study: Study) -> None:
    layers = {layer.key: layer for layer in plan_layers(study, Look(spills=True))}
    entries = layers[KEY].entries
    lines = [e for e in entries if isinstance(e, Lines) and e.ids == ("s150",)]
    assert len(lines) == 1
    path = lines[0].paths[0]
    # The plane falls south.
    assert path[0][1] > path[-1][1]
    stamps = [e for e in entries if isinstance(e, Stamps) and e.ids == ("s150",)]
    turn = stamps[0].turn_deg
    assert turn is not None
    assert np.allclose(turn, 180.0, atol=40.0)
    assert KEY not in {layer.key for layer in plan_layers(study, Look())}


def test_a_chain_not_worked_out_is_not_waited_for() -> None:
    fresh = studied(100.0)
    assert KEY not in {layer.key for layer in plan_layers(fresh, Look(spills=True))}
    fresh.chain()
    assert KEY in {layer.key for layer in plan_layers(fresh, Look(spills=True))}


def test_the_details_sheet_holds_chain_and_flow_with_cautions(study: Study) -> None:
    chain, flow = site_details(study)
    words = " ".join(e.words for e in chain.entries if isinstance(e, Text))
    assert "licensed practice" in words
    assert "closes" in words
    for detail in (chain, flow):
        texts = [e for e in detail.entries if isinstance(e, Text)]
        assert all(-1 <= e.y <= detail.height_mm + 1 for e in texts)
    assert flow.title.startswith("Swale 80")
    assert site_details(study_of(DesignStorm(depth_mm=50.0), grid=plane())) == []


def test_the_schedule_lists_the_stores_and_what_is_over() -> None:
    table = next(t for t in schedules(studied(450.0, sill_m=0.5), UnitSystem.METRIC)
                 if t.title.startswith("Storm"))  # fmt: skip
    assert [line.ident for line in table.lines[:2]] == ["s150", "s80"]
    assert table.lines[0].role == "warning"
    assert "over" in table.lines[0].cells[0]
    assert table.lines[2].cells[0] == "Leaves the land"
    assert all(len(line.cells) == len(table.columns) for line in table.lines)
