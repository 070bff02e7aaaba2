"""Species values that were read, against the tables they were read in."""

from __future__ import annotations

import pytest
from published.ref import Ref

from canvas.planting import species

FAO56 = "FAO-56 Table 12, Kc mid, as transcribed in a public source file and cross-read"
NHBC = "NHBC Standards 4.2, table of mature heights"
UMAINE = "University of Maine Cooperative Extension, orchard spacing"

KC = {
    "Olea europaea": 0.70, "Pistacia vera": 1.10, "Prunus dulcis": 0.90, "Juglans regia": 1.10,
    "Pyrus communis": 0.95, "Prunus avium": 0.95, "Malus domestica": 0.95,
    "Prunus persica": 0.90, "Prunus armeniaca": 0.90, "Citrus x sinensis": 0.65,
    "Persea americana": 0.85, "Actinidia deliciosa": 1.05, "Table grape": 0.85,
    "Wine grape": 0.70, "Phoenix dactylifera": 0.95, "Banana": 1.20, "Rubus idaeus": 1.05,
    "Pinus halepensis": 1.00, "Solanum lycopersicum": 1.15,
}  # fmt: skip

HEIGHTS = {
    "Quercus ilex": 16, "Juglans regia": 18, "Robinia pseudoacacia": 18, "Alnus glutinosa": 18,
    "Prunus avium": 12, "Morus nigra": 9, "Betula pendula": 14,
}  # fmt: skip


@pytest.mark.parametrize(("name", "kc"), KC.items())
def test_crop_coefficients(name: str, kc: float) -> None:
    item = species.find(name)
    Ref(kc, 0.001, FAO56).check(item.kc_mid)
    assert item.read["kc_mid"] == "fao56"


@pytest.mark.parametrize(("name", "height"), HEIGHTS.items())
def test_mature_heights_that_follow_the_table(name: str, height: float) -> None:
    item = species.find(name)
    Ref(height, 0.01, NHBC).check(item.height_m)
    assert item.read["height_m"] == "nhbc42"


def test_apple_spacing_by_rootstock() -> None:
    Ref(7.6, 0.05, UMAINE).check(species.find("apple_standard").spacing_m)
    Ref(4.6, 0.05, UMAINE).check(species.find("apple_semidwarf").spacing_m)
    # 6 to 8 ft.
    Ref(2.1, 0.3, UMAINE).check(species.find("apple_dwarf").spacing_m)


def test_hardiness_that_was_read() -> None:
    # Carob -7.8 to -6.7 °C; loquat 12 °F.
    Ref(-7.25, 0.55, "J. Am. Pomol. Soc. 7(2), 1952, abstract").check(
        species.find("Ceratonia siliqua").min_temp_c
    )
    Ref(-11.1, 0.2, "California Rare Fruit Growers, loquat").check(
        species.find("Eriobotrya japonica").min_temp_c
    )


def test_fire_prone_genera_are_never_rated_low() -> None:
    """Genera UC and NFPA based pages say to keep off within 9 m of a house."""
    listed = {"Cedrus", "Cupressus", "Thuja", "Juniperus", "Pinus", "Abies", "Picea", "Eucalyptus"}
    found = [item for item in species.library().values() if item.genus in listed]
    assert len(found) >= 10
    assert {item.flammability for item in found} <= {"high", "moderate"}
