"""Which cautions stand on a sheet: those for what is on it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from canvas.base import resources
from canvas.sheets.blocks import Paragraph
from canvas.site.records import Element


def cautions(
    shown: Mapping[str, Sequence[Element]], steepest: float | None
) -> tuple[Paragraph, ...]:
    """Return the cautions for what is shown; `steepest` is a slope ratio of the ground on it."""
    return tuple(
        Paragraph(str(row["text"]), str(row["title"]), "warning")
        for key, row in resources.toml("cautions.toml").items()
        if key == "always" or _applies(row, shown, steepest)
    )


def _applies(
    row: Mapping[str, Any], shown: Mapping[str, Sequence[Element]], steepest: float | None
) -> bool:
    if any(shown.get(kind) for kind in row["kinds"]):
        return True
    if steepest is not None and steepest > row.get("slope_over", float("inf")):
        return True
    if any(
        item.status in wanted
        for kind, wanted in row.get("status", {}).items()
        for item in shown.get(kind, ())
    ):
        return True
    return any(
        getattr(item, name, None) in values
        for kind, asked in row.get("fields", {}).items()
        for name, values in asked.items()
        for item in shown.get(kind, ())
    )
