"""From a study to layers: elements kind by kind, the ground under them, the names over them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely

from canvas.base.grid import Bounds
from canvas.drawing.entries import Entry, Layer, Text
from canvas.drawing.findings import finding_layer, finding_layers
from canvas.drawing.herd import Herd
from canvas.drawing.labels import Block, Board, Label, place
from canvas.drawing.look import Look
from canvas.drawing.pen import Pen
from canvas.drawing.spills import spill_layer
from canvas.drawing.spot_levels import spot_layer
from canvas.drawing.symbols.registry import symbol_of, symbols
from canvas.drawing.terrain import picture_layers, terrain_layers
from canvas.site.records import Element, kind_of
from canvas.site.records import kind as kind_called
from canvas.study.study import Study

LABELS_LAYER = "labels"

__all__ = [
    "Look", "all_layers", "element_entries", "finding_layer", "picture_layers", "plan_layers",
    "shown_elements", "terrain_layers",
]  # fmt: skip


def shown_elements(
    study: Study, look: Look, bounds: Bounds | None = None
) -> dict[str, list[Element]]:
    """Return what is to be drawn, by kind; within `bounds` [m] if given.

    What is proposed for a phase later than the study's stays off.
    """
    found: dict[str, list[Element]] = {}
    for key in study.plan.group_keys():
        if key in look.hidden_kinds:
            continue
        items = [
            item
            for item in study.plan.group(key).values()
            if isinstance(item, Element)
            and item.phase not in look.hidden_phases
            and (not study.at or item.status != "proposed" or study.stands(item))
        ]
        if items and bounds is not None:
            items = _touching(items, bounds)
        if items:
            found[key] = items
    return found


def _touching(items: list[Element], bounds: Bounds) -> list[Element]:
    boxes = shapely.bounds(np.array([item.geometry for item in items], dtype=object))
    west, south, east, north = bounds
    touching = (
        (boxes[:, 0] <= east) & (boxes[:, 2] >= west)
        & (boxes[:, 1] <= north) & (boxes[:, 3] >= south)
    )  # fmt: skip
    return items if touching.all() else [items[k] for k in np.flatnonzero(touching)]


def plan_layers(
    study: Study, look: Look, bounds: Bounds | None = None, board: Board | None = None
) -> tuple[Layer, ...]:
    """Return one layer for each kind there is, lowest first, and the labels last.

    Coordinates are metres of the site's CRS; what is sized on paper is laid out for
    `look.scale`. With `bounds` only what touches them is drawn. `board` is left with the paper
    the labels took, for whatever is to keep off them.
    """
    shown = shown_elements(study, look, bounds)
    layers: list[Layer] = []
    labels: list[Label] = []
    blocks: list[Block] = []
    for key, symbol in symbols().items():
        items = shown.get(key)
        if not items:
            continue
        pen = Pen(look)
        symbol.draw(Herd(study, key, items), pen)
        named = kind_called(key)
        layers.append(Layer(key, named.plural, pen.entries(), look.opacity_of(named.group)))
        labels.extend(pen.labels)
        blocks.extend(pen.blocks)
    if (spills := spill_layer(study, look, bounds)) is not None:
        layers.append(spills[0])
        labels.extend(spills[1])
    if look.labels:
        texts = label_texts(labels, look, bounds, blocks, board)
        if texts:
            layers.append(Layer(LABELS_LAYER, "Labels", texts))
    return tuple(layers)


def label_texts(
    labels: Iterable[Label],
    look: Look,
    bounds: Bounds | None,
    blocks: Iterable[Block] = (),
    board: Board | None = None,
) -> tuple[Text, ...]:
    """Return the labels that find room; those outside `bounds` are not tried."""
    least = look.least_weight()
    labels = [each for each in labels if each.must or each.instead or each.text.weight >= least]
    if bounds is not None:
        west, south, east, north = bounds
        labels = [
            each for each in labels if west < each.text.x < east and south < each.text.y < north
        ]
    return place(labels, look.scale, board or board_for(look, bounds), blocks)


def board_for(look: Look, bounds: Bounds | None) -> Board:
    """Return an empty board, with the edge of the map as its limit."""
    if bounds is None:
        return Board()
    west, south, east, north = (look.paper(edge) for edge in bounds)
    return Board((west, south, east, north))


def element_entries(study: Study, element: Element, look: Look) -> tuple[Entry, ...]:
    """Return one element as it is drawn, whether or not it is in the plan yet."""
    if study.plan.get(element.id) is not element:
        study = study.preview(study.plan.with_(element))
    pen = Pen(look)
    key = kind_of(element).key
    symbol_of(key).draw(Herd(study, key, [element]), pen)
    texts = place(pen.labels, look.scale) if look.labels else ()
    return (*pen.entries(), *texts)


def all_layers(
    study: Study, look: Look, *, folder: Path | None = None, bounds: Bounds | None = None
) -> tuple[Layer, ...]:
    """Return everything there is to see, lowest first: pictures, ground, plan, findings."""
    board = board_for(look, bounds)
    plan = plan_layers(study, look, bounds, board)
    names = tuple(layer for layer in plan if layer.key == LABELS_LAYER)
    drawn = tuple(layer for layer in plan if layer.key != LABELS_LAYER)
    found: tuple[Layer, ...] = ()
    if look.findings and "findings" not in look.hidden_layers:
        found = finding_layers(study.findings(), look, board)
    levels = spot_layer(study, look, bounds, board) if look.spot_levels else None
    ground, heights = _heights_apart(terrain_layers(study, look, bounds), look, board)
    pictures = picture_layers(study.plan, folder, look)
    spots = (levels,) if levels is not None else ()
    return (*pictures, *ground, *drawn, *found[:1], *names, *spots, *heights, *found[1:])


def _heights_apart(
    layers: Iterable[Layer], look: Look, board: Board
) -> tuple[list[Layer], list[Layer]]:
    """Lift the contours' figures over the plan, where fills won't hide them and names are not."""
    ground, heights = [], []
    for layer in layers:
        texts = [entry for entry in layer.entries if isinstance(entry, Text)]
        if texts:
            others = tuple(entry for entry in layer.entries if not isinstance(entry, Text))
            ground.append(replace(layer, entries=others))
            kept = place([Label(text) for text in texts], look.scale, board)
            heights.append(Layer("heights", "Heights of contours", kept))
        else:
            ground.append(layer)
    return ground, heights
