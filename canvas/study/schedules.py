"""Schedules of what is drawn, family by family: desk and sheets print the same ones."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from canvas.base.quantity import UnitSystem, show
from canvas.site.records import Element, kind_of
from canvas.study.balance_tables import balance_table, works_table
from canvas.study.book import Book, Column, Line, Table
from canvas.study.codes import codes
from canvas.study.storm.tables import storm_table
from canvas.study.way_tables import crossing_table

if TYPE_CHECKING:
    from canvas.study.study import Study

#: Trees of a status are one column each, in this order.
TREE_COLUMNS = (("existing", "Kept"), ("proposed", "New"), ("built", "Planted"), ("remove", "Out"))

Shown = Mapping[str, Sequence[Element]]


def schedules(study: Study, units: UnitSystem, shown: Shown | None = None) -> tuple[Table, ...]:
    """Return a table for each family of what is `shown`, by kind; of the whole plan without it."""
    book = Book(study, units)
    if shown is None:
        found: dict[str, list[Element]] = defaultdict(list)
        for item in study.plan.elements():
            found[kind_of(item).key].append(item)
        shown = found
    makers: tuple[Callable[[Book, Shown], Table | None], ...] = (
        land_table, zone_table, building_table, works_table, balance_table, way_table,
        crossing_table, water_table, storm_table, service_table, fence_table, plant_table,
        bed_table, mark_table,
    )  # fmt: skip
    return tuple(block for make in makers if (block := make(book, shown)) is not None)


def _called(item: Element, otherwise: str) -> str:
    return item.name or otherwise


def _choice(item: Any, field: str) -> str:
    return kind_of(item).spec(field).label_of(getattr(item, field))


def land_table(book: Book, shown: Shown) -> Table | None:
    """Return boundaries, parcels and easements with their areas and what they rest on."""
    lines = []
    for key in ("site_boundary", "parcel", "easement"):
        for item in shown.get(key, ()):
            label = _called(item, getattr(item, "title_ref", "") or kind_of(item).label)
            lines.append(
                Line((label, book.shown(item, "area_m2"), book.shown(item, "area_geodesic_m2")))
            )
    columns = (Column("Land", 1), Column("Area on grid", 0, True), Column("Ellipsoid", 0, True))
    return Table("Land", columns, tuple(lines)) if lines else None


def zone_table(book: Book, shown: Shown) -> Table | None:
    """Return zones with their areas and the total."""
    zones = sorted(shown.get("zone", ()), key=lambda z: getattr(z, "intensity", ""))
    if not zones:
        return None
    lines = [
        Line(
            (
                getattr(item, "intensity", "").replace("free", "–"),
                _called(item, getattr(item, "use", "") or "Zone"),
                book.shown(item, "area_m2"),
            )
        )
        for item in zones
    ]
    lines.append(Line(("", "All zones", book.total(zones, "area_m2", "ha", None)), strong=True))
    columns = (Column("Use", 0.25), Column("Zone", 1), Column("Area", 0, True))
    return Table("Zones", columns, tuple(lines))


def building_table(book: Book, shown: Shown) -> Table | None:
    """Return buildings with footprint and floor level."""
    lines = [
        Line(
            (
                _called(item, _choice(item, "use")),
                book.state(item),
                book.shown(item, "area_m2", 0),
                show(getattr(item, "floor_level_m", None), "m", book.units),
            )
        )
        for item in shown.get("building", ())
    ]
    columns = (
        Column("Building", 1, wraps=True), Column("Status", 0.75, wraps=True),
        Column("Footprint", 0, True), Column("Floor", 0, True),
    )  # fmt: skip
    return Table("Buildings", columns, tuple(lines)) if lines else None


def way_table(book: Book, shown: Shown) -> Table | None:
    """Return ways with length, width, steepest sustained grade and tightest inside radius."""
    lines = []
    for key in ("track", "path", "public_road"):
        for item in shown.get(key, ()):
            grade = "–" if key == "public_road" else book.shown(item, "sustained_grade", 1)
            radius = book.shown(item, "min_inside_radius_m", 1) if key == "track" else "–"
            lines.append(
                Line(
                    (
                        f"{_called(item, kind_of(item).label)} · {book.state(item)}",
                        book.shown(item, "length_m", 0),
                        book.shown(item, "width_m", 1),
                        grade,
                        radius,
                    )
                )
            )
    columns = (
        Column("Way", 1, wraps=True), Column("Length", 0, True), Column("Width", 0, True),
        Column("Grade", 0, True), Column("Radius", 0, True),
    )  # fmt: skip
    return Table("Ways: sustained grade, inside radius", columns, tuple(lines)) if lines else None


def water_table(book: Book, shown: Shown) -> Table | None:
    """Return wells, tanks, waters and waste water with what they hold or measure."""
    lines = []
    keys = {
        "well": ("depth_m", "yield_l_s"), "tank": ("volume_l", "fire_reserve_l"),
        "septic_tank": ("volume_l", "people"), "septic_field": ("area_m2", "area_each_m2"),
        "water_body": ("area_m2", "depth_m"), "watercourse": ("length_m", "width_m"),
    }  # fmt: skip
    for key, (first, second) in keys.items():
        for item in shown.get(key, ()):
            label = f"{_called(item, kind_of(item).label)} · {book.state(item)}"
            lines.append(Line((label, _named(book, item, first), _named(book, item, second))))
    columns = (Column("Water", 1, wraps=True), Column("", 0, True), Column("", 0, True))
    return Table("Water and waste water", columns, tuple(lines)) if lines else None


#: Short words before a figure whose meaning its unit does not show.
NAMES = {
    "fire_reserve_l": "fire", "depth_m": "deep", "width_m": "wide", "area_each_m2": "a head",
}  # fmt: skip


#: Decimals where a schedule wants fewer than the unit's own.
PLACES = {"length_m": 0, "width_m": 1, "depth_m": 1, "area_each_m2": 0}


def _named(book: Book, item: Element, key: str) -> str:
    figure = book.shown(item, key, PLACES.get(key))
    return f"{figure} {NAMES[key]}" if key in NAMES and figure != "–" else figure


def service_table(book: Book, shown: Shown) -> Table | None:
    """Return overhead lines, buried services and firebreaks."""
    lines = []
    for item in shown.get("overhead_line", ()):
        lines.append(
            Line((_called(item, "Overhead line"), book.shown(item, "length_m", 0),
                  book.shown(item, "voltage_kv")))
        )  # fmt: skip
    for item in shown.get("buried_service", ()):
        cover = book.shown(item, "depth_m")
        lines.append(
            Line((_called(item, _choice(item, "service")), book.shown(item, "length_m", 0),
                  f"{cover} cover" if cover != "–" else "cover unknown"))
        )  # fmt: skip
    for item in shown.get("firebreak", ()):
        lines.append(
            Line((_called(item, "Firebreak"), book.shown(item, "length_m", 0),
                  f"{book.shown(item, 'width_m', 1)} wide"))
        )  # fmt: skip
    columns = (Column("Line", 1), Column("Length", 0, True), Column("", 0, True))
    return Table("Services and firebreaks", columns, tuple(lines)) if lines else None


def fence_table(book: Book, shown: Shown) -> Table | None:
    """Return fences by type and status, with posts and gates."""
    groups: dict[tuple[str, str], list[Element]] = defaultdict(list)
    for item in shown.get("fence", ()):
        groups[_choice(item, "fence"), book.state(item)].append(item)
    lines = [
        Line(
            (
                f"{label} · {status}",
                book.total(items, "length_m", "m", 0),
                book.total(items, "posts", "count", 0),
                book.total(items, "gates", "count", 0),
            )
        )
        for (label, status), items in groups.items()
    ]
    columns = (
        Column("Fence", 1, wraps=True), Column("Length", 0, True), Column("Posts", 0, True),
        Column("Gates", 0, True),
    )  # fmt: skip
    return Table("Fences", columns, tuple(lines)) if lines else None


def plant_table(book: Book, shown: Shown) -> Table | None:
    """Return trees, rows and hedges by species: code, name, count by status, mature size."""
    trees = shown.get("tree", ())
    counts: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    crown: dict[str, float] = {}
    for item in (*trees,):
        _count(item, 1, counts, crown)
    for item in (*shown.get("tree_row", ()), *shown.get("hedge", ())):
        _count(item, int(book.value(item, "plants") or 0), counts, crown)
    if not counts:
        return None
    known = codes(counts)
    used = [pair for pair in TREE_COLUMNS if any(c.get(pair[0]) for c in counts.values())]
    lines = []
    for species in sorted(counts):
        cells = [known.get(species, ""), species or "Not named"]
        cells += [str(counts[species].get(status, 0) or "") for status, _ in used]
        cells.append(show(crown.get(species), "m", book.units, 1) if crown.get(species) else "–")
        lines.append(Line(tuple(cells)))
    totals = [str(sum(c.get(status, 0) for c in counts.values())) for status, _ in used]
    lines.append(Line(("", "All plants", *totals, ""), strong=True))
    columns = (
        Column("Code", 0.34), Column("Species", 1),
        *(Column(label, 0, True) for _, label in used), Column("Crown", 0, True),
    )  # fmt: skip
    return Table("Plants: crown at maturity", columns, tuple(lines))


def _count(
    item: Any, plants: int, counts: dict[str, dict[str, int]], crown: dict[str, float]
) -> None:
    counts[item.species][item.status] += plants
    size = getattr(item, "mature_crown_m", None) or getattr(item, "width_m", None)
    if size:
        crown[item.species] = max(crown.get(item.species, 0.0), size)


def bed_table(book: Book, shown: Shown) -> Table | None:
    """Return garden beds by use, with count and area."""
    groups: dict[str, list[Element]] = defaultdict(list)
    for item in shown.get("garden_bed", ()):
        groups[_choice(item, "use")].append(item)
    lines = [
        Line((label, str(len(items)), book.total(items, "area_m2", "m2", 1)))
        for label, items in groups.items()
    ]
    columns = (Column("Beds", 1), Column("Number", 0, True), Column("Area", 0, True))
    return Table("Garden beds", columns, tuple(lines)) if lines else None


def mark_table(book: Book, shown: Shown) -> Table | None:
    """Return survey marks with grid coordinates in metres and height."""
    lines = [
        Line(
            (
                _called(item, _choice(item, "mark").split(" (")[0]),
                f"{item.geometry.x:.2f}",  # type: ignore[attr-defined]
                f"{item.geometry.y:.2f}",  # type: ignore[attr-defined]
                show(getattr(item, "height_m", None), "m", book.units),
            )
        )
        for item in shown.get("survey_mark", ())
    ]
    columns = (
        Column("Mark", 1), Column("East [m]", 0, True), Column("North [m]", 0, True),
        Column("Height", 0, True),
    )  # fmt: skip
    return Table("Survey marks", columns, tuple(lines)) if lines else None
