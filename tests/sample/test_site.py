"""The finished sample: every kind that a family would use, deliberate findings and no others."""

from __future__ import annotations

from pathlib import Path

import pytest

from canvas.site.facts import Ground, Phase, Picture, Threshold, Waiver
from canvas.site.records import element_kinds
from canvas.site.samples import copy_sample, sample_names
from canvas.site.session import Session
from canvas.study.land import Land
from canvas.study.study import Study

#: What the design leaves in for the checks to find (see `design`), by rule.
MEANT = {
    "good_practice.crown_to_dwelling",
    "victoria.crown_over_building",
    "good_practice.belt_round_dwelling",
    "good_practice.plants_over_firebreak",
    "good_practice.plants_easement",
    "good_practice.tall_tree_overhead_line",
    "good_practice.medium_tree_overhead_line",
    "good_practice.crown_overhead_line",
    "good_practice.track_grade",
    "good_practice.track_held_grade",
    "victoria.drive_mean_grade",
}


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Study:
    folder = copy_sample("kestrel_rise", tmp_path_factory.mktemp("sample") / "kr")
    with Session.open(folder) as session:
        assert session.notices == ()
        return Study(session.plan, Land.load(session.plan, folder))


def test_every_kind_is_used(study: Study) -> None:
    used = {key for key in element_kinds() if study.plan.of_kind(key)}
    assert used == set(element_kinds())


def test_ground_aerial_phases_and_agreements_are_there(study: Study) -> None:
    assert len(study.plan.of(Ground)) == len(study.plan.of(Picture)) == 1
    assert [phase.place for phase in study.plan.phases()] == [1, 2, 3, 4]
    assert all(item.reason for item in (*study.plan.of(Waiver), *study.plan.of(Threshold)))
    assert {item.phase for item in study.plan.elements()} >= {p.id for p in study.plan.of(Phase)}


def test_findings_are_the_ones_left_in_on_purpose(study: Study) -> None:
    failing = {each.rule for each in study.findings() if each.failing}
    assert failing == MEANT
    assert any(each.waived for each in study.findings())


def test_unchanged_waiver_still_names_a_finding(study: Study) -> None:
    keys = {each.key for each in study.findings() if each.waived}
    assert {item.finding for item in study.plan.of(Waiver)} == keys


def test_drive_is_steep_for_a_stretch_only(study: Study) -> None:
    facts = {fact.key: fact.value for fact in study.facts("drive")}
    assert 0.16 < facts["sustained_grade"] < facts["max_grade"] < 0.20
    assert facts["length_m"] > 130


def test_there_are_hundreds_of_plants(study: Study) -> None:
    rows = (*study.plan.of_kind("tree_row"), *study.plan.of_kind("hedge"))
    planted = sum(
        fact.value for item in rows for fact in study.facts(item.id) if fact.key == "plants"
    )
    assert planted + len(study.plan.of_kind("tree")) > 300


def test_an_unknown_sample_is_named(tmp_path: Path) -> None:
    from canvas.base.errors import BadData

    with pytest.raises(BadData, match="kestrel_rise"):
        copy_sample("nowhere", tmp_path / "x")
    assert sample_names() == ["kestrel_rise"]


def test_a_folder_in_use_is_left_alone(tmp_path: Path) -> None:
    from canvas.base.errors import BadData

    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(BadData, match="something in this place"):
        copy_sample("kestrel_rise", tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["mine.txt"]
