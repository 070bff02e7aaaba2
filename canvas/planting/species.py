"""The species library: what each plant grows to, needs and endangers.

Every value not listed under `read` is from memory and shown as unconfirmed. Presence is not advice
to plant: some species are there so that existing stands can be recognised and flagged.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from canvas.base import resources
from canvas.base.errors import BadData

FILE = "species.csv"
LAYERS = ("canopy", "subcanopy", "shrub", "herb", "groundcover", "vine", "root", "aquatic")
LEVELS = ("low", "moderate", "high")
NEEDS = ("low", "medium", "high")


@dataclass(frozen=True, slots=True)
class Species:
    """One species or cultivar group, with sizes of open-grown, moderately watered plants."""

    key: str
    botanical: str
    common: str
    #: Short name for plans, from the botanical one, unique in the library.
    code: str
    layer: str
    #: "yes", "no" or "semi".
    evergreen: str
    height_m: float
    crown_m: float
    years_to_mature: float
    #: Lowest temperature a grown plant survives [°C].
    min_temp_c: float | None
    #: Hours of cold most cultivars ask for.
    chill_h: float | None
    sun: str
    water_need: str
    #: Crop coefficient in mid-season, FAO-56.
    kc_mid: float | None
    drought_tolerant: bool
    nitrogen_fixer: bool
    edible: bool
    uses: tuple[str, ...]
    #: Coarse class of how readily it burns; a "low" plant still burns dry or unpruned.
    flammability: str
    invasive: str
    #: Roots may harm pipes and footings nearer than this.
    root_caution_m: float | None
    spacing_m: float
    #: Source keys of the values that were read, by column name.
    read: Mapping[str, str]
    note: str

    @property
    def genus(self) -> str:
        """First word of the botanical name."""
        return genus_of(self.botanical)


def genus_of(botanical: str) -> str:
    """Return the genus in a botanical name, capitalised; "" for an empty one."""
    words = botanical.replace("×", " ").split()
    return words[0].capitalize() if words else ""


def short_code(botanical: str) -> str:
    """Return a short name for plans: three letters each of genus and species ("QueSub")."""
    words = [w for w in re.split(r"[^A-Za-z]+", botanical) if w and w.lower() != "x"]
    return "".join(word[:3].capitalize() for word in words[:2])


@cache
def library() -> dict[str, Species]:
    """Return every species by key, in the file's order."""
    found: dict[str, Species] = {}
    codes: dict[str, int] = {}
    for row in csv.DictReader(io.StringIO(resources.text(FILE))):
        stem = short_code(row["scientific_name"])
        codes[stem] = codes.get(stem, 0) + 1
        code = stem if codes[stem] == 1 else f"{stem}{codes[stem]}"
        found[row["key"]] = _species(row, code)
    return found


def _species(row: Mapping[str, str], code: str) -> Species:
    try:
        return Species(
            key=row["key"],
            botanical=row["scientific_name"],
            common=row["common_name"],
            code=code,
            layer=_one_of(row, "layer", LAYERS),
            evergreen=_one_of(row, "evergreen", ("yes", "no", "semi")),
            height_m=float(row["height_m"]),
            crown_m=float(row["spread_m"]),
            years_to_mature=float(row["years_to_mature"]),
            min_temp_c=_number(row["min_temp_c"]),
            chill_h=_number(row["max_annual_chill_h"]),
            sun=_one_of(row, "sun", ("full", "partial")),
            water_need=_one_of(row, "water_need", NEEDS),
            kc_mid=_number(row["kc_mid"]),
            drought_tolerant=row["drought_tolerant"] == "yes",
            nitrogen_fixer=row["nitrogen_fixer"] == "yes",
            edible=row["edible"] == "yes",
            uses=tuple(use for use in row["uses"].split(";") if use),
            flammability=_one_of(row, "flammability", LEVELS),
            invasive=row["invasive_caution"],
            root_caution_m=_number(row["root_caution_m"]),
            spacing_m=float(row["spacing_m"]),
            read=dict(pair.split("=") for pair in row["read"].split(";") if pair),
            note=row["note"],
        )
    except (KeyError, TypeError, ValueError) as trouble:
        raise BadData(
            f"the species library cannot be read: {trouble}",
            where=f"{FILE}, {row.get('key') or 'a row without a key'}",
            remedy="Correct the row or put the file back as it came.",
        ) from trouble


def _number(text: str) -> float | None:
    return float(text) if text else None


def _one_of(row: Mapping[str, str], column: str, allowed: tuple[str, ...]) -> str:
    if row[column] not in allowed:
        raise ValueError(f"{column}: “{row[column]}” is not one of {', '.join(allowed)}")
    return row[column]


def _tidy(words: str) -> str:
    return " ".join(words.replace("×", " x ").replace("_", " ").split()).casefold()


@cache
def _by_name() -> dict[str, Species]:
    names: dict[str, Species] = {}
    for item in library().values():
        for words in (item.botanical, item.common, item.key, item.code):
            names.setdefault(_tidy(words), item)
    return names


@cache
def find(words: str) -> Species | None:
    """Return the species of a botanical or common name, key or short code; None when unknown.

    Case and the two ways to write a hybrid's cross don't matter. Where cultivar groups share a
    botanical name, the first listed answers to it.
    """
    return _by_name().get(_tidy(words)) if words.strip() else None
