"""What the map shows, until the drawing floor says it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Look:
    """What the map shows."""

    year: int = 0
    hidden_kinds: frozenset[str] = frozenset()
    hidden_phases: frozenset[str] = frozenset()
    hidden_layers: frozenset[str] = frozenset()
    labels: bool = True
    findings: bool = True
    contour_interval_m: float | None = 1.0
    shading: str = ""
    shading_opacity: float = 0.6
    month: int = 0
    picture_opacity: float = 1.0
    scale: float = 1000.0
