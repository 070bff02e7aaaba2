"""What is to be shown of a plan, and how."""

from __future__ import annotations

from dataclasses import dataclass

from canvas.base.quantity import UnitSystem


@dataclass(frozen=True, slots=True)
class Look:
    """Choices for one picture of a plan."""

    #: Years after planting crowns are drawn for.
    year: int = 0
    hidden_kinds: frozenset[str] = frozenset()
    #: Identities of phases whose elements stay off; "" for those without a phase.
    hidden_phases: frozenset[str] = frozenset()
    #: Keys of terrain, picture and finding layers that stay off.
    hidden_layers: frozenset[str] = frozenset()
    labels: bool = True
    findings: bool = True
    #: None lets the scale choose, 0 draws none.
    contour_interval_m: float | None = None
    #: A key of the study's maps, or "" for no shading.
    shading: str = ""
    shading_opacity: float = 0.6
    #: 1–12, or 0 for the whole year: for the shadings that have months.
    month: int = 0
    picture_opacity: float = 1.0
    #: The number after "1:" the list is drawn for: what is sized on paper is laid out by it.
    scale: float = 500.0
    #: Name of the inks, for shadings, whose colours are not roles.
    palette: str = "light"
    units: UnitSystem = UnitSystem.METRIC

    def metres(self, paper_mm: float) -> float:
        """Return the ground length that is `paper_mm` long on paper."""
        return paper_mm * self.scale / 1000.0

    def paper(self, ground_m: float) -> float:
        """Return the millimetres on paper of a ground length."""
        return ground_m * 1000.0 / self.scale
