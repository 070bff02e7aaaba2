"""Facts, findings, errors, progress and identities: what the program tells, and by what name."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace

import pytest
from shapely import Point

from canvas.base.errors import BadData, CanvasError, FileTooNew, InputError, UserError
from canvas.base.fact import Fact
from canvas.base.finding import Finding, Severity
from canvas.base.ident import ALPHABET, LENGTH, new_id
from canvas.base.progress import part, silent
from canvas.base.quantity import UnitSystem
from canvas.base.sources import Mark

FINDING = Finding(
    rule="good_practice.well_tank",
    rule_set="good_practice",
    severity=Severity.WARNING,
    message="Well is near the tank.",
    elements=("aaa", "bbb"),
    measured=10.0,
    required=15.24,
    unit="m",
    sense="at least",
    where=Point(0, 0),
    source="laporte_wells",
    mark=Mark.READ,
)


def plain(words: str) -> str:
    return re.sub(r"[\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}]", " ", words)


def test_facts_are_shown_with_unit_and_uncertainty() -> None:
    assert plain(Fact("area", "Area", 74_113.0, "ha").shown()) == "7.411 ha"
    assert plain(Fact("rise", "Rise", 2.0, "m", plus_minus=0.21).shown()) == "2.00 m ± 0.21 m"
    assert plain(Fact("rise", "Rise", 3.048, "m", plus_minus=0.3048).shown(UnitSystem.US)) == (
        "10.0 ft ± 1.0 ft"
    )
    assert plain(Fact("rise", "Rise", 2.0, "m", decimals=0).shown()) == "2 m"


def test_facts_may_be_words_or_unknown() -> None:
    assert Fact("use", "Use", "drinking").shown() == "drinking"
    assert Fact("rise", "Rise", None, "m", plus_minus=0.2).shown() == "–"
    assert Fact("factor", "Factor", 0.9996, decimals=4).shown() == "0.9996"


def test_a_finding_says_what_was_measured_and_asked() -> None:
    assert plain(FINDING.numbers()) == "measured 10.00 m, required at least 15.24 m"
    assert plain(FINDING.numbers(UnitSystem.US)) == "measured 32.8 ft, required at least 50.0 ft"
    assert plain(replace(FINDING, measured=None).numbers()) == "required at least 15.24 m"
    assert plain(replace(FINDING, sense="").numbers()) == "measured 10.00 m, required 15.24 m"
    assert replace(FINDING, required=None).numbers() == ""


def test_a_finding_keeps_its_name_while_its_figures_move() -> None:
    assert FINDING.key == "good_practice.well_tank:aaa:bbb"
    assert replace(FINDING, measured=3.0, message="Nearer.").key == FINDING.key
    many = replace(FINDING, elements=("a", "b", "c", "d"))
    assert many.key == replace(many, elements=("d", "c", "b", "a")).key
    assert many.key != replace(many, elements=("a", "b", "c", "e")).key
    assert many.key != replace(many, rule="other").key


@pytest.mark.parametrize(
    ("severity", "waived", "failing"),
    [
        (Severity.ERROR, "", True),
        (Severity.WARNING, "", True),
        (Severity.ADVICE, "", False),
        (Severity.ERROR, "agreed with the neighbour", False),
    ],
)
def test_what_counts_against_a_plan(severity: Severity, waived: str, failing: bool) -> None:
    assert replace(FINDING, severity=severity, waived=waived).failing is failing


def test_only_what_was_read_or_computed_is_confirmed() -> None:
    assert [mark for mark in Mark if replace(FINDING, mark=mark).unconfirmed] == [
        Mark.REMEMBERED,
        Mark.PRACTICE,
    ]


def test_trouble_reads_in_order_and_leaves_out_what_there_is_not() -> None:
    whole = BadData("line 3 is short", where="a.csv", kept="Nothing was read.", remedy="Mend it.")
    assert whole.text() == "a.csv: line 3 is short\nNothing was read.\nMend it."
    assert str(whole) == whole.text()
    assert FileTooNew("made by a later version").text() == "made by a later version"


def test_faults_of_the_program_are_not_told_as_the_persons() -> None:
    assert not issubclass(InputError, UserError)
    assert issubclass(InputError, ValueError)
    assert issubclass(InputError, CanvasError)


def test_progress_of_a_part_fills_its_stretch_only() -> None:
    told: list[tuple[float, str]] = []

    def report(fraction: float, note: str = "") -> None:
        told.append((fraction, note))

    inner = part(part(report, 0.5, 1.0), 0.0, 0.5)
    for fraction in (-1.0, 0.0, 0.5, 1.0, 2.0):
        inner(fraction, "reading")
    assert told == [(f, "reading") for f in (0.5, 0.5, 0.625, 0.75, 0.75)]
    silent(0.5, "nobody listens")
    assert len(told) == 5


def test_identities_are_unique_and_can_be_read_out_loud() -> None:
    made = [new_id() for _ in range(20_000)]
    assert len(set(made)) == len(made)
    assert {len(each) for each in made} == {LENGTH}
    # Nothing a reader could take for something else, and safe as a file name or a key.
    assert not set("01ilo") & set(ALPHABET)
    assert re.fullmatch(r"[a-z0-9]+", ALPHABET)
    count = Counter("".join(made))
    assert set(count) == set(ALPHABET)
    fair = len(made) * LENGTH / len(ALPHABET)
    # Six standard deviations of a fair draw.
    assert all(abs(n - fair) < 6 * fair**0.5 for n in count.values())
