"""Land: boundaries, parcels, easements, survey marks and zones."""

from __future__ import annotations

from canvas.site.fields import choice, number, text
from canvas.site.records import AreaElement, PointElement, element

GROUP = "Land"


@element(
    "site_boundary",
    label="Site boundary",
    plural="Site boundaries",
    geometry="Polygon",
    group=GROUP,
)
class SiteBoundary(AreaElement):
    """The edge of the land the plan is for."""

    status: str = "existing"
    title_ref: str = text("Title reference", default="", help="As the deed or title plan names it")
    deed_area_m2: float | None = number("Area in the deed", "m2", default=None, low=0, high=1e10)
    title_legs: str = text(
        "Title legs",
        default="",
        long=True,
        help="One leg a line: bearing, distance, as on the title plan",
    )
    bearings_from: str = choice(
        "Bearings from", (("grid", "Grid north"), ("true", "True north")), default="grid"
    )


@element("parcel", label="Parcel", plural="Parcels", geometry="Polygon", group=GROUP)
class Parcel(AreaElement):
    """A parcel of the cadastre: part of the site or a neighbour's."""

    status: str = "existing"
    title_ref: str = text("Title reference", default="")
    deed_area_m2: float | None = number("Area in the deed", "m2", default=None, low=0, high=1e10)
    use: str = text("Use", default="")


PURPOSES = (
    ("access", "Right of way"),
    ("drainage", "Drainage"),
    ("water", "Water"),
    ("power", "Power"),
    ("other", "Other"),
)


@element("easement", label="Easement", plural="Easements", geometry="Polygon", group=GROUP)
class Easement(AreaElement):
    """A strip somebody else has a right over."""

    status: str = "existing"
    purpose: str = choice("Purpose", PURPOSES, default="access")
    beneficiary: str = text("In favour of", default="")


MARKS = (
    ("benchmark", "Benchmark (known height)"),
    ("control", "Control point (known position)"),
    ("peg", "Boundary peg"),
)


@element("survey_mark", label="Survey mark", plural="Survey marks", geometry="Point", group=GROUP)
class SurveyMark(PointElement):
    """A benchmark, control point or boundary peg on the ground."""

    status: str = "existing"
    mark: str = choice("Mark", MARKS, default="benchmark")
    height_m: float | None = number(
        "Height", "m", default=None, low=-500, high=9000, help="Above the datum"
    )
    accuracy_m: float | None = number("Accuracy", "m", default=None, low=0, high=100)


INTENSITIES = (
    ("0", "0 · the house"),
    ("1", "1 · daily"),
    ("2", "2 · most days"),
    ("3", "3 · field"),
    ("4", "4 · seldom"),
    ("5", "5 · left alone"),
    ("free", "Free"),
)


@element("zone", label="Zone", plural="Zones", geometry="Polygon", group=GROUP)
class Zone(AreaElement):
    """An area by how often the family is in it, or for a purpose of its own."""

    intensity: str = choice("Use intensity", INTENSITIES, default="1")
    use: str = text("Use", default="", help="What the area is for")
