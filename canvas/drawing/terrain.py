"""The ground as drawing: contours with their heights, shadings with their legend, pictures."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path as FilePath

import numpy as np
import shapely

from canvas.base.grid import Bounds, Grid
from canvas.base.quantity import FT, UnitSystem, show, shown
from canvas.drawing import ramps
from canvas.drawing.entries import Entry, Image, Layer, Lines, Path, Raster, Stroke, Text
from canvas.drawing.ground_lines import BEFORE, before_works, line_layer
from canvas.drawing.look import Look
from canvas.drawing.palette import greyed
from canvas.ground.contours import INDEX_EVERY, Contours, chaikin, label_points
from canvas.site.facts import Picture
from canvas.site.plan import Plan
from canvas.study.maps import RUN_KINDS, MapAnswer, rain_map
from canvas.study.study import Study

#: Interval by scale: the largest n of 1:n it serves, metres, feet.
INTERVALS = (
    (130.0, 0.1, 0.5), (275.0, 0.25, 1.0), (650.0, 0.5, 2.0), (1300.0, 1.0, 5.0),
    (2600.0, 2.0, 10.0), (6500.0, 5.0, 20.0), (math.inf, 10.0, 50.0),
)  # fmt: skip
CONTOUR = Stroke("contour", 0.13)
CONTOUR_INDEX = Stroke("contour_index", 0.28)
LABEL_MM = 1.6
LABEL_EVERY_MM = 95.0
#: Lines are thinned to this on paper before drawing: a quarter of the finest line.
THIN_MM = 0.035
#: Shadings are thinned to about this many cells.
MOST_CELLS = 4_000_000


def contour_interval_m(look: Look) -> float:
    """Return the interval asked for, or the one that suits the scale; 0 for none."""
    if look.contour_interval_m is not None:
        return look.contour_interval_m
    for limit, metres, feet in INTERVALS:
        if look.scale <= limit:
            return feet * FT if look.units is UnitSystem.US else metres
    return INTERVALS[-1][1]


def contour_layer(study: Study, look: Look, bounds: Bounds | None = None) -> Layer | None:
    """Return contours, index lines heavier and labelled; None without ground or interval."""
    interval = contour_interval_m(look)
    found = study.contours(interval, designed=look.designed) if interval > 0 else None
    if found is None or not len(found):
        return None
    thin: list[Path] = []
    heavy: list[Path] = []
    texts: list[Text] = []
    smooth = look.metres(THIN_MM)
    room = look.metres(LABEL_MM * 5)
    for i in _within(found, bounds):
        line = _drawn(found.line(i), smooth)
        if not found.index[i]:
            thin.append(line)
            continue
        heavy.append(line)
        if not look.labels:
            continue
        words = _height(float(found.level_m[i]), interval, look)
        for place in label_points(line, look.metres(LABEL_EVERY_MM), room):
            if bounds is None or _inside(place.x_m, place.y_m, bounds):
                texts.append(
                    Text(place.x_m, place.y_m, words, LABEL_MM, "contour_text",
                         turn_deg=-place.rotation_deg, halo="halo")
                )  # fmt: skip
    entries: list[Entry] = [Lines(thin, CONTOUR), Lines(heavy, CONTOUR_INDEX), *texts]
    before = before_works(study, interval, bounds) if look.designed else []
    if before:
        entries.append(Lines(before, BEFORE))
    return Layer("contours", f"Contours every {interval_text(interval, look)}", tuple(entries))


def interval_text(interval_m: float, look: Look) -> str:
    """Return a contour interval as people read it, with no more decimals than it has."""
    how = shown("m", look.units)
    number = round(interval_m * how.factor, 6)
    return f"{number:g}\N{NO-BREAK SPACE}{how.symbol}"


def _height(level_m: float, interval_m: float, look: Look) -> str:
    factor = 1 / FT if look.units is UnitSystem.US else 1.0
    step = round(interval_m * factor * INDEX_EVERY, 6)
    places = 0 if step.is_integer() else 1 if (step * 10).is_integer() else 2
    return f"{level_m * factor:.{places}f}"


def _within(found: Contours, bounds: Bounds | None) -> list[int]:
    if bounds is None:
        return list(range(len(found)))
    first = found.start[:-1]
    low = np.minimum.reduceat(found.xy_m, first)
    high = np.maximum.reduceat(found.xy_m, first)
    west, south, east, north = bounds
    hit = (low[:, 0] <= east) & (high[:, 0] >= west) & (low[:, 1] <= north) & (high[:, 1] >= south)
    return [int(i) for i in np.nonzero(hit)[0]]


def _inside(x: float, y: float, bounds: Bounds) -> bool:
    west, south, east, north = bounds
    return west < x < east and south < y < north


def _drawn(line: Path, thin_m: float) -> Path:
    """Return a contour with its steps rounded off and thinned beyond what can be seen."""
    rounded = chaikin(line, 1)
    if len(rounded) < 4:
        return rounded
    kept = shapely.simplify(shapely.linestrings(rounded), thin_m, preserve_topology=False)
    return shapely.get_coordinates(kept)


#: A picture's own file knows where it ends.
EVERYWHERE = (-math.inf, -math.inf, math.inf, math.inf)


@dataclass(frozen=True, slots=True)
class Swatch:
    """One line of a shading's legend."""

    label: str
    rgb: tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class ShadingLegend:
    """What a shading's colours mean."""

    title: str
    note: str
    swatches: tuple[Swatch, ...]


