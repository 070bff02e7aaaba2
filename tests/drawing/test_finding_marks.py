"""Findings' numbers: every one on the map, none over another, however many stand close."""

from __future__ import annotations

import itertools
import time

import numpy as np
import pytest
from shapely.geometry import LineString, Point

from canvas.base.finding import Finding, Severity
from canvas.base.sources import Mark
from canvas.drawing.entries import Lines, Stamps, Text
from canvas.drawing.finding_marks import MARK_MM, mark_entries, number_lines
from canvas.drawing.labels import Board, text_boxes
from canvas.drawing.look import Look


def found(where, severity: Severity = Severity.WARNING, waived: str = "") -> Finding:
    return Finding(
        "r", "good_practice", severity, "", (), None, None, "", "", where, "", Mark.PRACTICE,
        waived=waived,
    )  # fmt: skip


def finding(x: float, y: float, severity: Severity = Severity.WARNING, waived: str = "") -> Finding:
    return found(Point(x, y), severity, waived)


def close_together(count: int) -> list[Finding]:
    rng = np.random.default_rng(count)
    each = list(Severity)
    return [finding(*rng.uniform(0, 150, 2), each[k % 3]) for k in range(count)]


def numbers_of(entries) -> list[str]:
    """Every number written, runs such as "F4–F6" counted out."""
    written = []
    for text in entries:
        if isinstance(text, Text):
            for piece in text.words.replace(",", " ").split():
                first, _, last = piece.partition("–")
                span = range(int(first[1:]), int((last or first)[1:]) + 1)
                written += [f"{first[0]}{k}" for k in span]
    return written


def boxes_of(entries, scale):
    per_m = 1000 / scale
    for e in entries:
        if isinstance(e, Text):
            yield from text_boxes(e, (e.words,), e.x * per_m, e.y * per_m)
        elif isinstance(e, Stamps):
            for x, y in e.xy * per_m:
                half = MARK_MM / 2
                yield x - half, y - half, x + half, y + half


def touching(boxes, slack=0.55):
    # The air about letters may be shared by a mark and its own number.
    return sum(
        a[0] < b[2] - slack and a[2] > b[0] + slack and a[1] < b[3] - slack and a[3] > b[1] + slack
        for a, b in itertools.combinations(boxes, 2)
    )


@pytest.mark.parametrize("scale", [1000.0, 3000.0, 5000.0, 10000.0])
@pytest.mark.parametrize("count", [18, 60])
def test_every_number_is_written_once_and_none_over_another(scale, count):
    entries = mark_entries(close_together(count), Look(scale=scale, palette="paper"))
    assert sorted(numbers_of(entries)) == sorted(f"F{k + 1}" for k in range(count))
    assert touching(list(boxes_of(entries, scale))) == 0


def test_where_it_is_full_one_mark_stands_for_several_with_a_leader_to_each():
    many = close_together(40)
    wide = mark_entries(many, Look(scale=500.0, palette="paper"))
    small = mark_entries(many, Look(scale=20000.0, palette="paper"))
    marks = [sum(len(e.xy) for e in it if isinstance(e, Stamps)) for it in (wide, small)]
    assert marks[0] == 40 > marks[1]
    led = [path for e in small if isinstance(e, Lines) for path in e.paths]
    ends = {tuple(path[0]) for path in led}
    assert ends <= {(f.where.x, f.where.y) for f in many}


def test_the_mark_of_several_is_that_of_the_worst():
    both = [finding(0, 0, Severity.ADVICE), finding(0.1, 0, Severity.ERROR, waived="agreed"),
            finding(0, 0.1, Severity.WARNING)]  # fmt: skip
    entries = mark_entries(both, Look(scale=1000.0))
    assert [e.symbol for e in entries if isinstance(e, Stamps)] == ["mark_warning"]
    assert numbers_of(entries) == ["F1", "F2", "W1"]


def test_marks_and_leaders_keep_off_names_that_stand_already():
    board = Board()
    board.take((-6.0, -1.5, 6.0, 1.5))
    entries = mark_entries([finding(0, 0)], Look(scale=1000.0, palette="paper"), board)
    (mark,) = (e for e in entries if isinstance(e, Stamps))
    x, y = mark.xy[0]
    assert abs(y) > 1.5 + MARK_MM / 2 - 1e-6 or abs(x) > 6.0 + MARK_MM / 2 - 1e-6
    assert any(isinstance(e, Lines) for e in entries)
    # And the board knows where it stands.
    assert not board.free((x - 0.1, y - 0.1, x + 0.1, y + 0.1))


def test_a_mark_may_slide_along_a_line_without_a_leader():
    board = Board()
    board.take((40.0, -1.5, 60.0, 1.5))
    way = found(LineString([(0, 0), (100, 0)]), Severity.ERROR)
    entries = mark_entries([way], Look(scale=1000.0), board)
    (mark,) = (e for e in entries if isinstance(e, Stamps))
    assert mark.xy[0, 1] == pytest.approx(0.0)
    assert not any(isinstance(e, Lines) for e in entries)


@pytest.mark.parametrize(
    ("numbers", "lines"),
    [
        (["F3"], ("F3",)),
        (["F11", "F1"], ("F1, F11",)),
        (["F6", "F4", "F5"], ("F4–F6",)),
        (["W1", "F2", "F3", "F9", "F10", "F11"], ("F2, F3, F9–F11,", "W1")),
    ],
)
def test_numbers_are_written_as_runs(numbers, lines):
    assert number_lines(numbers) == lines


def test_a_screen_shows_the_first_and_how_many_more():
    assert number_lines([f"F{k}" for k in (1, 5, 7, 9, 11)], short=True) == ("F1, F5, F7 +2",)


def test_hundreds_of_findings_are_marked_in_a_moment():
    start = time.perf_counter()
    mark_entries(close_together(400), Look(scale=5000.0, palette="paper"))
    assert time.perf_counter() - start < 20
