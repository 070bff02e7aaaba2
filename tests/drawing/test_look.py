"""Families fade, light names stay off at small scales, findings may show by their marks alone."""

from __future__ import annotations

from dataclasses import replace

import pytest

from canvas.drawing.build import label_texts
from canvas.drawing.entries import Text
from canvas.drawing.labels import Label
from canvas.drawing.look import Look


def names(look: Look) -> list[str]:
    labels = [
        Label(Text(100.0 * n, 0.0, words, 1.8, weight=weight), must=must)
        for n, (words, weight, must) in enumerate(
            (("house", 8.0, False), ("creek", 5.0, False), ("lot", 2.0, False),
             ("EuCa", 0.6, False), ("note", 0.1, True))
        )
    ]  # fmt: skip
    return [text.words for text in label_texts(labels, look, None)]


@pytest.mark.parametrize(
    ("scale", "kept"),
    [
        (500.0, {"house", "creek", "lot", "EuCa", "note"}),
        (1000.0, {"house", "creek", "lot", "note"}),
        (2000.0, {"house", "creek", "note"}),
        (8000.0, {"house", "note"}),
    ],
)
def test_names_thin_out_by_weight_as_the_scale_falls(scale, kept):
    assert set(names(Look(scale=scale, thin=True))) == kept


def test_paper_keeps_every_name():
    assert set(names(Look(scale=8000.0))) == {"house", "creek", "lot", "EuCa", "note"}


def test_a_family_has_its_own_opacity():
    look = Look(faded=(("Plants", 0.4),))
    assert (look.opacity_of("Plants"), look.opacity_of("Water")) == (0.4, 1.0)
    assert replace(look, faded=()).opacity_of("Plants") == 1.0
