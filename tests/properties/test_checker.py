"""After any edits a recheck gives what a fresh check gives: same findings, numbers and places."""

from __future__ import annotations

from dataclasses import dataclass, replace
from unittest import mock

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, box, multipoints, multipolygons

from canvas.base.finding import Finding
from canvas.rules import members
from canvas.rules.checker import Checker
from canvas.rules.library import rule_sets, rules_of
from canvas.rules.subject import Subject
from canvas.site.records import kind

SPECIES = ("Eucalyptus globulus", "Malus domestica", "Salix alba", "")


@dataclass(frozen=True)
class Bumpy:
    """Ground whose slope differs from place to place, unknown in the far east."""

    def slope_ratio_at(self, x_m, y_m):
        x, y = np.broadcast_arrays(np.asarray(x_m, float), np.asarray(y_m, float))
        slope = 0.25 + 0.25 * np.sin(x / 9) * np.cos(y / 11)
        return np.where(x > 75, np.nan, slope)

    def height_at(self, x_m, y_m):
        x, y = np.broadcast_arrays(np.asarray(x_m, float), np.asarray(y_m, float))
        return 5 * np.sin(x / 20) + 0.1 * y

    def mean_slope(self, geometry):
        found = float(self.slope_ratio_at(geometry.centroid.x, geometry.centroid.y))
        return None if np.isnan(found) else found

    def max_slope(self, geometry):
        found = self.mean_slope(geometry)
        return None if found is None else found * 1.2


def tree(ident: str, x: float, y: float, size: float, pick: int) -> Subject:
    stem = Point(x, y)
    crown = stem.buffer(size / 2, quad_segs=8)
    fields = {"species": SPECIES[pick], "mature_height_m": size * 1.5, "mature_crown_m": size}
    element = kind("tree").cls(id=ident, geometry=stem, clear_stem_m=size / 3, **fields)
    parts = {"shape": stem, "stem": stem, "crown": crown, "crown_mature": crown}
    return Subject(element, parts, {})


def row(ident: str, x: float, y: float, size: float, pick: int) -> Subject:
    line = LineString([(x, y), (x + 12, y + 4 * pick)])
    stems = [line.interpolate(d) for d in np.arange(0, line.length, 3.0 + pick)]
    crowns = multipolygons([stem.buffer(size / 4, quad_segs=8) for stem in stems])
    element = kind("tree_row").cls(id=ident, geometry=line, species=SPECIES[pick])
    parts = {"shape": line, "centre_line": line, "crown_mature": crowns, "crown": crowns}
    return Subject(element, {**parts, "plants": multipoints(stems)}, {"crown_mature_m": size / 2})


def hedge(ident: str, x: float, y: float, size: float, pick: int) -> Subject:
    line = LineString([(x, y), (x + 8 - 4 * pick, y + 9)])
    strip = line.buffer(0.6, cap_style="flat")
    element = kind("hedge").cls(id=ident, geometry=line, height_m=size / 4)
    parts = dict.fromkeys(("edge", "crown", "crown_mature"), strip)
    return Subject(element, {"shape": line, "centre_line": line, **parts}, {})


def house(ident: str, x: float, y: float, size: float, pick: int) -> Subject:
    wall = box(x, y, x + size, y + 6)
    use = ("dwelling", "shed", "animal_house", "dwelling")[pick]
    owner = ("ours", "ours", "ours", "neighbour")[pick]
    element = kind("building").cls(id=ident, geometry=wall, use=use, owner=owner)
    return Subject(element, {"shape": wall, "wall": wall, "eaves": wall.buffer(0.4)}, {})


def way(ident: str, x: float, y: float, size: float, pick: int) -> Subject:
    line = LineString([(x, y), (x + 30, y + 3 * size), (x + 34, y + 40)])
    key = ("track", "firebreak", "overhead_line", "fence")[pick]
    element = kind(key).cls(id=ident, geometry=line)
    band = line.buffer(1.75, cap_style="flat")
    parts = dict.fromkeys(("edge", "clear_way", "belt", "strip"), band)
    facts = {"max_grade": size / 40, "sustained_grade": size / 60, "length_m": line.length}
    return Subject(element, {"shape": line, "centre_line": line, **parts}, facts)


def place(ident: str, x: float, y: float, size: float, pick: int) -> Subject:
    point = Point(x, y)
    key = ("well", "tank", "septic_tank", "gate")[pick]
    element = kind(key).cls(id=ident, geometry=point)
    return Subject(element, {"shape": point, "body": point.buffer(1)}, {})


def patch(ident: str, x: float, y: float, size: float, pick: int) -> Subject:
    area = box(x, y, x + 2 * size, y + size)
    key = ("vegetation", "septic_field", "site_boundary", "water_body")[pick]
    fields = {"cover": "forest"} if key == "vegetation" else {}
    element = kind(key).cls(id=ident, geometry=area, **fields)
    return Subject(element, {"shape": area, "edge_line": area.boundary}, {})


MAKERS = (tree, tree, tree, row, hedge, house, way, place, patch)
NAMES = [f"e{k:02d}" for k in range(14)]
one = st.tuples(
    st.sampled_from(NAMES),
    st.sampled_from(MAKERS),
    st.floats(0, 80).map(lambda v: round(v, 2)),
    st.floats(0, 60).map(lambda v: round(v, 2)),
    st.floats(2, 12).map(lambda v: round(v, 2)),
    st.integers(0, 3),
)
edits = st.lists(
    st.lists(st.one_of(one, st.sampled_from(NAMES)), min_size=1, max_size=3), max_size=6
)


def made(entry: tuple) -> Subject:
    ident, maker, x, y, size, pick = entry
    return maker(ident, x, y, size, pick)


def plain(findings: tuple[Finding, ...]) -> list[tuple]:
    return [(replace(f, where=None), f.where.wkt) for f in findings]


@settings(max_examples=60, deadline=None)
@given(
    st.lists(one, min_size=6, max_size=14),
    edits,
    st.integers(0, 10_000),
    st.sampled_from([1, 200]),
)
def test_recheck_equals_a_fresh_check(start: list, steps: list, seed: int, late: int) -> None:
    with mock.patch.object(members, "MOST_LATE", late):
        recheck_and_compare(start, steps, seed)


def recheck_and_compare(start: list, steps: list, seed: int) -> None:
    rules = rules_of(rule_sets())
    subjects = {entry[0]: made(entry) for entry in start}
    live = Checker(rules, Bumpy())
    found = live.check(subjects)
    rng = np.random.default_rng(seed)
    waivers: dict[str, str] = {}
    for step in steps:
        changed: dict[str, Subject | None] = {
            (entry if isinstance(entry, str) else entry[0]): (
                None if isinstance(entry, str) else made(entry)
            )
            for entry in step
        }
        for ident, subject in changed.items():
            subjects.pop(ident, None)
            if subject is not None:
                subjects[ident] = subject
        if found:
            waivers = {**waivers, found[rng.integers(len(found))].key: "accepted"}
        found = live.recheck(changed, waivers)
        fresh = Checker(rules, Bumpy()).check(subjects, waivers)
        assert plain(found) == plain(fresh)
