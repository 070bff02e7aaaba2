"""A sheet made ready: what is asked for, and what its pages are drawn from."""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData, UserError
from canvas.base.finding import Finding
from canvas.base.grid import Bounds
from canvas.base.quantity import UnitSystem
from canvas.drawing.build import all_layers, shown_elements
from canvas.drawing.entries import Frame
from canvas.drawing.look import Look
from canvas.exchange.geotiff import picture_frame, picture_window
from canvas.sheets.layout import Layout, layout, type_of
from canvas.sheets.papers import best_scale, check_scale, paper
from canvas.sheets.titleblock import title_height, title_rows
from canvas.site.elements.land import SiteBoundary
from canvas.site.facts import Picture
from canvas.site.records import Element
from canvas.study.study import Study

#: Free paper around the site when it is fitted [mm].
AROUND_MM = 5.0
#: Half-width of the map around a single point [m].
LEAST_M = 10.0
#: Background pictures are printed this strong, so that lines and letters stand out.
PHOTO = 0.5
#: More contours than this between the lowest and the highest ground would be one brown.
MOST_CONTOURS = 2000
#: Pictures are tried by reading this many pixels each way.
PROBE_PX = 64


@dataclass(frozen=True, slots=True)
class SheetOptions:
    """What is to be printed, and how."""

    paper: str = "A3"
    landscape: bool = True
    #: The n of 1:n; None for the largest round scale the site fits at.
    scale: float | None = None
    title: str = "Plan"
    #: Interval of contours [m], 0 for none; None for the look's own.
    contours_m: float | None = None
    #: ISO date; "" for today.
    date: str = ""
    #: East, north of the map's middle [m]; None for the site's.
    centre: tuple[float, float] | None = None
    #: Words of the designer's own, a paragraph each.
    notes: tuple[str, ...] = ()
    schedules: bool = True
    #: What the map shows; its scale, palette and units are the sheet's.
    look: Look = field(default_factory=lambda: Look(picture_opacity=PHOTO))
    #: Name of the inks: "paper" or "mono".
    palette: str = "paper"


@dataclass(frozen=True, slots=True, eq=False)
class Prepared:
    """Everything worked out before a page is drawn."""

    study: Study
    options: SheetOptions
    look: Look
    layout: Layout
    bounds: Bounds
    frame: Frame
    shown: Mapping[str, Sequence[Element]]
    findings: tuple[Finding, ...]
    date: str
    #: Sides of the map beyond which the site goes on, in words: "north" …
    beyond: tuple[str, ...]
    #: What went wrong with the site's rasters, a sentence each.
    troubles: tuple[str, ...]

    @property
    def units(self) -> UnitSystem:
        """How figures are written."""
        return self.look.units


def prepare(study: Study, options: SheetOptions, folder: Path | None) -> Prepared:
    """Work out everything a sheet's pages are drawn from."""
    width, height = paper(options.paper).sides(options.landscape)
    letters = type_of(width, height)
    place = layout(width, height, title_height(letters, title_rows(study)))
    units = study.plan.site.unit_system()
    extent = site_extent(study)
    scale = (
        check_scale(options.scale)
        if options.scale is not None
        else best_scale(
            extent[2] - extent[0],
            extent[3] - extent[1],
            place.map.width - 2 * AROUND_MM,
            place.map.height - 2 * AROUND_MM,
            units,
        )
    )
    centre = options.centre or ((extent[0] + extent[2]) / 2, (extent[1] + extent[3]) / 2)
    half_x, half_y = place.map.width * scale / 2000, place.map.height * scale / 2000
    bounds = (centre[0] - half_x, centre[1] - half_y, centre[0] + half_x, centre[1] + half_y)
    look = replace(options.look, scale=scale, palette=options.palette, units=units)
    if options.contours_m is not None:
        look = replace(look, contour_interval_m=options.contours_m)
    _check_interval(study, look)
    layers = all_layers(study, look, folder=folder, bounds=bounds)
    frame = Frame(
        place.map.x, place.map.y, place.map.width, place.map.height, *centre, scale, layers
    )
    window = shapely.box(*bounds)
    findings = tuple(f for f in study.findings() if f.where.intersects(window))
    shown = shown_elements(study, look, bounds)
    date = options.date or datetime.date.today().isoformat()
    return Prepared(
        study, options, look, place, bounds, frame, shown, findings, date,
        beyond=_beyond(extent, bounds), troubles=_troubles(study, look, folder),
    )  # fmt: skip


def _check_interval(study: Study, look: Look) -> None:
    """Refuse a contour interval that would bury the sheet in lines."""
    interval, grid = look.contour_interval_m, study.land.grid
    if interval is None or interval == 0 or grid is None:
        return
    known = grid.z[np.isfinite(grid.z)]
    rise = float(np.ptp(known)) if known.size else 0.0
    if not math.isfinite(interval) or interval < 0 or rise / interval > MOST_CONTOURS:
        raise BadData(
            f"contours every {interval:g} m are not to be drawn on this ground",
            remedy=f"Give an interval of at least {rise / MOST_CONTOURS:.2g} m, or 0 for none.",
        )


def _beyond(extent: Bounds, bounds: Bounds) -> tuple[str, ...]:
    """Return the sides of the map the site goes on beyond."""
    slack = 1e-6 * (bounds[2] - bounds[0])
    sides = (
        ("north", extent[3] > bounds[3] + slack), ("east", extent[2] > bounds[2] + slack),
        ("south", extent[1] < bounds[1] - slack), ("west", extent[0] < bounds[0] - slack),
    )  # fmt: skip
    return tuple(side for side, goes_on in sides if goes_on)


def _troubles(study: Study, look: Look, folder: Path | None) -> tuple[str, ...]:
    """Return what could not be read of ground and pictures, a sentence each."""
    found = []
    if study.land.trouble:
        found.append(" ".join(study.land.trouble.split("\n")[0].split()).rstrip(".") + ".")
    for picture in study.plan.of(Picture):
        hidden = {"pictures", f"picture:{picture.id}"} & look.hidden_layers
        if folder is None or hidden or not picture.shown:
            continue
        try:
            bounds, _ = picture_frame(folder / picture.file)
            picture_window(folder / picture.file, bounds, PROBE_PX, PROBE_PX)
        except UserError as trouble:
            found.append(f"The picture “{picture.name}” is left out: {trouble.what}.")
    return tuple(found)


def site_extent(study: Study) -> Bounds:
    """Return what a fitted map must hold: boundaries, else all that is drawn, else the ground."""
    shapes: list[BaseGeometry] = [item.geometry for item in study.plan.of(SiteBoundary)]
    if not shapes:
        shapes = [item.geometry for item in study.plan.elements()]
    if not shapes:
        grid = study.land.grid
        return grid.bounds if grid is not None else (-LEAST_M, -LEAST_M, LEAST_M, LEAST_M)
    found = shapely.total_bounds(np.array(shapes, dtype=object))
    west, south, east, north = (float(v) for v in found)
    if max(east - west, north - south) < LEAST_M:
        return west - LEAST_M, south - LEAST_M, east + LEAST_M, north + LEAST_M
    return west, south, east, north
