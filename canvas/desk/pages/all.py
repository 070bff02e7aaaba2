"""Every page, by its key."""

from canvas.desk.drawer import Page
from canvas.desk.pages.details import DetailsPage
from canvas.desk.pages.earth import EarthPage
from canvas.desk.pages.findings import FindingsPage
from canvas.desk.pages.history import HistoryPage
from canvas.desk.pages.layers import LayersPage
from canvas.desk.pages.levels import LevelsPage
from canvas.desk.pages.measured import MeasuredPage
from canvas.desk.pages.phases import PhasesPage
from canvas.desk.pages.places import PlacesPage
from canvas.desk.pages.rain import RainPage
from canvas.desk.pages.rules import RulesPage
from canvas.desk.pages.schedule import SchedulePage
from canvas.desk.pages.section import SectionPage
from canvas.desk.pages.sheet import SheetPage
from canvas.desk.pages.site import SitePage
from canvas.desk.pages.slopes import SlopesPage
from canvas.desk.pages.storm import StormPage
from canvas.desk.pages.sun import SunPage

PAGES: dict[str, type[Page]] = {
    cls.key: cls
    for cls in (
        SitePage, SlopesPage, SunPage, RainPage, SectionPage, MeasuredPage, LayersPage, PhasesPage,
        EarthPage, PlacesPage, LevelsPage, StormPage, FindingsPage, RulesPage, SchedulePage,
        SheetPage, HistoryPage, DetailsPage,
    )
}  # fmt: skip
