"""The legend: only what is on the sheet, each sample drawn by the symbol itself."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from shapely.geometry import (
    LineString,
    MultiLineString,
    MultiPoint,
    MultiPolygon,
    Point,
    Polygon,
    box,
)
from shapely.geometry.base import BaseGeometry

from canvas.base.finding import Finding, Severity
from canvas.base.grid import Bounds
from canvas.drawing.build import shown_elements
from canvas.drawing.entries import Entry, Fill, Image, Lines, Stamps, Stroke, Text
from canvas.drawing.finding_marks import MARKS
from canvas.drawing.furniture import ring
from canvas.drawing.labels import place
from canvas.drawing.look import Look
from canvas.drawing.palette import greyed
from canvas.drawing.pen import Drawn, Pen
from canvas.drawing.styles import OWNER_KEY, STATUS_KEY
from canvas.drawing.symbols.habit import crown_design
from canvas.drawing.symbols.registry import symbol_of, symbols
from canvas.drawing.symbols.vegetation import TEXTURES
from canvas.drawing.terrain import (
    CONTOUR,
    CONTOUR_INDEX,
    contour_interval_m,
    interval_text,
    shadeable,
    shading,
    shading_legend,
)
from canvas.site.elements.building import Building
from canvas.site.records import Element, Owner, Status, changed, kind_of
from canvas.study.study import Study

#: Room of a sample on paper.
WIDTH_MM, HEIGHT_MM = 12.0, 5.0
#: Lower and upper edges of the benches of sample terraces.
BENCHES_MM = ((3.0, 4.5), (0.5, 2.0))
#: At 1:1000 a metre is a millimetre, so samples are laid out in millimetres.
SAMPLE_SCALE = 1000.0


@dataclass(frozen=True, slots=True, eq=False)
class LegendItem:
    """One line of the legend: entries in millimetres in a box from (0, 0)."""

    label: str
    entries: tuple[Entry, ...]
    group: str = ""


#: Fields that would make a sample too large or too small, with what they become [mm].
SAMPLE_VALUES: dict[str, dict[str, Any]] = {
    "track": {"width_m": 2.4, "clear_width_m": 2.6},
    "public_road": {"width_m": 3.4},
    "path": {"width_m": 1.2},
    "firebreak": {"width_m": 3.2},
    "hedge": {"width_m": 1.8, "spacing_m": 1.5, "rows": 1},
    "watercourse": {"width_m": 0.8},
    "tank": {"diameter_m": 3.4},
    "gate": {"width_m": 3.6, "bearing_deg": 90.0},
    "building": {"eaves_m": 0.0, "floor_level_m": None},
    "overhead_line": {"spread_m": 2.0},
    "tree_row": {"spacing_m": 3.2, "mature_crown_m": 3.0},
    "dimension": {"offset_mm": 0.0},
    "garden_bed": {"raised_m": 0.0},
}
#: Families in reading order: the land first, how things are drawn and what is wrong last.
FAMILIES = (
    "Land", "Survey", "Ground", "Earthworks", "Water", "Access", "Structures", "Services", "Plants",
    "Fire", "Writing", "Line and fill", "Findings",
)  # fmt: skip
CROWN_LABELS = {
    "crown_broad": "Tall tree",
    "crown_small": "Small tree",
    "crown_shrub": "Shrub",
    "crown_conifer": "Conifer",
    "crown_palm": "Palm",
}
#: Kinds whose variants need no "kind, variant": "Shed", not "Building, shed".
SAY_ENOUGH = frozenset(
    {"vegetation", "buried_service", "fence", "survey_mark", "building", "hedge", "water_body"}
)
SEVERITY_LABELS = {
    Severity.ERROR: "Finding: error",
    Severity.WARNING: "Finding: warning",
    Severity.ADVICE: "Finding: advice",
}


def legend(
    study: Study, look: Look, bounds: Bounds | None = None, findings: Sequence[Finding] = ()
) -> tuple[LegendItem, ...]:
    """Return what is on the map within `bounds`, family by family, in each the highest first."""
    shown = shown_elements(study, look, bounds)
    items: list[LegendItem] = []
    for key in reversed(symbols()):
        items += _kind_items(shown.get(key, []), look)
    items += _crown_key(shown, study, look)
    items += _style_items([item for group in shown.values() for item in group], look)
    items += _ground_items(study, look)
    items += _finding_items(findings, look)
    return tuple(sorted(items, key=lambda item: _family_rank(item.group)))


def _family_rank(family: str) -> int:
    """Return where a family stands; one not listed stands with what is built and planted."""
    return FAMILIES.index(family) if family in FAMILIES else FAMILIES.index("Writing") - 1


def _kind_items(elements: Sequence[Element], look: Look) -> list[LegendItem]:
    """Return one line for each variant of a kind, drawn in the status most of them have."""
    if not elements:
        return []
    kind = kind_of(elements[0])
    groups: dict[str, list[Element]] = {}
    for item in elements:
        groups.setdefault(_variant(item), []).append(item)
    made = []
    for label, members in groups.items():
        status = Counter(m.status for m in members).most_common(1)[0][0]
        first = next(m for m in members if m.status == status)
        made.append(LegendItem(label, sample_entries(first, look), kind.group))
    return made


def _variant(item: Any) -> str:
    kind = kind_of(item)
    if kind.key == "tree":
        crown = item.mature_crown_m or item.crown_m or 4.0
        return CROWN_LABELS[
            crown_design(item.species, item.mature_height_m or item.height_m, crown)
        ]
    if kind.key == "septic_field" and item.reserve:
        return "Septic reserve"
    field = symbol_of(kind.key).variant
    if not field:
        return kind.label
    value = getattr(item, field)
    words = kind.spec(field).label_of(value)
    if kind.key in SAY_ENOUGH and value != "other":
        return words
    if kind.key == "zone":
        return f"Zone {words}" if value != "free" else "Zone of its own"
    return f"{kind.label}, {words[0].lower()}{words[1:]}"


def sample_entries(item: Element, look: Look) -> tuple[Entry, ...]:
    """Return an element's symbol on sample ground, in millimetres."""
    kind = kind_of(item)
    values = dict(SAMPLE_VALUES.get(kind.key, {}))
    values.update(name="", geometry=_sample_shape(kind.geometry, kind.key))
    if kind.key == "survey_mark":
        values["height_m"] = None
    sample = changed(item, **values)
    pen = Pen(replace(look, scale=SAMPLE_SCALE, labels=True))
    symbol_of(kind.key).draw([Drawn(sample, _sample_parts(sample))], pen)
    letters = [label for label in pen.labels if label.must and kind.key != "note"]
    return (*_told_apart(sample, pen.entries()), *place(letters, SAMPLE_SCALE))


