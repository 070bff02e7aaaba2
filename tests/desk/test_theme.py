"""Light and dark: contrast of every pair of inks used together, icons for everything."""

from __future__ import annotations

import pytest

from canvas.desk import icons, theme
from canvas.desk.stages import STAGES
from canvas.desk.verbs.all import TABLE
from canvas.site.records import element_kinds

#: WCAG 2.2, success criteria 1.4.3 (text, AA) and 1.4.11 (controls).
TEXT, CONTROL = 4.5, 3.0

PAIRS = [
    ("ink", "panel", TEXT), ("ink", "raised", TEXT), ("ink", "room", TEXT),
    ("ink", "accent_soft", TEXT), ("ink", "warn_soft", TEXT),
    ("quiet", "panel", TEXT), ("quiet", "raised", TEXT), ("quiet", "accent_soft", TEXT),
    ("accent", "raised", TEXT), ("accent", "panel", TEXT), ("on_accent", "accent", TEXT),
    ("warn", "raised", TEXT), ("warn", "panel", TEXT), ("on_warn", "warn", TEXT),
    ("edge", "raised", CONTROL), ("edge", "panel", CONTROL),
    ("focus", "raised", CONTROL), ("focus", "panel", CONTROL), ("focus", "room", CONTROL),
]  # fmt: skip


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(a: str, b: str) -> float:
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_the_measure_itself():
    # Black on white is 21:1 by definition (WCAG 2.2, "contrast ratio").
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("name", theme.THEMES)
@pytest.mark.parametrize(("front", "back", "least"), PAIRS)
def test_inks_used_together_can_be_told_apart(name, front, back, least):
    ink = theme.inks(name)
    assert contrast(getattr(ink, front), getattr(ink, back)) >= least


@pytest.mark.parametrize("name", theme.THEMES)
def test_the_style_sheet_is_written_out(name):
    assert "@" not in theme.sheet(name)


def test_every_icon_named_is_there_and_draws_something(qapp):
    names = {record.icon for record in TABLE if record.icon}
    names |= {stage.icon for stage in STAGES}
    for name in sorted(names):
        assert icons.has(name), name
        image = icons.pixmap(name, 24, "#000000").toImage()
        inked = any(
            image.pixelColor(x, y).alpha() > 128
            for x in range(image.width())
            for y in range(image.height())
        )
        assert inked, name


def test_every_kind_has_an_icon_of_its_own():
    assert [k for k in element_kinds() if not icons.has(f"kind-{k}")] == []
