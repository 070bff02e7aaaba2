"""The sun: its days through the year, and what a slope receives month by month."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import QComboBox, QWidget

from canvas.base.quantity import show
from canvas.desk.charts import BarFigure
from canvas.desk.drawer import Page
from canvas.desk.parts import fill_table, heading, label, quiet, small, table
from canvas.desk.tiles import holding, spread
from canvas.desk.wording import called, steepness

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow
    from canvas.study.study import Study

DAYS = ((3, 20, "20 March"), (6, 21, "21 June"), (9, 23, "23 September"), (12, 21, "21 December"))


class SunPage(Page):
    """Clear-sky energy of a slope by month, beside level ground; the sun on four days."""

    key = "sun"
    title = "Sun"
    icon = "sun"
    about = "Clear-sky energy a slope receives by month, and the sun's days"

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self._lane = desk.bench.jobs.lane("Sun")
        self._asked: object = None
        self.words = quiet()
        self.chart = BarFigure(
            desk.bench, "Clear-sky energy by month", "MJ/m² a day, clear sky", "fire"
        )
        self.table = table(("Day", "Sunrise", "Noon", "Sunset", "Highest"), name="The sun's days")
        self.month = QComboBox()
        self.month.setAccessibleName("Month the map is shaded for")
        self.month.addItem("The whole year", 0)
        from canvas.study.maps import MONTHS

        for number, name in enumerate(MONTHS, start=1):
            self.month.addItem(name, number)
        self.month.activated.connect(self._shade)
        self._note = small()
        picture = holding(
            self.words, self.chart,
            small("The line across each bar is level ground. The skyline is not counted."),
        )  # fmt: skip
        spread(self, (holding(heading("The sun’s days"), self.table, self._note), 5), (picture, 6))

    def tools(self) -> Sequence[QWidget]:
        """Offer the map shaded for a month."""
        return label("Shade the map for", "quiet", wrap=False), self.month

    def _shade(self) -> None:
        self._desk.bench.set_look(shading="energy", month=self.month.currentData())

    def refresh(self) -> None:
        """Ask again when the place or the slope looked at has changed."""
        bench = self._desk.bench
        study = bench.study
        self.month.setCurrentIndex(bench.look.month)
        if study is None or study.land.earth is None:
            self.words.setText("The site has no place yet: draw or bring in its boundary.")
            self._asked = None
            return
        items = bench.selected()
        token = (study.land, tuple(items), bench.theme, len(study.plan.of_kind("site_boundary")))
        if token == self._asked:
            return
        self._asked = token
        spot = items[0] if len(items) == 1 else None
        self._lane.ask(lambda _p: _answers(study, spot), self._show)

    def _show(self, got: dict[str, Any]) -> None:
        self.words.setText(got["words"])
        sun = got["energy"]
        self.chart.show_bars(
            "JFMAMJJASOND",
            [float(v) for v in sun.slope_mj],
            [f"{v:.0f}" for v in sun.slope_mj],
            [float(v) for v in sun.flat_mj],
        )
        fill_table(self.table, got["days"], right=frozenset({1, 2, 3, 4}))
        self._note.setText(f"Times are standard time, {got['zone']}, without daylight saving.")


def _answers(study: Study, item: Any) -> dict[str, Any]:
    """Return everything the page shows; called in the worker."""
    from canvas.study.readout import compass
    from canvas.study.suns import clock_zone, slope_sun, sun_day

    ratio, aspect, where = _slope_of(study, item)
    facing = f", facing {compass(aspect)}" if ratio > 0.005 else ""
    zone = clock_zone(study)
    year = datetime.date.today().year
    days = []
    for month, day, words in DAYS:
        found = sun_day(study, datetime.date(year, month, day))
        times = [t.strftime("%H:%M") if t else "–" for t in (found.rise, found.noon, found.sets)]
        days.append((words, *times, show(found.noon_elevation_deg, "deg", decimals=0)))
    return {
        "words": f"{where}: {steepness(ratio)}{facing}.",
        "energy": slope_sun(study, ratio, aspect),
        "days": days,
        "zone": str(zone),
    }


def _slope_of(study: Study, item: Any) -> tuple[float, float, str]:
    """Return slope ratio, aspect and name of what is looked at: an element, else the site."""
    if item is not None:
        spot = item.geometry.representative_point()
        slope, aspect = study.terrain.slope(spot.x, spot.y), study.terrain.aspect(spot.x, spot.y)
        if slope is not None:
            return slope, aspect or 0.0, called(item)
    for boundary in study.plan.of_kind("site_boundary")[:1]:
        under = study.terrain.under(boundary.geometry)  # type: ignore[attr-defined]
        if under is not None and under.aspect_deg == under.aspect_deg:
            return under.slope_mean, under.aspect_deg, "The site on the whole"
    return 0.0, 0.0, "Level ground"
