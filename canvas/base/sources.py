"""Where figures come from: the table in `resources/sources.toml` and the mark on each entry."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import TypeVar

from canvas.base import resources
from canvas.base.errors import InputError

F = TypeVar("F", bound=Callable[..., object])


class Mark(StrEnum):
    """How well a figure is known."""

    #: The value was read in the source, or in an official page restating it.
    READ = "read"
    #: The value was worked out from a formula.
    COMPUTED = "computed"
    #: A source is named but was not opened: show "unconfirmed".
    REMEMBERED = "remembered"
    #: What practitioners do; no source.
    PRACTICE = "common practice"


@dataclass(frozen=True, slots=True)
class Source:
    """One published source."""

    key: str
    text: str
    #: A date or edition, as the source gives it.
    dated: str = ""


@cache
def all_sources() -> dict[str, Source]:
    """Return every source of the table by key."""
    table = resources.toml("sources.toml")
    return {
        key: Source(key, str(row["text"]), str(row.get("dated", ""))) for key, row in table.items()
    }


def source(key: str) -> Source:
    """Return the source with this key."""
    try:
        return all_sources()[key]
    except KeyError:
        raise InputError(f"no source {key!r} in resources/sources.toml") from None


def cites(*keys: str) -> Callable[[F], F]:
    """Note on a function which sources its formula or constants come from."""

    def mark(function: F) -> F:
        function.__sources__ = keys  # type: ignore[attr-defined]
        return function

    return mark
