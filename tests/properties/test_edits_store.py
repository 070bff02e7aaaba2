"""Random edits on a real file: undo leads back, redo forth, and a restart changes nothing."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData
from canvas.site.edits import Change, Edit
from canvas.site.facts import Site
from canvas.site.fields import FieldSpec, FieldType
from canvas.site.plan import Plan
from canvas.site.records import Kind, Record, changed, kind_of, kinds
from canvas.site.session import Session

#: Kinds to make; rasters are left to the tests that have files.
KEYS = ("tree", "track", "zone", "building", "note", "phase", "waiver")
PLACE = st.floats(-1e7, 1e7, allow_nan=False).map(lambda x: x + 0.0)
WORDS = st.text(st.characters(codec="utf-8"), max_size=12)


def value(spec: FieldSpec) -> st.SearchStrategy[object]:
    """Anything a field may hold."""
    low, high = max(spec.low, -1e12), min(spec.high, 1e12)
    if spec.type is FieldType.NUMBER:
        known: st.SearchStrategy[object] = st.floats(low, high)
        return known | st.none() if spec.default is None else known
    if spec.type is FieldType.INTEGER:
        known = st.integers(int(low), int(high))
        return known | st.none() if spec.default is None else known
    if spec.type is FieldType.FLAG:
        return st.booleans()
    if spec.type is FieldType.CHOICE:
        return st.sampled_from([choice.value for choice in spec.choices])
    if spec.type is FieldType.DATE:
        return st.just("") | st.dates().map(str)
    return WORDS


@st.composite
def shape(draw: st.DrawFn, wanted: str) -> BaseGeometry:
    x, y = draw(PLACE), draw(PLACE)
    if wanted == "Point":
        return Point(x, y)
    a, b = draw(st.floats(1, 500)), draw(st.floats(1, 500))
    if wanted == "LineString":
        return LineString([(x, y), (x + a, y - b), (x + 2 * a, y)])
    return Polygon([(x, y), (x + a, y), (x + a, y + b), (x, y + b)])


@st.composite
def fresh(draw: st.DrawFn, kind: Kind) -> Record:
    names = draw(st.sets(st.sampled_from([spec.name for spec in kind.specs])))
    values = {name: draw(value(kind.spec(name))) for name in sorted(names)}
    if kind.geometry:
        values["geometry"] = draw(shape(kind.geometry))
    return made(kind, values)


def made(kind: Kind, values: dict[str, object]) -> Record:
    """A record of these values; of fewer where the kind won't have them together."""
    try:
        return kind.cls(**values)
    except BadData:
        kept = {name: v for name, v in values.items() if name == "geometry"}
        return kind.cls(**kept)


@st.composite
def edit(draw: st.DrawFn, plan: Plan) -> Edit:
    changes = []
    for _ in range(draw(st.integers(1, 3))):
        changes.append(Change(None, draw(fresh(kinds()[draw(st.sampled_from(KEYS))]))))
    there = [item for item in plan if not isinstance(item, Site)]
    picked = draw(st.lists(st.sampled_from(there), unique_by=lambda i: i.id)) if there else []
    for item in picked:
        if draw(st.booleans()):
            changes.append(Change(item, None))
            continue
        spec = draw(st.sampled_from(kind_of(item).specs))
        try:
            changes.append(Change(item, changed(item, **{spec.name: draw(value(spec))})))
        except BadData:
            changes.append(Change(item, None))
    if draw(st.booleans()):
        changes = changes[:1]
    return Edit(draw(WORDS), tuple(changes), draw(st.sampled_from([None, None, "a", "b"])))


@settings(
    max_examples=30,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(data=st.data())
def test_edits_lead_there_and_back(data: st.DataObject) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        session = Session.start(folder, Site(name="Made up", crs="EPSG:32629"))
        start = session.plan
        for _ in range(data.draw(st.integers(1, 8), "steps")):
            act = data.draw(st.sampled_from(["edit"] * 4 + ["undo", "redo", "release", "reopen"]))
            if act == "edit":
                session.apply(data.draw(edit(session.plan)))
            elif act == "reopen":
                plan, steps = session.plan, (session.undo_steps(), session.redo_steps())
                session.close()
                session = Session.open(folder)
                assert session.notices == ()
                assert session.plan == plan
                assert (session.undo_steps(), session.redo_steps()) == steps
            else:
                getattr(session, act)()
        end, redo = session.plan, len(session.redo_steps())
        while session.undo():
            pass
        assert session.plan == start
        session.close()
        session = Session.open(folder)
        assert session.plan == start
        while len(session.redo_steps()) > redo:
            session.redo()
        assert session.plan == end
        session.close()
        with Session.open(folder) as again:
            assert again.notices == ()
            assert again.plan == end
