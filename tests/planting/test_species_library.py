"""The species library loads whole, and answers to the names people type."""

from __future__ import annotations

import pytest

from canvas.base import resources
from canvas.base.errors import BadData
from canvas.base.sources import all_sources
from canvas.planting import species


def test_every_row_is_whole_and_within_reason() -> None:
    for item in species.library().values():
        assert item.botanical[0].isupper(), item.key
        assert item.genus
        assert 0 < item.height_m <= 60, item.key
        assert 0 < item.crown_m <= 30, item.key
        assert 0 < item.spacing_m <= 30, item.key
        assert 0 < item.years_to_mature <= 100, item.key
        assert item.min_temp_c is None or -60 < item.min_temp_c < 20, item.key
        assert item.kc_mid is None or 0.2 < item.kc_mid < 1.4, item.key


def test_codes_are_short_and_unique() -> None:
    codes = [item.code for item in species.library().values()]
    assert len(set(codes)) == len(codes) == 264
    assert all(len(code) <= 7 for code in codes)


def test_what_was_read_names_its_source_and_the_rest_is_remembered() -> None:
    columns = {"height_m", "spread_m", "spacing_m", "min_temp_c", "kc_mid"}
    for item in species.library().values():
        assert set(item.read) <= columns
        assert set(item.read.values()) <= set(all_sources())
    olive = species.find("Olea europaea")
    assert "kc_mid" in olive.read
    assert "height_m" not in olive.read


@pytest.mark.parametrize(
    ("words", "key"),
    [
        ("Quercus suber", "cork_oak"),
        ("  quercus   SUBER ", "cork_oak"),
        ("Cork oak", "cork_oak"),
        ("cork_oak", "cork_oak"),
        ("QueSub", "cork_oak"),
        ("Citrus × limon", "lemon"),
        ("Citrus x limon", "lemon"),
        ("Malus domestica", "apple_standard"),
    ],
)
def test_names_people_type(words: str, key: str) -> None:
    assert species.find(words).key == key


@pytest.mark.parametrize("words", ["", "   ", "Quercus", "Nonsense nonsensica"])
def test_names_nobody_knows(words: str) -> None:
    assert species.find(words) is None


def test_codes_come_from_the_botanical_name() -> None:
    assert species.short_code("Citrus x limon") == "CitLim"
    assert species.short_code("Rubus fruticosus agg.") == "RubFru"
    assert species.short_code("") == ""


def test_a_damaged_row_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    row = "cork_oak,Quercus suber,Cork oak,"
    text = resources.text(species.FILE).replace(f"{row}canopy", f"{row}attic")
    monkeypatch.setattr(resources, "text", lambda name: text)
    species.library.cache_clear()
    try:
        with pytest.raises(BadData, match="attic") as caught:
            species.library()
        assert "cork_oak" in caught.value.where
    finally:
        species.library.cache_clear()
