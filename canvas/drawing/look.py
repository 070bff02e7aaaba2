"""What is to be shown of a plan, and how."""

from __future__ import annotations

from dataclasses import dataclass

from canvas.base.quantity import UnitSystem

#: Beyond 1:n names lighter than a weight stay off, the coarsest scale first.
THINNING = ((6000.0, 6.0), (3000.0, 4.6), (1500.0, 2.6), (900.0, 1.0))


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
    #: Drop the lighter names as the scale falls: for a screen, where one can come closer.
    thin: bool = False
    findings: bool = True
    #: Draw where findings reach, not only their marks.
    finding_places: bool = True
    #: None lets the scale choose, 0 draws none.
    contour_interval_m: float | None = None
    #: A key of the study's maps, or "" for no shading.
    shading: str = ""
    shading_opacity: float = 0.6
    #: Which kept storm run the shadings of rain show; "" for the newest.
    rain_run: str = ""
    #: "designed" for contours and shading with the earthworks built, "existing" as surveyed.
    ground: str = "designed"
    #: Keys of the study's ground lines that are drawn: valleys, ridges, keypoints …
    ground_lines: frozenset[str] = frozenset()
    #: Whether the ways of water that spills in the design storm are drawn.
    spills: bool = False
    #: Designed and existing levels at the corners and along the lines of earthworks.
    spot_levels: bool = False
    #: 1–12, or 0 for the whole year: for the shadings that have months.
    month: int = 0
    picture_opacity: float = 1.0
    #: Families of kinds that are drawn fainter, with their opacity.
    faded: tuple[tuple[str, float], ...] = ()
    #: The number after "1:" the list is drawn for: what is sized on paper is laid out by it.
    scale: float = 500.0
    #: Name of the inks, for shadings, whose colours are not roles.
    palette: str = "light"
    units: UnitSystem = UnitSystem.METRIC

    @property
    def shows_rain(self) -> bool:
        """Whether the shading tells of rain on the land: a tint of water would hide it."""
        return self.shading.startswith("rain_")

    @property
    def designed(self) -> bool:
        """Whether the ground is shown as designed."""
        return self.ground == "designed"

    def opacity_of(self, family: str) -> float:
        """Return how strongly a family of kinds is drawn, 0 to 1."""
        return dict(self.faded).get(family, 1.0)

    def least_weight(self) -> float:
        """Return the weight below which names stay off at this scale."""
        if not self.thin:
            return 0.0
        return next((least for scale, least in THINNING if self.scale > scale), 0.0)

    def metres(self, paper_mm: float) -> float:
        """Return the ground length that is `paper_mm` long on paper."""
        return paper_mm * self.scale / 1000.0

    def paper(self, ground_m: float) -> float:
        """Return the millimetres on paper of a ground length."""
        return ground_m * 1000.0 / self.scale