def _told_apart(item: Any, entries: tuple[Entry, ...]) -> tuple[Entry, ...]:
    """Return a sample with what tells its variant apart without colour, however small it is.

    Strewn marks may miss so small an area altogether; zones differ by their number alone.
    """
    middle = HEIGHT_MM / 2
    if kind_of(item).key == "zone" and item.intensity != "free":
        return (*entries, Text(WIDTH_MM / 2, middle, item.intensity, 1.7, "zone_text"))
    strewn = [e for e in entries if isinstance(e, Stamps) and e.symbol != "cross"]
    if kind_of(item).key != "vegetation" or item.cover not in TEXTURES or item.status == "remove":
        return entries
    design, _, size, weight = TEXTURES[item.cover]
    ink = "way_edge" if item.cover == "bare" else "leaf"
    spots = np.array([(WIDTH_MM * share, middle) for share in (0.25, 0.5, 0.75)])
    marks = Stamps(
        design, spots, np.full(3, min(size, 2.2)), on_ground=False,
        fill=Fill(item.cover) if design == "wood" else None, stroke=Stroke(ink, weight, alpha=0.75),
    )  # fmt: skip
    kept = [e for e in entries if all(e is not old for old in strewn)]
    return (*kept, marks)


def _sample_shape(geometry: str, key: str) -> BaseGeometry:
    middle_y = HEIGHT_MM / 2
    if geometry == "Point":
        return Point(WIDTH_MM / 2, middle_y - (1.5 if key == "gate" else 0.0))
    if key == "terraces":
        return LineString([(0.6, BENCHES_MM[0][1]), (WIDTH_MM - 0.6, BENCHES_MM[0][1])])
    if geometry == "LineString":
        # Some end in an arrow that reaches beyond them.
        ahead = 1.8 if key in ("culvert", "water_bar") else 0.3
        return LineString([(0.3, middle_y), (WIDTH_MM - ahead, middle_y)])
    # Room for the marks on a boundary's corners, which keep their size where samples shrink.
    inset = {"site_boundary": 0.8, "platform": 0.9}.get(key, 0.0)
    return Polygon(box(0.6 + inset, 0.4 + inset, WIDTH_MM - 0.6 - inset, HEIGHT_MM - 0.4 - inset))


