"""One count for desk, sheet and command line; schedules shared by desk and sheet."""

from __future__ import annotations

from collections import Counter

import drawn_site
import pytest
from shapely.geometry import Point

from canvas.base.quantity import UnitSystem
from canvas.site.elements.vegetation import Tree
from canvas.site.facts import Phase
from canvas.site.records import element_kinds, kind_of
from canvas.study.counts import counts, counts_table, kind_table, phase_table
from canvas.study.schedules import schedules
from made import EAST, NORTH, study_of


@pytest.fixture(scope="module")
def whole():
    return drawn_site.study(12)


@pytest.fixture
def orchard():
    """Trees of every status in two phases, by hand: 2 kept, 1 built, 3 + 4 new, 2 out, 1 gone."""
    made = ["existing"] * 2 + ["built"] + ["proposed"] * 7 + ["remove"] * 2 + ["gone"]
    phases = [Phase(id="one", name="First", place=1), Phase(id="two", name="Second", place=2)]
    trees = [
        Tree(id=f"t{k}", species="Malus domestica", status=status, geometry=Point(EAST + k, NORTH),
             phase="" if status != "proposed" else "one" if k < 6 else "two")
        for k, status in enumerate(made)
    ]  # fmt: skip
    return study_of(*phases, *trees)


def test_counts_by_hand(orchard):
    (found,) = counts(orchard)
    assert (found.all, found.there, found.proposed, found.later) == (13, 3, 7, 0)
    assert (found.to_go, found.gone) == (2, 1)
    assert found.words() == "3 there now, 7 proposed, 2 to be removed, 1 gone"
    (early,) = counts(orchard.at_phase("one"))
    assert (early.all, early.proposed, early.later) == (13, 3, 4)


def test_every_counter_says_the_same(whole):
    reckoned = Counter(kind_of(item).key for item in whole.plan.elements())
    found = {each.key: each for each in counts(whole)}
    assert {key: each.all for key, each in found.items()} == reckoned
    facts = {f.key: f for f in whole.site_facts() if f.key.startswith("count_")}
    assert {key.removeprefix("count_"): f.value for key, f in facts.items()} == reckoned
    assert facts["count_track"].remark == found["track"].words()
    table = counts_table(whole)
    assert {line.cells[0]: int(line.cells[1]) for line in table.lines} == {
        element_kinds()[key].plural: number for key, number in reckoned.items()
    }
    for line in table.lines:
        assert int(line.cells[1]) == sum(int(cell) for cell in line.cells[2:])


def test_phases_are_listed_with_what_they_build(orchard):
    table = phase_table(orchard)
    assert [line.cells for line in table.lines] == [
        ("1", "First", "–", "3 trees"),
        ("2", "Second", "–", "4 trees"),
    ]
    early = phase_table(orchard.at_phase("one"))
    assert [line.cells[1] for line in early.lines] == ["First", "Second (not on this sheet)"]
    hidden = phase_table(orchard, {"one"})
    assert hidden.lines[0].cells[1] == "First (not on this sheet)"
    assert phase_table(study_of()) is None


def test_schedule_of_a_kind_says_what_the_study_says(whole):
    table = kind_table(whole, "building", UnitSystem.METRIC, 100)
    heads = [column.heading for column in table.columns]
    house = next(line for line in table.lines if line.ident == "house")
    area = next(f for f in whole.facts("house") if f.key == "area_m2")
    assert area.shown() in house.cells
    assert (heads[0], heads[-2], heads[-1]) == ("Name", "Status", "Phase")
    assert len(kind_table(whole, "tree", UnitSystem.METRIC, 5).lines) == 5


def test_schedules_of_the_whole_plan_count_every_plant_once(orchard):
    (plants,) = (t for t in schedules(orchard, UnitSystem.METRIC) if t.title.startswith("Plants"))
    heads = [column.heading for column in plants.columns]
    row = dict(zip(heads, plants.lines[0].cells, strict=True))
    assert (row["Kept"], row["New"], row["Planted"], row["Out"]) == ("2", "7", "1", "2")
