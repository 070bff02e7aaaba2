"""The house rules that a machine can check: sizes, floors, marks of unfinished work."""

from __future__ import annotations

import ast
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
MOST_LINES_OF_A_FILE = 450
MOST_LINES_OF_A_FUNCTION = 70
WRITTEN = ("canvas", "resources", "sample_sites", "tests", ".ci")
TEXTS = {".py", ".toml", ".csv", ".md", ".txt", ".svg", ".json", ".geojson", ""}
TOP = {
    *("README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE"),
    *("canvas", "resources", "tests", "sample_sites", "build", "dist"),
}
#: Split, so that this file does not hold what it looks for.
FORBIDDEN = [
    *(r"\bTO" + r"DO\b", r"\bFIX" + r"ME\b", r"\bXX" + r"X\b", "NotImplemented" + "Error"),
    *("(?i:coming" + " soon)", "(?i:\\bplace" + "holder\\b)", "(?i:lorem" + " ipsum)"),
    *(r"(?<![\w.])/" + r"work/", r"(?<![\w.])/" + r"tmp/", r"(?<![\w.])/" + r"root/"),
]
LINTER = "import sys; from importlinter.cli import lint_imports_command; lint_imports_command()"


@cache
def texts() -> tuple[Path, ...]:
    """Return every text the project holds, without what is made or cached."""
    found = [ROOT / name for name in ("README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE")]
    for folder in WRITTEN:
        for path in sorted((ROOT / folder).rglob("*")):
            made = any(part in {"__pycache__", "derived"} for part in path.parts)
            if path.is_file() and path.suffix in TEXTS and not made:
                found.append(path)
    return tuple(found)


def sources() -> list[Path]:
    return [path for path in texts() if path.suffix == ".py"]


def named(path: Path) -> str:
    return str(path.relative_to(ROOT))


def test_files_stay_short() -> None:
    long = {
        named(path): lines
        for path in sources()
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > MOST_LINES_OF_A_FILE
    }
    assert not long


def functions(path: Path) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node


def test_functions_stay_short() -> None:
    long = [
        f"{named(path)}: {node.name}, {size} lines"
        for path in sources()
        for node in functions(path)
        if (size := (node.end_lineno or 0) - node.lineno + 1) > MOST_LINES_OF_A_FUNCTION
    ]
    assert not long


def test_nothing_is_marked_unfinished_or_bound_to_one_machine() -> None:
    wanted = re.compile("|".join(FORBIDDEN))
    found = [
        f"{named(path)}, line {number}: {hit.group()}"
        for path in texts()
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if (hit := wanted.search(line))
    ]
    assert not found


@pytest.mark.parametrize(
    "mark", ["# TO" + "DO: later", "raise NotImplemented" + "Error", "'/tm" + "p/x'"]
)
def test_such_marks_would_be_found(mark: str) -> None:
    assert re.search("|".join(FORBIDDEN), mark)


def test_the_top_level_holds_what_it_should() -> None:
    there = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert there - {name for name in there if name.endswith(".egg-info")} <= TOP


def floors_below_paint() -> list[str]:
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    (layers,) = [
        c["layers"] for c in contracts["tool"]["importlinter"]["contracts"] if c["type"] == "layers"
    ]
    below = layers[layers.index("paint") + 1 :]
    return [floor.strip() for layer in below for floor in layer.split("|")]


def test_everything_below_paint_loads_without_qt() -> None:
    """What the import contract reads in the sources, seen in a running program."""
    code = (
        "import importlib, pkgutil, sys\n"
        "for floor in sys.argv[1:]:\n"
        "    package = importlib.import_module(f'canvas.{floor}')\n"
        "    for each in pkgutil.walk_packages(package.__path__, f'canvas.{floor}.'):\n"
        "        importlib.import_module(each.name)\n"
        "print(sum(name.startswith('canvas.') for name in sys.modules))\n"
        "print(sorted(n for n in sys.modules if n.split('.')[0] in ('PySide6', 'shiboken6')))"
    )
    floors = floors_below_paint()
    assert {"base", "site", "study", "sheets"} <= set(floors)
    done = subprocess.run(
        [sys.executable, "-c", code, *floors], cwd=ROOT, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    count, qt = done.stdout.splitlines()
    assert int(count) > 150
    assert qt == "[]"


def contracts_of(checkout: Path) -> subprocess.CompletedProcess[str]:
    """Run the import contracts on a checkout, from within it, so that it is the one looked at."""
    return subprocess.run(
        [sys.executable, "-c", LINTER, "--no-cache"], cwd=checkout, capture_output=True, text=True
    )


@pytest.fixture(scope="module")
def copied(tmp_path_factory: pytest.TempPathFactory) -> Path:
    copy = tmp_path_factory.mktemp("house")
    shutil.copy(ROOT / "pyproject.toml", copy)
    skipped = shutil.ignore_patterns("__pycache__")
    shutil.copytree(ROOT / "canvas", copy / "canvas", ignore=skipped)
    return copy


def test_imports_point_down(copied: Path) -> None:
    done = contracts_of(copied)
    assert done.returncode == 0, done.stdout
    assert "2 kept, 0 broken" in done.stdout


@pytest.mark.parametrize(
    ("floor", "line", "contract"),
    [
        ("study", "from PySide6.QtCore import QObject", "no Qt below the line"),
        ("base", "from canvas.site.plan import Plan", "imports point down"),
        ("sky", "from canvas.ground.surface import slope", "imports point down"),
    ],
)
def test_a_bad_import_is_caught(copied: Path, floor: str, line: str, contract: str) -> None:
    planted = copied / "canvas" / floor / "planted.py"
    planted.write_text(f'"""Planted."""\n\n{line}\n', encoding="utf-8")
    try:
        done = contracts_of(copied)
    finally:
        planted.unlink()
    assert done.returncode == 1, done.stdout + done.stderr
    assert f"{contract} BROKEN" in done.stdout
    assert f"canvas.{floor}.planted" in done.stdout
