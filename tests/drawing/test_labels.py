"""Names find room, the weightier first."""

from __future__ import annotations

import itertools

import hypothesis.strategies as st
from hypothesis import given, settings

from canvas.drawing.entries import Anchor, Text
from canvas.drawing.labels import Block, Board, Label, around, place, text_boxes

SCALE = 1000.0


def label(x, y, words, weight=1.0, **more):
    return Label(Text(x, y, words, 2.0, weight=weight), **more)


def boxes(texts):
    return [box for t in texts for box in text_boxes(t, (t.words,), t.x, t.y)]


def touch(a, b):
    slack = 1e-6
    return (
        a[0] < b[2] - slack and a[2] > b[0] + slack and a[1] < b[3] - slack and a[3] > b[1] + slack
    )


def test_of_two_in_one_place_the_weightier_stays():
    kept = place([label(0, 0, "light"), label(0.5, 0, "heavy", weight=2)], SCALE)
    assert [t.words for t in kept] == ["heavy"]


def test_a_label_with_other_places_moves_over():
    kept = place([label(0, 0, "heavy", weight=2), label(0, 0, "light", tries=around(6.0))], SCALE)
    assert {t.words for t in kept} == {"heavy", "light"}
    moved = next(t for t in kept if t.words == "light")
    assert moved.anchor in (Anchor.LEFT, Anchor.RIGHT, Anchor.CENTRE)
    assert (moved.x, moved.y) != (0.0, 0.0)


def test_what_must_be_written_is():
    kept = place([label(0, 0, "a", weight=9), label(0, 0, "b", must=True)], SCALE)
    assert {t.words for t in kept} >= {"b"}


def test_blocks_keep_lighter_labels_off():
    block = Block((-3.0, -3.0, 3.0, 3.0), 5.0)
    assert place([label(0, 0, "zone", weight=3)], SCALE, blocks=[block]) == ()
    assert len(place([label(0, 0, "house", weight=8)], SCALE, blocks=[block])) == 1


def test_nothing_reaches_over_the_edge_of_the_map():
    board = Board((0.0, 0.0, 50.0, 50.0))
    kept = place([label(1, 25, "Wattle Road"), label(25, 25, "Hill")], SCALE, board)
    assert [t.words for t in kept] == ["Hill"]


def test_several_lines_stand_under_one_another():
    kept = place([label(0, 0, "one", lines=("one", "two", "three"))], SCALE)
    ys = [t.y for t in kept]
    assert ys == sorted(ys, reverse=True)
    assert abs(sum(ys)) < 1e-9


@settings(deadline=None, max_examples=40)
@given(
    st.lists(
        st.tuples(
            st.floats(0, 60), st.floats(0, 40), st.sampled_from(["Oak", "Long name", "x"]),
            st.floats(0, 9),
        ),
        max_size=40,
    )
)  # fmt: skip
def test_placed_labels_never_touch(spots):
    kept = place([label(x, y, w, weight, tries=around(1.5)) for x, y, w, weight in spots], SCALE)
    for a, b in itertools.combinations(boxes(kept), 2):
        assert not touch(a, b)
