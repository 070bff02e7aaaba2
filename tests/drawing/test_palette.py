"""Inks: readable for everybody, on light, dark and paper, and without colour at all."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from eyes import contrast, difference, seen_by

from canvas.drawing.palette import LINE_ROLES, PALETTES, TEXT_ROLES, rgb
from canvas.drawing.ramps import ASPECT, ENERGY, HEIGHT, SLOPE

THEMES = ("light", "dark", "paper", "mono")
VISIONS = ("all", "protan", "deutan", "tritan")


def test_contrast_formula_on_the_standards_own_cases():
    # WCAG 2.2, definition of contrast ratio: black on white is 21:1, equal colours 1:1; and the
    # well-known limit grey #767676 passes 4.5:1 on white while #777777 does not (from memory).
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#123456", "#123456") == pytest.approx(1.0)
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


@pytest.mark.parametrize("theme", THEMES)
def test_every_theme_has_every_role(theme):
    assert set(PALETTES[theme]) == set(PALETTES["paper"])
    assert set(TEXT_ROLES) | set(LINE_ROLES) <= set(PALETTES[theme])


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("role", TEXT_ROLES)
def test_writing_meets_wcag_aa(theme, role):
    # WCAG 2.2, success criterion 1.4.3: at least 4.5:1 for text.
    inks = PALETTES[theme]
    assert contrast(inks[role], inks["paper"]) >= 4.5
    assert contrast(inks[role], inks["halo"]) >= 4.5


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("role", LINE_ROLES)
def test_lines_meet_wcag_for_graphics(theme, role):
    # WCAG 2.2, success criterion 1.4.11: at least 3:1 for graphical objects.
    assert contrast(PALETTES[theme][role], PALETTES[theme]["paper"]) >= 3.0


@pytest.mark.parametrize("theme", ["light", "dark", "paper"])
@pytest.mark.parametrize("vision", VISIONS)
@pytest.mark.parametrize("other", ["brick", "water", "leaf", "fire", "boundary", "way_edge"])
def test_warning_stays_apart_for_every_eye(theme, vision, other):
    inks = PALETTES[theme]
    apart = difference(seen_by(inks["warning"], vision), seen_by(inks[other], vision))
    # A CIE76 difference of 2.3 is just noticeable (common figure, from memory); ten is plain.
    assert apart > 10


@pytest.mark.parametrize("theme", ["light", "dark", "paper"])
@pytest.mark.parametrize("vision", VISIONS)
def test_water_heights_plants_and_structures_stay_apart(theme, vision):
    inks = PALETTES[theme]
    seen = {r: seen_by(inks[r], vision) for r in ("water", "leaf", "brick", "contour_index")}
    for a, b in itertools.combinations(("water", "leaf", "brick"), 2):
        assert difference(seen[a], seen[b]) > 8, (a, b)
    assert difference(seen["water"], seen["contour_index"]) > 20


def test_warning_hue_is_used_for_nothing_else():
    def hue(colour: str) -> float:
        r, g, b = (v / 255 for v in rgb(colour))
        return float(np.degrees(np.arctan2(np.sqrt(3) * (g - b), 2 * r - g - b)) % 360)

    def strength(colour: str) -> int:
        return max(rgb(colour)) - min(rgb(colour))

    for theme in ("light", "dark", "paper"):
        inks = PALETTES[theme]
        for role, ink in inks.items():
            if role.startswith("warning") or strength(ink) < 60:
                continue
            turn = abs((hue(ink) - hue(inks["warning"]) + 180) % 360 - 180)
            assert turn > 25, (theme, role)


def test_mono_is_grey_throughout():
    assert all(len(set(rgb(ink))) == 1 for ink in PALETTES["mono"].values())


@pytest.mark.parametrize("ramp", [SLOPE, HEIGHT])
@pytest.mark.parametrize("vision", VISIONS)
def test_sequential_ramps_run_one_way_for_every_eye(ramp, vision):
    light = [seen_by(colour, vision)[0] for colour in ramp]
    steps = np.diff(light)
    assert (steps < -2).all() or (steps > 2).all()


@pytest.mark.parametrize("vision", VISIONS)
def test_diverging_ramp_peaks_in_the_middle_and_its_ends_differ(vision):
    seen = [seen_by(colour, vision) for colour in ENERGY]
    light = [each[0] for each in seen]
    middle = len(ENERGY) // 2
    assert light.index(max(light)) == middle
    assert difference(seen[1], seen[-2]) > 20


@pytest.mark.parametrize("vision", VISIONS)
def test_opposite_aspects_stay_apart(vision):
    half = len(ASPECT) // 2
    for i in range(half):
        assert difference(seen_by(ASPECT[i], vision), seen_by(ASPECT[i + half], vision)) > 15
