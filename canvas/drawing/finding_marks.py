"""The findings' marks and numbers: one for several that stand close, led aside where it is full.

Every number is on the map, so that each line of the list is found: what finds no room of its own
joins its nearest neighbour, and thin lines lead from the mark to each place meant.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from canvas.base.finding import Finding, Severity
from canvas.drawing.entries import Anchor, Entry, Fill, Stroke, Text
from canvas.drawing.labels import Board, Box, Label, settle
from canvas.drawing.look import Look
from canvas.drawing.pen import Pen
from canvas.drawing.typeface import LEADING

MARKS = {
    Severity.ERROR: "mark_error",
    Severity.WARNING: "mark_warning",
    Severity.ADVICE: "mark_advice",
}
MARK_MM = 3.6
NUMBER_MM = 1.8
#: Marks nearer than this on paper stand as one, with their numbers listed.
MERGE_MM = 3.0
#: Other places for a mark: shares of a line, then rings about a spot in widths of a mark.
ALONG = (0.35, 0.65, 0.2, 0.8, 0.05, 0.95)
RINGS = (1.1, 1.7, 2.4, 3.3, 4.4)
DIRECTIONS = 12
#: A leader is looked along at points so far apart, from so far off its ends [mm].
BETWEEN_MM, END_MM = 0.8, 1.8
#: Rounds of joining those without room, before one is written over something.
ROUNDS = 8
#: Numbers in a line, and how many a screen shows, where one can come closer.
IN_LINE, ON_SCREEN = 3, 3

Spot = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Group:
    """Findings that share a mark."""

    members: tuple[tuple[str, Finding, Spot], ...]

    @property
    def worst(self) -> Finding:
        """The finding the mark is drawn for: standing before waived, the most severe first."""
        return min((finding for _, finding, _ in self.members), key=_rank)

    @property
    def spot(self) -> Spot:
        """The place of the worst."""
        worst = self.worst
        return next(spot for _, finding, spot in self.members if finding is worst)

    def with_(self, other: Group) -> Group:
        """Return both as one."""
        return Group((*self.members, *other.members))


def _rank(finding: Finding) -> tuple[bool, int]:
    return bool(finding.waived), list(MARKS).index(finding.severity)


def numbered(findings: Iterable[Finding]) -> list[tuple[str, Finding]]:
    """Return findings with the number map and table call them by: F1 … standing, W1 … waived."""
    standing = [each for each in findings if not each.waived]
    waived = [each for each in findings if each.waived]
    return [(f"F{i}", each) for i, each in enumerate(standing, 1)] + [
        (f"W{i}", each) for i, each in enumerate(waived, 1)
    ]


def mark_entries(
    findings: Sequence[Finding], look: Look, board: Board | None = None
) -> tuple[Entry, ...]:
    """Return the marks with their numbers and leaders; `board` is left with the room they took."""
    board = board if board is not None else Board()
    groups = _together(findings, look)
    pen = Pen(look)
    texts: list[Text] = []
    placed, lost = _placed(groups, pen, board.copy())
    for _ in range(ROUNDS):
        if not lost:
            break
        groups = _joined(groups, lost)
        placed, lost = _placed(groups, pen, board.copy())
    spare = board.copy()
    for group in groups:
        at, words, boxes = placed.get(group) or _over(group, pen, spare)
        _draw(pen, group, at)
        texts += words
        for box in boxes:
            board.take(box)
    return (*pen.entries(), *texts)


def _together(findings: Sequence[Finding], look: Look) -> list[Group]:
    """Return the findings in groups of those in one place, the worst first."""
    groups: list[Group] = []
    for number, finding in sorted(numbered(findings), key=lambda pair: _rank(pair[1])):
        alone = Group(((number, finding, _spot(finding.where)),))
        near = look.metres(MERGE_MM)
        for k, other in enumerate(groups):
            if math.dist(other.spot, alone.spot) < near:
                groups[k] = other.with_(alone)
                break
        else:
            groups.append(alone)
    return groups


Placed = tuple[Spot, tuple[Text, ...], list[Box]]


def _placed(
    groups: Sequence[Group], pen: Pen, board: Board
) -> tuple[dict[Group, Placed], list[Group]]:
    """Return the groups that found room, with it, and those that didn't."""
    placed: dict[Group, Placed] = {}
    lost: list[Group] = []
    for group in groups:
        found = _room(group, pen, board)
        if found is None:
            lost.append(group)
            continue
        placed[group] = found
        for box in found[2]:
            board.take(box)
    return placed, lost


def _joined(groups: Sequence[Group], lost: Sequence[Group]) -> list[Group]:
    """Return the groups with each lost one joined to its nearest neighbour."""
    left = list(groups)
    for group in lost:
        if group not in left or len(left) < 2:
            continue
        others = [other for other in left if other is not group]
        nearest = min(others, key=lambda other: math.dist(other.spot, group.spot))
        left = [
            each.with_(group) if each is nearest else each for each in left if each is not group
        ]
    return sorted(left, key=lambda each: _rank(each.worst))


