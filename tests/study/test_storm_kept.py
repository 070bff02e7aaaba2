"""What comes to a work stays known while another thing is dragged. By hand."""

from __future__ import annotations

from shapely import LineString

from canvas.site.elements.swales import Swale
from canvas.site.records import changed
from canvas.site.storms import DesignStorm
from made import EAST, NORTH, plane, study_of


def test_a_drag_works_out_the_peak_of_what_is_dragged_alone() -> None:
    """The other swale's peak comes back the very same, until the storm is another."""
    lines = {y: LineString([(EAST + 60, NORTH + y), (EAST + 140, NORTH + y)]) for y in (150, 80)}
    swales = [Swale(id=f"s{y}", geometry=line) for y, line in lines.items()]
    storm = DesignStorm(id="storm", depth_mm=100.0, group="D")
    study = study_of(storm, *swales, grid=plane())
    known = {ident: study.peak(ident) for ident in ("s150", "s80")}
    moved = changed(
        swales[0], geometry=LineString([(EAST + 70, NORTH + 150), (EAST + 130, NORTH + 150)])
    )
    dragged = study.preview(study.plan.with_(moved))
    assert dragged.peak("s80") is known["s80"]
    own = dragged.peak("s150")
    assert own.catchment.area_m2 < known["s150"].catchment.area_m2
    heavier = study.preview(study.plan.with_(changed(storm, depth_mm=150.0)))
    assert heavier.peak("s80").runoff_m3 > known["s80"].runoff_m3