#: What the legends of water on the land tell apart [m], [m/s].
RAIN_STEPS: dict[str, tuple[float, ...]] = {
    "rain_depth": (0.005, 0.02, 0.05, 0.15, 0.5, 1.0, 2.0),
    "rain_speed": (0.02, 0.1, 0.3, 1.0, 2.0, 5.0),
}


def shading(study: Study, look: Look) -> MapAnswer:
    """Return the map that is to shade the plan."""
    if look.shading in RUN_KINDS:
        return rain_map(study, look.shading, look.rain_run)
    return study.map(look.shading, month=look.month, designed=look.designed)


def shadeable(study: Study, look: Look) -> bool:
    """Say whether there is what the plan is to be shaded by: a ground, or a storm run over it."""
    if look.shading in RUN_KINDS:
        return study.rains().run(look.rain_run) is not None
    return bool(look.shading) and study.land.grid is not None


def shading_layer(study: Study, look: Look, bounds: Bounds | None = None) -> Layer | None:
    """Return the shading as one picture; None when none is wanted or there is no ground."""
    if not shadeable(study, look):
        return None
    answer = shading(study, look)
    grid = answer.grid.window(bounds) if bounds is not None else answer.grid
    grid = _thinned(grid)
    if answer.key == "hillshade":
        rgba = ramps.relief(grid.z, _level_ground(answer.grid), look.palette == "dark")
    else:
        rgba = ramps.ramp_of(answer.key, answer.grid.z).rgba(grid.z)
    if look.palette == "mono":
        rgba = greyed(rgba)
    picture = Image(rgba, grid.bounds, look.shading_opacity)
    return Layer("shading", answer.label, (picture,))


