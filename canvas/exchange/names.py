"""Matches a foreign file's columns to a kind's fields: by name, label, other words, and unit."""

from __future__ import annotations

from collections.abc import Iterable

from canvas.exchange import headings
from canvas.site.fields import FieldSpec, FieldType
from canvas.site.records import kind

#: Other words for fields, by the field's name without its unit. Tidied as `headings.bare` does.
WORDS: dict[str, str] = {
    "name": "name nom nombre nome naam nazwa namn navn nimi title label bezeichnung designation",
    "remark": "remark remarks comment comments cmt notes note description desc bemerkung "
    "bemerkungen remarque observaciones observacoes osservazioni",
    "status": "status state zustand etat estado stato",
    "owner": "owner eigentumer proprietaire propietario proprietario",
    "species": "species botanical botanicalname scientificname latinname taxon art baumart essence "
    "espece especie specie soort treespecies",
    "height": "height heightnow hohe hoehe hauteur altura altezza hoogte wysokosc treeheight",
    "crown": "crown crowndiameter crowndiam crownspread canopy canopydiameter canopyspread spread "
    "kronendurchmesser krone couronne copa diametrocopa chioma",
    "stem": "stem dbh bhd stemdiameter trunkdiameter trunk stammdurchmesser diametretronc dap",
    "width": "width breite largeur ancho largura larghezza szerokosc",
    "depth": "depth tiefe profondeur profundidad profundidade profondita",
    "volume": "volume capacity kapazitat inhalt capacite capacidad capacidade capacita",
    "diameter": "diameter durchmesser diametre diametro",
    "spacing": "spacing abstand espacement espaciamiento distance",
    "voltage": "voltage spannung tension tensao",
    "material": "material",
    "surface": "surface belag revetement superficie pavement",
    "use": "use usage nutzung uso",
    "cover": "cover landcover vegetation bewuchs",
    "words": "words text texte texto testo name label",
    "deed_area": "area deedarea flache flaeche superficie surface",
    "title_ref": "titleref title parcel parcelid lot lotplan flurstuck parcelle parcela",
    "purpose": "purpose zweck",
    "service": "service utility",
    "fence": "fence fencetype",
    "water_level": "waterlevel standingwater wasserstand",
    "yield": "yield flow debit caudal",
}
#: Words that mean a field only on one kind of element.
WORDS_OF_KIND: dict[tuple[str, str], str] = {
    ("survey_mark", "height"): "ele elevation z rl reducedlevel altitude",
    ("survey_mark", "name"): "point pointid pointnumber punkt nr no station",
}
#: Set by the plan it lands in, never by a file: a phase's identity means nothing elsewhere.
NOT_TAKEN = ("phase",)


def guess(columns: Iterable[str], kind_key: str) -> dict[str, str]:
    """Return field -> column for the fields of a kind that a file seems to hold."""
    tidy = [(column, headings.bare(column), *headings.split_unit(column)) for column in columns]
    marks: list[tuple[int, int, int, str, str]] = []
    for place, spec in enumerate(kind(kind_key).specs):
        if spec.name in NOT_TAKEN:
            continue
        for order, (column, bare, base, unit) in enumerate(tidy):
            mark = _mark(spec, kind_key, column, bare, base, unit)
            if mark:
                marks.append((mark, place, order, spec.name, column))
    found: dict[str, str] = {}
    for _, _, _, name, column in sorted(marks):
        if name not in found and column not in found.values():
            found[name] = column
    return found


def _mark(spec: FieldSpec, kind_key: str, column: str, bare: str, base: str, unit: str) -> int:
    """Return how well a column suits a field: 1 best, 0 not at all."""
    if unit and unit_factor(column, spec) is None:
        base, unit = bare, ""  # "type_m": the ending isn't a unit after all
    field = headings.split_unit(spec.name)[0]
    if column == spec.name:
        return 1
    if bare in (headings.bare(spec.name), headings.bare(spec.label)):
        return 2
    if base in (field, headings.bare(spec.label)):
        return 3
    stem = field_stem(spec.name)
    own = WORDS_OF_KIND.get((kind_key, stem), "").split()
    if base in own:
        return 4
    rank = {word: number for number, word in enumerate(WORDS.get(stem, "").split())}
    return 5 + rank[base] if base in rank else 0


def field_stem(name: str) -> str:
    """Return a field's name without its unit: "height_m" is "height"."""
    head, _, tail = name.rpartition("_")
    if head.endswith("_l") and tail == "s":
        return head.removesuffix("_l")
    return head if head and tail in headings.IN_HEADINGS else name


def unit_factor(column: str, spec: FieldSpec) -> float | None:
    """Return what turns a column's numbers into the field's unit; None if they don't agree."""
    if spec.type not in (FieldType.NUMBER, FieldType.INTEGER):
        return 1.0
    return headings.factor(headings.split_unit(column)[1], spec.unit)


def column_of(spec: FieldSpec) -> str:
    """Return the heading a field is written under: its name, with its unit in it."""
    if spec.type is FieldType.NUMBER and field_stem(spec.name) == spec.name:
        ending = {"%": "fraction", "ratio": "ratio"}.get(spec.unit, "")
        return f"{spec.name}_{ending}" if ending else spec.name
    return spec.name
