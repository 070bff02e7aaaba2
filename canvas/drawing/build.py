"""From a study to layers: elements kind by kind, the ground under them, the names over them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from functools import partial
from pathlib import Path

from canvas.base.grid import Bounds
from canvas.drawing.entries import Entry, Layer, Text
from canvas.drawing.findings import finding_layer
from canvas.drawing.labels import Block, Board, Label, place
from canvas.drawing.look import Look
from canvas.drawing.pen import Drawn, Pen
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
    found: dict[str, list[Element]] = defaultdict(list)
    for item in study.plan.elements():
        key = kind_of(item).key
        if key in look.hidden_kinds or item.phase in look.hidden_phases:
            continue
        if item.status == "proposed" and not study.stands(item):
            continue
        if bounds is None or _touches(item, bounds):
            found[key].append(item)
    return found


def _touches(item: Element, bounds: Bounds) -> bool:
    west, south, east, north = item.geometry.bounds
    return west <= bounds[2] and east >= bounds[0] and south <= bounds[3] and north >= bounds[1]


def drawn_of(study: Study, item: Element) -> Drawn:
    """Return an element with the parts and figures its symbol may ask for."""
    return Drawn(item, study.parts(item.id), partial(study.facts, item.id))


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
        symbol.draw([drawn_of(study, item) for item in items], pen)
        layers.append(Layer(key, kind_called(key).plural, pen.entries()))
        labels.extend(pen.labels)
        blocks.extend(pen.blocks)
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
    symbol_of(kind_of(element).key).draw([drawn_of(study, element)], pen)
    texts = place(pen.labels, look.scale) if look.labels else ()
    return (*pen.entries(), *texts)


def all_layers(
    study: Study, look: Look, *, folder: Path | None = None, bounds: Bounds | None = None
) -> tuple[Layer, ...]:
    """Return everything there is to see, lowest first: pictures, ground, plan, findings."""
    board = board_for(look, bounds)
    plan = plan_layers(study, look, bounds, board)
    ground, heights = _heights_apart(terrain_layers(study, look, bounds), look, board)
    layers = [*picture_layers(study.plan, folder, look), *ground, *plan, *heights]
    if look.findings and "findings" not in look.hidden_layers:
        layers.append(finding_layer(study, study.findings(), look))
    return tuple(layers)


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
