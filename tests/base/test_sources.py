"""Every source cited is in the table, and nothing stands in the table that nobody cites."""

from __future__ import annotations

import ast
import csv
import io
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from canvas.base import resources
from canvas.base.errors import InputError
from canvas.base.sources import all_sources, cites, source
from canvas.planting.species import FILE

ROOT = Path(__file__).resolve().parents[2]
TABLE = "sources.toml"


def cited_in_code() -> Iterator[tuple[str, str]]:
    """Yield each key under `@cites` and each `source="…"` of a call, with where it stands."""
    for file in sorted((ROOT / "canvas").rglob("*.py")):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            named = [k.value for k in node.keywords if k.arg == "source"]
            if isinstance(node.func, ast.Name) and node.func.id == "cites":
                named += node.args
            for each in named:
                if isinstance(each, ast.Constant) and isinstance(each.value, str) and each.value:
                    yield each.value, f"{file.name}, line {each.lineno}"


def cited_in_data() -> Iterator[tuple[str, str]]:
    """Yield each key under `source` or `sources` in the data files, with the file's name."""
    for file in sorted(resources.root().rglob("*.toml")):
        if file.name != TABLE:
            name = str(file.relative_to(resources.root()))
            yield from ((key, name) for key in sources_in(resources.toml(name)))
    for row in csv.DictReader(io.StringIO(resources.text(FILE))):
        for pair in filter(None, row["read"].split(";")):
            yield pair.split("=")[1], f"{FILE}, {row['key']}"


def sources_in(value: object) -> Iterator[str]:
    if isinstance(value, list):
        for each in value:
            yield from sources_in(each)
    elif isinstance(value, dict):
        for key, inner in value.items():
            if key in ("source", "sources"):
                yield from keys_in(inner)
            else:
                yield from sources_in(inner)


def keys_in(value: object) -> Iterator[str]:
    """Yield keys written as "key", ["key", …], {key = "key", at = …} or {figure = "key", …}."""
    if isinstance(value, str):
        yield from filter(None, [value])
    elif isinstance(value, list):
        for each in value:
            yield from keys_in(each)
    elif isinstance(value, dict):
        yield from keys_in(value["key"] if "key" in value else list(value.values()))


@cache
def cited() -> tuple[tuple[str, str], ...]:
    return (*cited_in_code(), *cited_in_data())


def test_every_source_cited_is_in_the_table() -> None:
    assert len(cited()) > 150
    lost = [f"{key} ({where})" for key, where in cited() if key not in all_sources()]
    assert not lost


def test_no_source_stands_unused_in_the_table() -> None:
    used = {key for key, _ in cited()}
    # A worked example may serve a test alone; a table may keep its key beside its figures.
    files = (*(ROOT / "tests" / "published").glob("*.py"), *(ROOT / "canvas").rglob("*.py"))
    told = "\n".join(file.read_text(encoding="utf-8") for file in files)
    data = [f for f in (ROOT / "resources").rglob("*.toml") if f.name != "sources.toml"]
    told += "\n".join(file.read_text(encoding="utf-8") for file in data)
    idle = [key for key in all_sources() if key not in used and not re.search(rf"\b{key}\b", told)]
    assert not idle


@pytest.mark.parametrize("key", all_sources())
def test_each_source_can_be_looked_up(key: str) -> None:
    found = all_sources()[key]
    assert re.fullmatch(r"[a-z][a-z0-9_]+", key)
    assert len(found.text) > 20
    assert found.text.endswith((".", ")", "/"))
    # A date in the table is a year or a day, and not later than the text itself says.
    assert not found.dated or re.match(r"(19|20)\d\d(-\d\d){0,2}", found.dated)


def test_an_unknown_source_is_a_fault_of_the_program() -> None:
    with pytest.raises(InputError, match="nobody2000"):
        source("nobody2000")


def test_a_function_carries_what_it_cites() -> None:
    @cites("horn1981", "karney2013")
    def formula() -> float:
        return 1.0

    assert formula.__sources__ == ("horn1981", "karney2013")  # type: ignore[attr-defined]
    assert formula() == 1.0
    assert source("horn1981").text.startswith("Horn, B. K. P. (1981)")
