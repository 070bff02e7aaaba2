"""What a gauge saw through the storm run last: its hydrograph, on the card and on paper."""

from __future__ import annotations

from canvas.base.quantity import UnitSystem, shown
from canvas.drawing.chart import Axis, Chart, ChartStyle, Series, line_chart
from canvas.drawing.details.registry import Detail, details_of
from canvas.site.elements.gauges import Gauge, GaugeLine
from canvas.study.rains.answers import MODEL, changed_since, stale_words
from canvas.study.rains.keep import SavedRun
from canvas.study.study import Study

WIDE_MM, HIGH_MM = 90.0, 45.0
#: Key of the flow off the land's edges among a run's records.
OFF = "off"


def gauge_chart(
    run: SavedRun,
    key: str,
    width_mm: float,
    height_mm: float,
    units: UnitSystem,
    style: ChartStyle | None = None,
) -> Chart | None:
    """Return flow past a line, or depth and speed at a staff, over hours; None when not there."""
    seen = run.series(key)
    if not seen:
        return None
    hours = seen["time_s"] / 3600.0
    x_axis = Axis("h from the start of the rain", low=0.0)
    if "flow_m3s" in seen:
        how = shown("m3/s", units)
        flow = Series("Flow", hours, seen["flow_m3s"] * how.factor, "water", 0.45, fill="water")
        y_axis = Axis(f"Flow, {how.symbol}")
        return line_chart([flow], width_mm, height_mm, x_axis, y_axis, style)
    how = shown("m", units)
    depth = Series("Depth", hours, seen["depth_m"] * how.factor, "water", 0.45, fill="water")
    y_axis = Axis(f"Depth, {how.symbol}", low=0.0)
    return line_chart([depth], width_mm, height_mm, x_axis, y_axis, style)


@details_of("gauge", "gauge_line")
def gauge_details(item: Gauge | GaugeLine, study: Study) -> list[Detail]:
    """Return the gauge's hydrograph in the newest run; none before the first."""
    run = study.rains().run("")
    if run is None:
        return []
    units = study.plan.site.unit_system()
    chart = gauge_chart(run, item.id, WIDE_MM, HIGH_MM, units)
    if chart is None:
        return []
    stale = stale_words(changed_since(study, run))
    title = "; ".join(filter(None, (f"Through {run.told['storm']['said']}", MODEL, stale)))
    return [Detail(title, chart.entries, chart.width_mm, chart.height_mm)]