def _room(group: Group, pen: Pen, board: Board) -> Placed | None:
    """Return where a mark and its number cover no name: on the place itself, else beside it."""
    tries = list(_tries(pen, group.worst.where, group.spot))
    # Better a leader that crosses no name; one that does rather than no number.
    for at, clear in [(at, True) for at in tries] + [(at, False) for at in tries]:
        box = _mark_box(pen, at)
        if not board.free(box) or (clear and not _way_free(pen, group, at, board)):
            continue
        if not pen.look.labels:
            return at, (), [box]
        found = settle(_label(group, pen, at), pen.look.scale, board)
        if found is not None:
            texts, boxes = found
            return at, texts, [box, *boxes]
    return None


def _way_free(pen: Pen, group: Group, at: Spot, board: Board) -> bool:
    """Whether the leader to a mark, if it needs one, crosses nothing written but at its ends."""
    if _stands_on(pen, group.worst, at):
        return True
    spot = group.spot
    length = pen.mm(math.dist(spot, at))
    for step in np.arange(END_MM, length - END_MM, BETWEEN_MM):
        share = step / length
        x = pen.mm(spot[0] + (at[0] - spot[0]) * share)
        y = pen.mm(spot[1] + (at[1] - spot[1]) * share)
        if not board.free((x, y, x, y)):
            return False
    return True


def _over(group: Group, pen: Pen, board: Board) -> Placed:
    """Return a mark on its place though something is there."""
    label = _label(group, pen, group.spot)
    found = settle(label, pen.look.scale, Board()) if pen.look.labels else None
    texts, boxes = found or ((), [])
    return group.spot, texts, [_mark_box(pen, group.spot), *boxes]


def _label(group: Group, pen: Pen, at: Spot) -> Label:
    lines = number_lines([number for number, _, _ in group.members], short=pen.look.thin)
    text = Text(*at, lines[0], NUMBER_MM, "warning", bold=not group.worst.waived, halo="halo",
                weight=8.0)  # fmt: skip
    beside = MARK_MM / 2 + 0.5
    over = MARK_MM / 2 + NUMBER_MM * (0.85 + LEADING * (len(lines) - 1) / 2)
    tries = (
        (beside, 0.0, Anchor.LEFT),
        (-beside, 0.0, Anchor.RIGHT),
        (0.0, over, Anchor.CENTRE),
        (0.0, -over, Anchor.CENTRE),
    )
    return Label(text, lines, tries)


def number_lines(numbers: Sequence[str], *, short: bool = False) -> tuple[str, ...]:
    """Return numbers as written at a mark: "F1, F4–F6"; cut to the first few if `short`."""
    order = sorted(numbers, key=lambda number: (number[0], int(number[1:])))
    if short and len(order) > ON_SCREEN:
        return (f"{', '.join(order[:ON_SCREEN])} +{len(order) - ON_SCREEN}",)
    runs: list[list[str]] = []
    for number in order:
        last = runs[-1][-1] if runs else ""
        if last and last[0] == number[0] and int(last[1:]) + 1 == int(number[1:]):
            runs[-1].append(number)
        else:
            runs.append([number])
    pieces: list[str] = []
    for run in runs:
        pieces += [f"{run[0]}–{run[-1]}"] if len(run) > 2 else run
    lines = [pieces[i : i + IN_LINE] for i in range(0, len(pieces), IN_LINE)]
    tail = ["," if k + 1 < len(lines) else "" for k in range(len(lines))]
    return tuple(", ".join(line) + end for line, end in zip(lines, tail, strict=True))


def _draw(pen: Pen, group: Group, at: Spot) -> None:
    """Draw a mark, with a leader to each place it stands for but not on."""
    worst = group.worst
    for _, finding, spot in group.members:
        if not _stands_on(pen, finding, at) and math.dist(spot, at) > pen.m(MARK_MM / 2):
            pen.lines([np.array([spot, at])], Stroke("warning", 0.2), level=4)
    ink = Stroke("warning", 0.2 if worst.waived else 0.35)
    pen.stamps(MARKS[worst.severity], np.array([at]), MARK_MM, ink, Fill("paper"), level=5)


def _stands_on(pen: Pen, finding: Finding, at: Spot) -> bool:
    return bool(finding.where.distance(shapely.Point(at)) <= pen.m(0.1))


def _tries(pen: Pen, where: BaseGeometry, spot: Spot) -> Iterable[Spot]:
    yield spot
    if where.geom_type == "LineString":
        for share in ALONG:
            point = where.interpolate(share, normalized=True)
            yield float(point.x), float(point.y)
    for reach in RINGS:
        off = pen.m(MARK_MM * reach)
        for k in range(DIRECTIONS):
            turn = 2 * math.pi * k / DIRECTIONS
            yield spot[0] + off * math.cos(turn), spot[1] + off * math.sin(turn)


def _mark_box(pen: Pen, at: Spot) -> Box:
    half, east, north = MARK_MM / 2, pen.mm(at[0]), pen.mm(at[1])
    return east - half, north - half, east + half, north + half


def _spot(where: BaseGeometry) -> Spot:
    if where.is_empty:
        return 0.0, 0.0
    if where.geom_type in ("LineString", "LinearRing"):
        point = where.interpolate(0.5, normalized=True)
    else:
        point = where.representative_point()
    return float(point.x), float(point.y)