def _sample_parts(item: Any) -> dict[str, BaseGeometry]:
    """Return the parts symbols may ask for, made for the sample alone."""
    shape = item.geometry
    parts: dict[str, BaseGeometry] = {"shape": shape}
    if shape.geom_type == "LineString":
        half = getattr(item, "width_m", 1.0) / 2
        band = shape.buffer(half, cap_style="flat")
        spread = getattr(item, "spread_m", 0.0) / 2
        step = getattr(item, "spacing_m", 2.0)
        count = int(shape.length / step)
        points = [shape.interpolate((k + 0.5) * shape.length / count) for k in range(count)]
        parts |= {"centre_line": shape, "edge": band, "belt": band, "crown": band}
        parts |= {"strip": shape.buffer(spread, cap_style="flat") if spread else shape}
        parts["poles"] = MultiPoint(shapely.get_coordinates(shape))
        parts["plants"] = MultiPoint(points)
        if kind_of(item).key == "tree_row":
            parts["crown"] = points[0].buffer(item.mature_crown_m / 2)
    elif shape.geom_type == "Polygon":
        middle = HEIGHT_MM / 2
        parts |= {"wall": shape, "bed": shape, "field": shape}
        parts |= {"eaves": shape.buffer(0.4, join_style="mitre")}
        parts |= {"ridge": LineString([(0.6, middle), (WIDTH_MM - 0.6, middle)])}
    else:
        parts |= {"stem": shape, "crown": shape.buffer(2.3), "crown_mature": shape.buffer(2.3)}
        # What is set on a place and takes its outline from there: a bay, a turning head.
        parts["edge"] = box(2.2, 0.9, WIDTH_MM - 2.2, HEIGHT_MM - 0.9).buffer(0.7)
        half = getattr(item, "width_m", 4.0) / 2
        parts["leaf"] = LineString([(shape.x - half, shape.y), (shape.x + half, shape.y)])
    return parts | _earth_parts(item)


def _earth_parts(item: Any) -> dict[str, BaseGeometry]:
    """Return the parts of a pad, terraces, a heap or a pit on a sample hill that falls down."""
    key, shape = kind_of(item).key, item.geometry
    if key in ("heap", "borrow_pit"):
        return {"level_part": shape.buffer(-1.3, join_style="mitre")}
    if key == "platform":
        toe = shape.buffer(0.8, join_style="mitre")
        upper = box(-1, HEIGHT_MM / 2, WIDTH_MM + 1, HEIGHT_MM + 1)
        west, _, east, north = shape.bounds
        wall = LineString([(west, north), (east, north)])
        return {
            "edge": shape, "toe": toe, "cut": toe.intersection(upper),
            "fill": toe.difference(upper),
            "wall": LineString() if item.walls == "none" else wall,
        }  # fmt: skip
    if key == "terraces":
        benches = [box(0.6, low, WIDTH_MM - 0.6, high) for low, high in BENCHES_MM]
        edges = [LineString([(0.6, high), (WIDTH_MM - 0.6, high)]) for _, high in BENCHES_MM]
        return {"edge": MultiPolygon(benches), "upper_edge": MultiLineString(edges)}
    return {}


