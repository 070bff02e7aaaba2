"""CSV: a row for each element, its position as degrees, as grid coordinates and as WKT."""

from __future__ import annotations

import csv
from pathlib import Path

import shapely

from canvas.exchange.writers.rows import DECIMALS, Row

POSITIONS = ("lonlat", "grid", "wkt")


def write(
    path: Path,
    rows: list[Row],
    *,
    separator: str = ",",
    decimal: str = ".",
    positions: tuple[str, ...] = (),
) -> list[str]:
    """Write a table; return notes.

    `positions` names the columns to write: "lonlat", "grid", "wkt" (in the site's CRS); without
    it, degrees and grid, and WKT when anything but points is written.
    """
    plain = all(row.kind.geometry == "Point" for row in rows)
    positions = positions or (POSITIONS[:2] if plain else POSITIONS)
    headings = dict.fromkeys(heading for row in rows for heading in row.values)
    table = [["id", "kind", *headings, *_place_headings(positions)]]
    for row in rows:
        cells = [_cell(row.values.get(heading), decimal) for heading in headings]
        places = [_comma(text, decimal) for text in _place(row, positions)]
        if "wkt" in positions:
            places.append(shapely.to_wkt(row.element.geometry, rounding_precision=3))
        table.append([row.element.id, row.kind.key, *cells, *places])
    # The mark at the start is how spreadsheets know that a table is UTF-8.
    with path.open("w", encoding="utf-8-sig", newline="") as file:
        csv.writer(file, delimiter=separator).writerows(table)
    if plain or "wkt" in positions:
        return []
    return ["Lines and areas were written as one point on each."]


def _place_headings(positions: tuple[str, ...]) -> list[str]:
    headings: list[str] = []
    if "lonlat" in positions:
        headings += ["longitude_deg", "latitude_deg"]
    if "grid" in positions:
        headings += ["easting_m", "northing_m"]
    return [*headings, "wkt"] if "wkt" in positions else headings


def _place(row: Row, positions: tuple[str, ...]) -> list[str]:
    cells: list[str] = []
    if "lonlat" in positions:
        spot = row.lonlat.representative_point()
        cells += [f"{spot.x:.{DECIMALS}f}", f"{spot.y:.{DECIMALS}f}"]
    if "grid" in positions:
        spot = row.element.geometry.representative_point()
        cells += [f"{spot.x:.3f}", f"{spot.y:.3f}"]
    return cells


def _cell(value: object, decimal: str) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return _comma(f"{value:.12g}", decimal)
    return str(value)


def _comma(text: str, decimal: str) -> str:
    return text.replace(".", decimal)
