"""Where the names go: labels seek free paper, the weightier first; what finds none stays off."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from canvas.base.grid import Bounds
from canvas.drawing.entries import Anchor, Text
from canvas.drawing.typeface import DESCENT, LEADING, width_mm

#: Size of the squares taken boxes are looked up by [mm].
SQUARE_MM = 8.0
#: Air kept around every label [mm].
AIR_MM = 0.5

Box = tuple[float, float, float, float]
Square = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Label:
    """Writing with the freedom it has in finding a place.

    `lines` stand one under the other, `text` giving the first line's place and the look of all.
    """

    text: Text
    lines: tuple[str, ...] = ()
    #: Other places to try, as offsets from the text's [mm] with their anchors.
    tries: tuple[tuple[float, float, Anchor], ...] = ()
    #: Written even where it collides (notes, lengths of dimension lines).
    must: bool = False
    #: Written in its place, whatever is there, where the label finds no room: a mark to be told by.
    instead: Text | None = None

    def words(self) -> tuple[str, ...]:
        """Return the lines written."""
        return self.lines or (self.text.words,)


@dataclass(frozen=True, slots=True)
class Block:
    """Paper that labels lighter than `weight` keep off, in map metres."""

    bounds: Bounds
    weight: float


def around(radius_mm: float) -> tuple[tuple[float, float, Anchor], ...]:
    """Return places about a point symbol, best first: right, left, above, below, corners."""
    r, d = radius_mm, radius_mm * 0.75
    return (
        (r, 0.0, Anchor.LEFT),
        (-r, 0.0, Anchor.RIGHT),
        (0.0, r + 0.6, Anchor.CENTRE),
        (0.0, -r - 0.6, Anchor.CENTRE),
        (d, d, Anchor.LEFT),
        (d, -d, Anchor.LEFT),
        (-d, d, Anchor.RIGHT),
        (-d, -d, Anchor.RIGHT),
    )


def outside(bounds_mm: tuple[float, float]) -> tuple[tuple[float, float, Anchor], ...]:
    """Return places beside an area of this width and height, for names that don't fit in it."""
    half_x, half_y = bounds_mm[0] / 2 + 0.8, bounds_mm[1] / 2 + 2.4
    return (
        (half_x, 0.0, Anchor.LEFT),
        (-half_x, 0.0, Anchor.RIGHT),
        (0.0, half_y, Anchor.CENTRE),
        (0.0, -half_y, Anchor.CENTRE),
    )


def strewn(step_mm: float) -> tuple[tuple[float, float, Anchor], ...]:
    """Return the middle and places about it, for labels of areas."""
    places = [(0.0, 0.0)]
    for ring in (1.0, 2.0):
        for k in range(8):
            angle = k * math.pi / 4 + math.pi / 2
            places.append((math.cos(angle) * step_mm * ring, math.sin(angle) * step_mm * ring))
    return tuple((x, y, Anchor.CENTRE) for x, y in places)


class Board:
    """Which paper is taken, in squares, so that ten thousand labels are placed in no time.

    With a `limit` [mm], nothing is free that reaches beyond it.
    """

    def __init__(self, limit: Box | None = None) -> None:
        self._taken: dict[Square, list[Box]] = {}
        self._limit = limit

    def free(self, box: Box) -> bool:
        """Whether nothing taken touches the box."""
        west, south, east, north = box
        if self._limit is not None:
            w, s, e, n = self._limit
            if west < w or south < s or east > e or north > n:
                return False
        return not any(
            west < e and east > w and south < n and north > s
            for square in _squares(box)
            for w, s, e, n in self._taken.get(square, ())
        )

    def copy(self) -> Board:
        """Return a board with the same paper taken, to try things on."""
        made = Board(self._limit)
        made._taken = {square: list(boxes) for square, boxes in self._taken.items()}
        return made

    def take(self, box: Box) -> None:
        """Mark a box as taken."""
        for square in _squares(box):
            self._taken.setdefault(square, []).append(box)


def _squares(box: Box) -> Iterable[Square]:
    west, south, east, north = (math.floor(v / SQUARE_MM) for v in box)
    return ((i, j) for i in range(west, east + 1) for j in range(south, north + 1))


