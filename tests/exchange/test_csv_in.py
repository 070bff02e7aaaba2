"""Tables of text from many places."""

from __future__ import annotations

from pathlib import Path

import pytest

from canvas.base.errors import BadData
from canvas.exchange import headings
from canvas.exchange.incoming import Columns
from canvas.exchange.readers import table
from canvas.exchange.readers.raw import RawFile

GRID = "EPSG:25832"


def read(tmp_path: Path, text: str, codec: str = "utf-8", **columns: object) -> RawFile:
    path = tmp_path / "t.csv"
    path.write_bytes(text.encode(codec))
    return table.read(path, Columns(**columns), GRID)  # type: ignore[arg-type]


def places(found: RawFile) -> list[tuple[float, float]]:
    return [(f.geometry.x, f.geometry.y) for f in found.features]  # type: ignore[attr-defined]


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_the_separator_is_found(tmp_path: Path, separator: str) -> None:
    rows = [("name", "easting", "northing"), ("oak; old, big", "500.5", "900.25")]
    text = "\n".join(separator.join(f'"{cell}"' for cell in row) for row in rows)
    found = read(tmp_path, text)
    assert places(found) == [(500.5, 900.25)]
    assert found.features[0].values == {"name": "oak; old, big"}


def test_semicolons_and_decimal_commas(tmp_path: Path) -> None:
    text = "Baum;Rechtswert;Hochwert;Höhe (m)\nEiche;512.345,50;5.300.100,25;12,5\n"
    found = read(tmp_path, text, "cp1252")
    assert places(found) == [(512345.5, 5300100.25)]
    assert found.features[0].values == {"Baum": "Eiche", "Höhe (m)": "12.5"}
    assert any("decimal comma" in note for note in found.notes)
    assert any("Windows-1252" in note for note in found.notes)


@pytest.mark.parametrize(
    ("x", "y"),
    [
        ("Longitude", "Latitude"),
        ("lng", "lat"),
        ("Longitud", "Latitud"),
        ("Längengrad", "Breitengrad"),
        ("Länge", "Breite"),
        ("lon_deg", "lat_deg"),
        ("Longitudine", "Latitudine"),
    ],
)
def test_degrees_are_known_by_their_headings(tmp_path: Path, x: str, y: str) -> None:
    path = tmp_path / "t.csv"
    path.write_text(f"n,{y},{x}\na,-37.5,142.25\n")
    found = table.read(path, Columns(), "")
    assert found.crs == "EPSG:4326"
    assert places(found) == [(142.25, -37.5)]


@pytest.mark.parametrize(
    ("x", "y"),
    [
        ("E", "N"),
        ("X", "Y"),
        ("Easting (m)", "Northing (m)"),
        ("Este", "Norte"),
        ("utm_e", "utm_n"),
    ],
)
def test_grid_columns_are_known_by_their_headings(tmp_path: Path, x: str, y: str) -> None:
    found = read(tmp_path, f"{x},{y},n\n1.5,2.5,a\n")
    assert places(found) == [(1.5, 2.5)]


def test_width_and_length_are_not_taken_for_degrees_beside_a_grid(tmp_path: Path) -> None:
    found = read(tmp_path, "Länge;Breite;Ostwert;Nordwert\n4;2;100;200\n")
    assert places(found) == [(100, 200)]


@pytest.mark.parametrize(
    ("cell", "value"),
    [
        ("37°30'0\"S", -37.5),
        ("37 30 0 S", -37.5),
        ("-37:30:00", -37.5),
        ("37.5 S", -37.5),
        ("37°30.0' N", 37.5),
        ("37.5° N", 37.5),
    ],
)
def test_degrees_minutes_seconds(tmp_path: Path, cell: str, value: float) -> None:
    quoted = cell.replace('"', '""')
    found = read(tmp_path, f'lat;lon\n"{quoted}";142.5\n')
    assert places(found) == [(142.5, pytest.approx(value, abs=1e-12))]


def test_shapes_as_text(tmp_path: Path) -> None:
    text = (
        'id,geom\n1,"POLYGON((0 0, 10 0, 10 10, 0 0))"\n2,POLYGON((\n3,\n4,SRID=4326;POINT (1 2)\n'
    )
    found = read(tmp_path, text)
    assert [f.geometry.geom_type for f in found.features] == ["Polygon", "Point"]
    assert [s.place for s in found.skipped] == ["line 3", "line 4"]


def test_columns_chosen_by_the_person(tmp_path: Path) -> None:
    text = "5;7;a\n6;8;b\n"
    with pytest.raises(BadData, match="columns"):
        read(tmp_path, text)
    found = read(tmp_path, text, x="1", y="2", header=False)
    assert places(found) == [(5, 7), (6, 8)]
    assert found.features[0].values == {"3": "a"}
    with pytest.raises(BadData, match="no column “9”"):
        read(tmp_path, text, x="1", y="9", header=False)


def test_a_table_without_headings_is_seen_as_such(tmp_path: Path) -> None:
    found = read(tmp_path, "5,7\n6,8\n", x="1", y="2")
    assert places(found) == [(5, 7), (6, 8)]


def test_rows_that_cannot_be_placed_are_listed(tmp_path: Path) -> None:
    found = read(tmp_path, "n,x,y\na,1,\nb,?,2\nc,1,2\nd,1,2,3,4\n\ne,3,4\n")
    assert places(found) == [(1, 2), (3, 4)]
    assert [(s.place, s.why.split(":")[0]) for s in found.skipped[:2]] == [
        ("line 2", "y"),
        ("line 3", "x"),
    ]
    assert found.skipped[2].place == "line 5"
    assert found.features[1].place == "line 7"


@pytest.mark.parametrize(
    "codec", ["utf-8", "utf-8-sig", "utf-16", "utf-16-be", "latin-1", "cp1252"]
)
def test_encodings(tmp_path: Path, codec: str) -> None:
    found = read(tmp_path, "Arvore,x,y\nMacieira à água,1,2\n", codec)
    assert found.features[0].values == {"Arvore": "Macieira à água"}


def test_an_encoding_that_is_asked_for_is_used(tmp_path: Path) -> None:
    assert read(tmp_path, "n,x,y\nžluť,1,2\n", "cp1250", encoding="cp1250").features[0].values == {
        "n": "žluť"
    }
    with pytest.raises(BadData, match="encoding"):
        read(tmp_path, "n,x,y\nžluť,1,2\n", "cp1250", encoding="utf-8")
    with pytest.raises(BadData, match="encoding"):
        read(tmp_path, "n,x,y\na,1,2\n", encoding="no-such-code")


@pytest.mark.parametrize(
    ("heading", "want"),
    [
        ("Height (ft)", ("height", "ft")),
        ("height_ft", ("height", "ft")),
        ("Höhe [m]", ("hohe", "m")),
        ("Area ha", ("area", "ha")),
        ("yield_l_s", ("yield", "l_s")),
        ("Flow (L/s)", ("flow", "l/s")),
        ("deed_area_m²", ("deedarea", "m2")),
        ("species", ("species", "")),
        ("m", ("m", "")),
    ],
)
def test_units_in_headings(heading: str, want: tuple[str, str]) -> None:
    assert headings.split_unit(heading) == want