def _crown_key(shown: dict[str, list[Element]], study: Study, look: Look) -> list[LegendItem]:
    if not shown.get("tree") and not shown.get("tree_row"):
        return []
    pen = Pen(replace(look, scale=SAMPLE_SCALE))
    middle = shapely.get_coordinates(Point(WIDTH_MM / 2, HEIGHT_MM / 2))
    leaf = Stroke("leaf", 0.2)
    pen.stamps("crown_plain", middle, 2.8, leaf, Fill("tree_mid", alpha=0.7), level=1)
    pen.stamps("crown_ring", middle, 4.6, Stroke("mature", 0.13, (1.4, 0.9)))
    label = f"Crown in year {study.year}; dashed: at maturity"
    return [LegendItem(label, pen.entries(), "Plants")]


def _style_items(elements: Iterable[Element], look: Look) -> list[LegendItem]:
    """Return how status and owner show, for those there are."""
    elements = list(elements)
    statuses = {Status(item.status) for item in elements}
    owners = {Owner(item.owner) for item in elements} - {Owner.OURS}
    made = []
    shape = Polygon(box(0.6, 0.4, WIDTH_MM - 0.6, HEIGHT_MM - 0.4))
    for status in STATUS_KEY:
        if status in statuses:
            item = Building(geometry=shape, status=status.value, eaves_m=0.0)
            made.append(LegendItem(STATUS_KEY[status], sample_entries(item, look), "Line and fill"))
    for owner in OWNER_KEY:
        if owner in owners:
            item = Building(geometry=shape, status="existing", owner=owner.value, eaves_m=0.0)
            made.append(LegendItem(OWNER_KEY[owner], sample_entries(item, look), "Line and fill"))
    return made


def _ground_items(study: Study, look: Look) -> list[LegendItem]:
    made = []
    interval = contour_interval_m(look)
    if study.land.grid is not None and interval > 0 and "contours" not in look.hidden_layers:
        low, middle, high = (
            ring((0.3, y), (3.5, y + 1.0), (7.5, y + 0.8), (WIDTH_MM - 0.3, y + 2.0))
            for y in (0.9, 1.6, 2.3)
        )
        lines = (Lines([low, high], CONTOUR), Lines([middle], CONTOUR_INDEX))
        made.append(LegendItem(f"Contours every {interval_text(interval, look)}", lines, "Ground"))
    return made


def shading_items(study: Study, look: Look) -> tuple[str, tuple[LegendItem, ...]]:
    """Return the title and the swatches of the shading; ("", ()) when there is none."""
    if not shadeable(study, look) or "shading" in look.hidden_layers:
        return "", ()
    found = shading_legend(shading(study, look), look)
    grey = look.palette == "mono"
    title = f"{found.title}, {found.note}" if found.note else found.title
    return title, tuple(
        LegendItem(each.label, (shade_sample(each.rgb, look.shading_opacity, grey),), title)
        for each in found.swatches
    )


def shade_sample(colour: tuple[int, int, int], opacity: float, grey: bool = False) -> Image:
    """Return a swatch of a shading's colour."""
    rgba = np.array([[[*colour, 255]]], np.uint8)
    rgba = greyed(rgba) if grey else rgba
    return Image(rgba, (0.6, 0.6, WIDTH_MM - 0.6, HEIGHT_MM - 0.6), opacity)


def _finding_items(findings: Sequence[Finding], look: Look) -> list[LegendItem]:
    made = []
    for severity, label in SEVERITY_LABELS.items():
        if any(each.severity is severity for each in findings):
            pen = Pen(replace(look, scale=SAMPLE_SCALE))
            at = shapely.get_coordinates(Point(WIDTH_MM / 2, HEIGHT_MM / 2))
            pen.stamps(MARKS[severity], at, 3.6, Stroke("warning", 0.35), Fill("paper"))
            made.append(LegendItem(label, pen.entries(), "Findings"))
    return made
