"""The one door to the program's data files: rules, species, sources, fonts, icons.

In a checkout they lie in `resources/` beside the package; in a wheel, in `canvas/_resources/`.
"""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from canvas.base.errors import InputError


@cache
def root() -> Path:
    """Return the folder the data files lie in."""
    package = Path(__file__).resolve().parent.parent
    packed = package / "_resources"
    return packed if packed.is_dir() else package.parent / "resources"


@cache
def samples() -> Path:
    """Return the folder the sample sites lie in."""
    package = Path(__file__).resolve().parent.parent
    packed = package / "_sample_sites"
    return packed if packed.is_dir() else package.parent / "sample_sites"


def path(name: str) -> Path:
    """Return the path of a data file; `name` is relative and may not climb out."""
    if name.startswith("/") or ".." in Path(name).parts:
        raise InputError(f"a resource name must be relative and stay inside: {name!r}")
    found = root() / name
    if not found.exists():
        raise InputError(f"no such resource: {name}")
    return found


def text(name: str) -> str:
    """Return a data file's text (UTF-8)."""
    return path(name).read_text(encoding="utf-8")


@cache
def toml(name: str) -> dict[str, Any]:
    """Return a TOML data file, parsed. Treat it as read-only: it is shared."""
    return tomllib.loads(text(name))
