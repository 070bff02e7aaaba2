"""Records without a place on the map: the site itself, its phases, rasters and agreements."""

from __future__ import annotations

from canvas.base.quantity import UnitSystem
from canvas.site.fields import choice, date, flag, integer, number, text
from canvas.site.records import Record, record

SITE_ID = "site"


@record("site", label="Site", plural="Sites")
class Site(Record):
    """What holds for the whole site."""

    id: str = SITE_ID
    name: str = text("Name", default="")
    crs: str = text("CRS", default="", help="A projected CRS in metres, such as EPSG:7854")
    heights_datum: str = text(
        "Heights datum", default="", help="What heights are measured from, such as AHD"
    )
    rule_sets: str = text(
        "Rule sets", default="good_practice", help="Keys of the rule sets in force, by comma"
    )
    units: str = choice(
        "Display units", (("metric", "Metric"), ("us", "US customary")), default="metric"
    )
    clock_h: float | None = number(
        "Clock ahead of UTC",
        "hours",
        default=None,
        low=-12,
        high=14,
        help="Standard time, such as 10 or -8; empty: taken from the site's longitude",
    )
    designer: str = text("Drawn by", default="")
    revision: str = text("Revision", default="A")
    address: str = text("Address", default="")

    def unit_system(self) -> UnitSystem:
        """Return how numbers are to be shown."""
        return UnitSystem(self.units)

    def sets(self) -> tuple[str, ...]:
        """Return the keys of the rule sets in force."""
        return tuple(key.strip() for key in self.rule_sets.split(",") if key.strip())


@record("phase", label="Phase", plural="Phases")
class Phase(Record):
    """A stretch of the work, built together."""

    name: str = text("Name", default="")
    place: int = integer("Place in order", default=1, low=1, high=999)
    starts: str = date("Starts", default="")
    remark: str = text("Remark", default="", long=True)


SURFACES = (("bare_earth", "Bare earth"), ("canopy", "Top of plants and roofs"))


@record("ground", label="Ground", plural="Grounds")
class Ground(Record):
    """A surveyed surface: a GeoTIFF of heights in the site's CRS, kept by content."""

    file: str = text("File", default="", help="Name inside the site folder")
    name: str = text("Name", default="Ground")
    source: str = text("Source", default="", help="Who measured it and how")
    surveyed: str = date("Surveyed on", default="")
    accuracy_m: float | None = number(
        "Vertical accuracy", "m", default=None, low=0, high=100, help="Standard error of a height"
    )
    surface: str = choice("Surface", SURFACES, default="bare_earth")
    datum: str = text("Heights datum", default="")
    cell_m: float = number("Cell size", "m", default=1.0, low=1e-3, high=1e4)
    #: The first that is in use is the ground the plan stands on.
    in_use: bool = flag("In use", default=True)


@record("picture", label="Background picture", plural="Background pictures")
class Picture(Record):
    """An aerial image or scanned map: a GeoTIFF in the site's CRS, kept by content."""

    file: str = text("File", default="", help="Name inside the site folder")
    name: str = text("Name", default="Aerial")
    source: str = text("Source", default="")
    taken: str = date("Taken on", default="")
    pixel_m: float = number("Pixel size", "m", default=0.25, low=1e-4, high=1e4)
    fit_error_m: float | None = number(
        "Fit error",
        "m",
        default=None,
        low=0,
        high=1e6,
        help="Root mean square of the control point residuals",
    )
    shown: bool = flag("Shown", default=True)
    opacity: float = number("Opacity", "%", default=1.0, low=0, high=1)


@record("waiver", label="Waived finding", plural="Waived findings")
class Waiver(Record):
    """A finding the owner accepts, with the reason, printed on the sheet."""

    finding: str = text("Finding", default="", help="Key of the finding")
    reason: str = text("Reason", default="", long=True)
    decided: str = date("Decided on", default="")


@record("threshold", label="Site threshold", plural="Site thresholds")
class Threshold(Record):
    """The site's own limit in place of a rule's."""

    rule: str = text("Rule", default="", help="Key of the rule")
    value: float = number("Limit", "ratio", default=0.0, help="In the rule's SI unit")
    reason: str = text("Reason", default="", long=True)
