"""Writing is measured from the font files: against fontTools, an independent reader."""

from __future__ import annotations

import contextlib
import io

import pytest
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st

from canvas.base import resources
from canvas.drawing.typeface import FACES, face, fit, width_mm, wrap

#: What sheets write in the languages and trades the program serves.
NEEDED = "²³°±–—′″Ωπ·×≤≥→−½…“”’ãçáéíóúõâêôÃÇłżśćńąęźóŁŻŚαβγδεθλμωΑΩ\u202f\u00a0"


@contextlib.contextmanager
def fonttools(bold, italic):
    with open(resources.path(FACES[bold, italic]), "rb") as file:
        yield TTFont(io.BytesIO(file.read()))


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize(("bold", "italic"), list(FACES))
def test_widths_agree_with_an_independent_reader(bold, italic):
    words = "Scale 1:500 · 12.5 m² Łąka Açude Ελιά 5 820 000"
    with fonttools(bold, italic) as font:
        widths, glyphs = font["hmtx"], font.getBestCmap()
        expected = sum(widths[glyphs[ord(c)]][0] for c in words)
        cap = font["OS/2"].sCapHeight
    assert face(bold, italic).advance(words) == expected
    assert width_mm(words, 2.0, bold, italic) == pytest.approx(expected * 2.0 / cap)


@pytest.mark.parametrize(("bold", "italic"), list(FACES))
def test_every_letter_the_sheets_need_is_there(bold, italic):
    glyphs = face(bold, italic).glyphs
    assert [c for c in NEEDED if ord(c) not in glyphs] == []


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize(("bold", "italic"), list(FACES))
def test_faces_are_static_and_may_be_embedded(bold, italic):
    with fonttools(bold, italic) as font:
        assert "fvar" not in font
        # OpenType specification, OS/2 fsType: 0 means installable embedding.
        assert font["OS/2"].fsType == 0


def test_the_licence_stands_beside_the_fonts():
    words = resources.text("fonts/OFL.txt")
    assert "SIL OPEN FONT LICENSE Version 1.1" in words
    assert "Reserved Font Name" in words


@given(st.text(st.sampled_from("abc deW mi.,"), max_size=120), st.floats(5, 60), st.floats(1, 4))
def test_wrapped_lines_fit_and_lose_nothing(words, room, size):
    lines = wrap(words, size, room)
    for line in lines:
        assert width_mm(line, size) <= room or len(line) == 1
    assert "".join(lines).replace(" ", "") == words.replace(" ", "")


def test_figure_and_unit_are_not_parted():
    lines = wrap("about 22\u202f500\u00a0L in all", 2.0, 14.0)
    assert any(line.startswith("22\u202f500\u00a0L") for line in lines)


def test_what_is_cut_short_says_so():
    short = fit("A very long name indeed", 2.0, 20.0)
    assert short.endswith("…")
    assert width_mm(short, 2.0) <= 20.0
    assert fit("Short", 2.0, 20.0) == "Short"