def text_boxes(text: Text, lines: Sequence[str], x_mm: float, y_mm: float) -> list[Box]:
    """Return the boxes [mm] a label covers; turned writing is covered by a string of squares."""
    size = text.size_mm
    width = max(width_mm(words, size, text.bold, text.italic) for words in lines)
    left = {Anchor.LEFT: 0.0, Anchor.CENTRE: -width / 2, Anchor.RIGHT: -width}[text.anchor]
    top = size / 2 if text.stand == "middle" else size
    bottom = top - size * (1 + LEADING * (len(lines) - 1)) - size * DESCENT
    if not text.turn_deg:
        return [
            (
                x_mm + left - AIR_MM,
                y_mm + bottom - AIR_MM,
                x_mm + left + width + AIR_MM,
                y_mm + top + AIR_MM,
            )
        ]
    turn = math.radians(-text.turn_deg)
    half = (top - bottom) / 2 + AIR_MM
    count = max(int(width / (2 * half)), 1)
    boxes = []
    for k in range(count + 1):
        along = left + width * k / count
        cx, cy = x_mm + along * math.cos(turn), y_mm + along * math.sin(turn)
        boxes.append((cx - half, cy - half, cx + half, cy + half))
    return boxes


def place(
    labels: Iterable[Label],
    scale: float,
    board: Board | None = None,
    blocks: Iterable[Block] = (),
) -> tuple[Text, ...]:
    """Return the texts of all labels that found room, those of several lines split.

    `scale` is the number after "1:", coordinates are map metres. Weightier labels choose first,
    ties in the order given.
    """
    board = board or Board()
    per_m = 1000.0 / scale
    placed: list[Text] = []
    waiting = sorted(blocks, key=lambda each: each.weight)
    for label in sorted(labels, key=lambda each: (not each.must, -each.text.weight)):
        while waiting and not label.must and waiting[-1].weight > label.text.weight:
            west, south, east, north = waiting.pop().bounds
            board.take((west * per_m, south * per_m, east * per_m, north * per_m))
        found = settle(label, scale, board)
        if found is None and label.instead is not None:
            mark = replace(label, text=label.instead, lines=())
            found = settle(mark, scale, board) or _first(mark, per_m)
        if found is not None:
            texts, boxes = found
            for box in boxes:
                board.take(box)
            placed.extend(texts)
        elif label.must:
            placed.extend(_first(label, per_m)[0])
    return tuple(placed)


def settle(label: Label, scale: float, board: Board) -> tuple[tuple[Text, ...], list[Box]] | None:
    """Return a label's texts and boxes [mm] in its first free place, taking nothing yet.

    None when there is none; one that must be written and has a single place always gets it.
    """
    per_m = 1000.0 / scale
    text, lines = label.text, label.words()
    tries = label.tries or ((0.0, 0.0, text.anchor),)
    for dx, dy, anchor in tries:
        moved = _moved(text, dx / per_m, dy / per_m, anchor)
        # Several lines about a middle: the first stands half the block higher.
        lift = (len(lines) - 1) * text.size_mm * LEADING / 2 if text.stand == "middle" else 0.0
        boxes = text_boxes(moved, lines, moved.x * per_m, moved.y * per_m + lift)
        if all(board.free(box) for box in boxes) or (label.must and len(tries) == 1):
            return tuple(_split(moved, lines, lift / per_m, per_m)), boxes
    return None


def _first(label: Label, per_m: float) -> tuple[tuple[Text, ...], list[Box]]:
    """Return a label's texts in its first place: over something, but not over what it names."""
    dx, dy, anchor = label.tries[0] if label.tries else (0.0, 0.0, label.text.anchor)
    moved = _moved(label.text, dx / per_m, dy / per_m, anchor)
    return tuple(_split(moved, label.words(), 0.0, per_m)), []


def _moved(text: Text, dx: float, dy: float, anchor: Anchor) -> Text:
    return replace(text, x=text.x + dx, y=text.y + dy, anchor=anchor)


def _split(text: Text, lines: Sequence[str], lift_m: float, per_m: float) -> list[Text]:
    step = text.size_mm * LEADING / per_m
    turn = math.radians(text.turn_deg)
    # Down the page, as the turned reader sees it.
    down_x, down_y = -math.sin(turn), -math.cos(turn)
    return [
        replace(
            text,
            words=words,
            x=text.x + down_x * (k * step - lift_m),
            y=text.y + down_y * (k * step - lift_m),
        )
        for k, words in enumerate(lines)
        if words
    ]