def _thinned(grid: Grid) -> Grid:
    """Return a grid with every nth cell, so that no picture is larger than can be seen."""
    step = math.ceil(math.sqrt(grid.z.size / MOST_CELLS)) if grid.z.size > MOST_CELLS else 1
    if step == 1:
        return grid
    rows, cols = (n // step * step for n in grid.shape)
    kept = grid.z[step // 2 : rows : step, step // 2 : cols : step]
    return Grid(np.ascontiguousarray(kept), grid.west_m, grid.north_m, grid.cell_m * step)


def _level_ground(grid: Grid) -> float:
    """Return the brightness that stays clear: the middle one, so that no shading tints all."""
    known = grid.z[np.isfinite(grid.z)]
    return float(np.median(known)) if known.size else 0.5


def shading_legend(answer: MapAnswer, look: Look) -> ShadingLegend:
    """Return what the colours of a shading mean, in few swatches."""
    if answer.key == "hillshade":
        return ShadingLegend(answer.label, "darker faces turn from the light", ())
    ramp = ramps.ramp_of(answer.key, answer.grid.z)
    if answer.classes:
        present = set(np.unique(answer.grid.z[np.isfinite(answer.grid.z)]).astype(int))
        return ShadingLegend(
            answer.label,
            answer.note,
            tuple(
                Swatch(f"{each.label} {_range(each.low, each.high)}", ramp.colour(float(i)))
                for i, each in enumerate(answer.classes)
                if i in present
            ),
        )
    if answer.key == "cutfill":
        return ShadingLegend(answer.label, answer.note, _cut_and_fill(ramp, look))
    if answer.unit == "deg":
        names = ("North", "North-east", "East", "South-east", "South", "South-west", "West",
                 "North-west")  # fmt: skip
        swatches = [Swatch(name, ramp.colour(45.0 * i)) for i, name in enumerate(names)]
        title = "Slopes face" if answer.key == "aspect" else answer.label
        return ShadingLegend(title, answer.note, tuple(swatches))
    if answer.key in RAIN_STEPS:
        return ShadingLegend(answer.label, answer.note, rain_swatches(answer.key, look.units))
    values = ramp.steps(6)
    swatches = [
        Swatch(show(float(v), answer.unit, look.units, 0), ramp.colour(float(v))) for v in values
    ]
    if answer.key == "slope":
        swatches[-1] = Swatch(f"{swatches[-1].label} and more", swatches[-1].rgb)
    return ShadingLegend(answer.label, answer.note, tuple(swatches))


def rain_swatches(key: str, units: UnitSystem) -> tuple[Swatch, ...]:
    """Return the legend of water on the land, shaded by depth or by speed."""
    ramp, unit = ramps.FIXED[key], "m" if key == "rain_depth" else "m/s"
    made = [Swatch(show(v, unit, units, _places(v)), ramp.colour(v)) for v in RAIN_STEPS[key]]
    made[-1] = Swatch(f"{made[-1].label} and more", made[-1].rgb)
    return tuple(made)


def _places(value: float) -> int:
    """Return how many decimals a legend needs: water on the land is thin."""
    return 3 if value < 0.01 else 2 if value < 1.0 else 1


def _cut_and_fill(ramp: ramps.Ramp, look: Look) -> tuple[Swatch, ...]:
    made = []
    for value in ramp.steps(7):
        words = "as it is"
        if value:
            depth = show(abs(float(value)), "m", look.units, 1)
            words = f"{depth} {'dug' if value < 0 else 'filled'}"
        if abs(value) == ramp.high:
            words += " and more"
        made.append(Swatch(words, ramp.colour(float(value))))
    return tuple(made)


def _range(low: float, high: float) -> str:
    if math.isinf(high):
        return f"over {low * 100:.0f} %"
    return f"{low * 100:.0f}–{high * 100:.0f} %"


def picture_layers(plan: Plan, folder: FilePath | None, look: Look) -> tuple[Layer, ...]:
    """Return the background pictures that are shown, the first the lowest."""
    if folder is None or "pictures" in look.hidden_layers:
        return ()
    layers = []
    for picture in plan.of(Picture):
        key = f"picture:{picture.id}"
        if not picture.shown or key in look.hidden_layers or not (folder / picture.file).exists():
            continue
        opacity = picture.opacity * look.picture_opacity
        raster = Raster(str(folder / picture.file), EVERYWHERE, opacity, look.palette == "mono")
        layers.append(Layer(key, picture.name, (raster,)))
    return tuple(layers)


def terrain_layers(study: Study, look: Look, bounds: Bounds | None = None) -> tuple[Layer, ...]:
    """Return shading and contours, lowest first, for the ground within `bounds` [m] if given."""
    layers = []
    if "shading" not in look.hidden_layers and (found := shading_layer(study, look, bounds)):
        layers.append(found)
    if "contours" not in look.hidden_layers and (found := contour_layer(study, look, bounds)):
        layers.append(found)
    if "ground_lines" not in look.hidden_layers and (found := line_layer(study, look, bounds)):
        layers.append(found)
    return tuple(layers)
