"""A site that is open: edits, undo, restart, one writer at a time."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest
from shapely.geometry import LineString, Point, Polygon

from canvas.base.errors import BadData, InputError, SiteReadOnly, StoreTrouble
from canvas.site.edits import Change, Edit, add, put, remove
from canvas.site.elements.access import Track
from canvas.site.elements.land import Zone
from canvas.site.elements.vegetation import Tree
from canvas.site.facts import Phase, Site
from canvas.site.records import changed, element_kinds, kind_of, kinds
from canvas.site.session import Session, Touched
from canvas.site.store import journal

SQUARE = Polygon([(0, 0), (10, 0), (10, 10), (0, 10)], [[(2, 2), (2, 3), (3, 3)]])


def moved(session: Session, ident: str, x: float, key: str | None = None) -> Touched:
    before = session.plan.element(ident)
    return session.apply(
        put("Move", [(before, changed(before, geometry=Point(x, 0)))], merge_key=key)
    )


def test_what_is_applied_is_there_after_a_restart(session: Session) -> None:
    records = [
        Tree(geometry=Point(600_000.123456789, 5_800_000.1), name="Öl‘x\n√", height_m=7),
        Track(geometry=LineString([(0, 0), (3, 4)]), width_m=1 / 3 + 2, fire_access=False),
        Zone(geometry=SQUARE, phase="first"),
    ]
    session.apply(add("Draw", records))
    session.apply(remove("Clear", [records[0]]))
    plan, steps, revision = session.plan, session.undo_steps(), session.revision
    saved_at = session.saved_at
    session.close()
    with Session.open(session.folder) as again:
        assert again.plan == plan
        assert again.undo_steps() == steps
        assert (again.revision, again.saved_at, again.notices) == (revision, saved_at, ())
        undone = again.undo()
        assert undone is not None
        assert undone.ids == {records[0].id}
        assert again.plan.get(records[0].id) == records[0]


def test_every_kind_comes_back_with_every_value(session: Session) -> None:
    shapes = {"Point": Point(1, 2), "LineString": LineString([(0, 0), (1, 2)]), "Polygon": SQUARE}
    made = [
        kind.cls(**({"geometry": shapes[kind.geometry]} if kind.geometry else {}))
        for kind in kinds().values()
        if kind.cls is not Site
    ]
    session.apply(add("One of each", made))
    plan = session.plan
    session.close()
    with Session.open(session.folder) as again:
        assert again.plan == plan
        assert {kind_of(item).key for item in again.plan} == set(kinds())
        for item in made:
            assert again.plan.get(item.id) == item


def test_undo_and_redo_outlive_restarts(session: Session) -> None:
    plans = [session.plan]
    for x in range(4):
        session.apply(add(f"Plant {x}", [Tree(geometry=Point(x, x))]))
        plans.append(session.plan)
    for expected in reversed(plans[:-1]):
        session.close()
        session = Session.open(session.folder)
        assert session.undo() is not None
        assert session.plan == expected
    assert session.undo() is None
    for expected in plans[1:]:
        session.close()
        session = Session.open(session.folder)
        assert session.redo() is not None
        assert session.plan == expected
    assert session.redo() is None
    session.close()


def test_a_new_edit_ends_what_could_be_redone(session: Session) -> None:
    session.apply(add("A", [Tree(geometry=Point(0, 0))]))
    session.undo()
    assert [step.label for step in session.redo_steps()] == ["A"]
    session.apply(add("B", [Tree(geometry=Point(1, 1))]))
    assert session.redo_steps() == []
    assert [step.label for step in session.past_steps()] == ["B"]


def test_edits_of_one_key_are_one_step_in_the_journal_too(session: Session) -> None:
    tree = Tree(geometry=Point(0, 0))
    session.apply(add("Plant", [tree]))
    for x in (1, 2, 3):
        moved(session, tree.id, x, "nudge")
    assert [step.label for step in session.undo_steps()] == ["Move", "Plant"]
    session.release()
    moved(session, tree.id, 4, "nudge")
    session.close()
    with Session.open(session.folder) as again:
        assert len(again.undo_steps()) == 3
        again.undo()
        assert again.plan.element(tree.id).geometry == Point(3, 0)
        again.undo()
        assert again.plan.element(tree.id).geometry == Point(0, 0)
        again.redo()
        moved(again, tree.id, 9, "nudge")
        assert len(again.undo_steps()) == 3, "a redo and a restart end joining"


def test_a_nudge_there_and_back_leaves_no_step(session: Session) -> None:
    tree = Tree(geometry=Point(0, 0))
    session.apply(add("Plant", [tree]))
    moved(session, tree.id, 1, "nudge")
    moved(session, tree.id, 0, "nudge")
    moved(session, tree.id, 5, "nudge")
    assert [step.label for step in session.undo_steps()] == ["Move", "Plant"]
    session.undo()
    moved(session, tree.id, 1, "nudge")
    moved(session, tree.id, 0, "nudge")
    session.close()
    with Session.open(session.folder) as again:
        assert [step.label for step in again.undo_steps()] == ["Plant"]
        assert again.undo() is not None
        assert again.plan.get(tree.id) is None


def test_listeners_hear_what_was_touched(session: Session) -> None:
    heard: list[Touched] = []
    session.listeners.append(heard.append)
    tree = Tree(geometry=Point(0, 0))
    before = session.plan
    returned = session.apply(add("Plant", [tree]))
    after = session.plan
    session.undo()
    session.redo()
    assert [(t.what, t.label, t.ids) for t in heard] == [
        ("apply", "Plant", {tree.id}),
        ("undo", "Plant", {tree.id}),
        ("redo", "Plant", {tree.id}),
    ]
    assert heard[0] is returned
    assert (heard[1].before, heard[1].after) == (after, before)
    assert session.revision == 3
    session.apply(Edit("Nothing", ()))
    assert (len(heard), session.revision, len(session.undo_steps())) == (3, 3, 1)


def test_an_edit_may_change_a_record_twice_or_turn_it_into_another_kind(session: Session) -> None:
    tree = Tree(geometry=Point(0, 0))
    named = changed(tree, name="Oak")
    session.apply(Edit("Plant and name", (Change(None, tree), Change(tree, named))))
    note = element_kinds()["note"].cls(id=tree.id, geometry=Point(0, 0))
    session.apply(Edit("Turn into a note", (Change(named, note),)))
    session.close()
    with Session.open(session.folder) as again:
        assert again.plan.get(tree.id) == note
        again.undo()
        assert again.plan.get(tree.id) == named
        again.undo()
        assert again.plan.get(tree.id) is None


def test_an_edit_that_does_not_start_from_the_plan_changes_nothing(session: Session) -> None:
    tree = Tree(geometry=Point(0, 0))
    with pytest.raises(InputError):
        session.apply(remove("Clear", [tree]))
    with pytest.raises(InputError, match="site itself"):
        session.apply(remove("Everything", [session.plan.site]))
    assert session.undo_steps() == []


def test_one_thread_only(session: Session) -> None:
    found: list[BaseException] = []

    def other() -> None:
        for act in (session.undo, session.release, session.close):
            try:
                act()
            except InputError as error:
                found.append(error)

    thread = threading.Thread(target=other)
    thread.start()
    thread.join()
    assert len(found) == 3
    assert "thread" in str(found[0])


def test_a_closed_session_refuses(session: Session) -> None:
    session.close()
    session.close()
    with pytest.raises(InputError, match="closed"):
        session.undo()


def test_a_second_opening_is_read_only_until_the_first_closes(session: Session) -> None:
    session.apply(add("Plant", [Tree(geometry=Point(0, 0))]))
    with Session.open(session.folder) as second:
        assert second.readonly
        assert "open elsewhere" in second.readonly_reason
        assert second.plan == session.plan
        assert second.undo_steps() == session.undo_steps()
        for act in (
            lambda: second.apply(add("Plant", [Tree(geometry=Point(1, 1))])),
            second.undo,
            second.redo,
            second.tidy,
            lambda: second.adopt(session.folder / "site.gpkg"),
        ):
            with pytest.raises(SiteReadOnly, match="reading only"):
                act()
    session.apply(add("Plant", [Tree(geometry=Point(2, 2))]))
    session.close()
    with Session.open(session.folder) as third:
        assert not third.readonly
        assert third.readonly_reason == ""
    with Session.open(session.folder, readonly=True) as fourth:
        assert fourth.readonly_reason == "Opened for reading only."


def test_start_refuses_a_folder_that_holds_a_site(session: Session, site: Site) -> None:
    with pytest.raises(SiteReadOnly, match="open elsewhere"):
        Session.start(session.folder, site)
    session.close()
    before = (session.folder / "site.gpkg").read_bytes()
    with pytest.raises(StoreTrouble, match="already"):
        Session.start(session.folder, site)
    assert (session.folder / "site.gpkg").read_bytes() == before


@pytest.mark.parametrize(
    ("crs", "why"),
    [
        ("EPSG:999999", "nobody knows"),
        ("", "nobody knows"),
        ("rubbish, quite", "nobody knows"),
        ("EPSG:4326", "not a projected"),
        ("EPSG:2227", "not in metres"),
    ],
)
def test_a_crs_no_site_can_stand_on_is_refused(
    tmp_path: Path, session: Session, crs: str, why: str
) -> None:
    with pytest.raises(BadData, match=why) as caught:
        Session.start(tmp_path / "other", Site(crs=crs))
    assert "EPSG:7854" in caught.value.remedy
    assert not (tmp_path / "other").exists()
    before = session.plan.site
    with pytest.raises(BadData, match=why):
        session.apply(put("Change CRS", [(before, changed(before, crs=crs))]))
    assert session.plan.site == before
    assert session.undo_steps() == []


def test_open_names_a_folder_without_a_site(tmp_path: Path) -> None:
    assert not Session.is_site(tmp_path)
    with pytest.raises(StoreTrouble, match="no site here") as caught:
        Session.open(tmp_path)
    assert str(tmp_path) in str(caught.value)
    assert list(tmp_path.iterdir()) == []


def test_a_site_may_be_named_by_its_file(tmp_path: Path, site: Site) -> None:
    with Session.start(tmp_path / "uphill.gpkg", site) as made:
        assert made.folder == tmp_path
    assert Session.is_site(tmp_path / "uphill.gpkg")
    assert not Session.is_site(tmp_path)
    with Session.open(tmp_path / "uphill.gpkg") as again:
        assert again.plan.site == site


def test_the_file_is_written_through_to_the_disk(session: Session) -> None:
    con = session._store._con
    assert con.execute("PRAGMA journal_mode").fetchone() == ("delete",)
    # 2 is FULL; 3, EXTRA, also flushes the folder once the rollback journal is gone.
    # Source: sqlite.org, pragma.html#pragma_synchronous (read).
    assert con.execute("PRAGMA synchronous").fetchone() == (3,)
    assert con.execute("PRAGMA fullfsync").fetchone() == (1,)
    assert con.execute("PRAGMA locking_mode").fetchone() == ("normal",)


def test_the_journal_is_trimmed_by_size(session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(journal, "LIMIT_BYTES", 20_000)
    tree = Tree(geometry=Point(0, 0))
    session.apply(add("Plant", [tree]))
    for x in range(1, 200):
        moved(session, tree.id, x)
    left = len(session.undo_steps())
    assert 20 < left < 80
    assert len(session.past_steps()) == left
    session.close()
    with Session.open(session.folder) as again:
        assert len(again.undo_steps()) == left
        while again.undo():
            pass
        assert again.plan.element(tree.id).geometry == Point(199 - left, 0)
        while again.redo():
            pass
        assert again.plan.element(tree.id).geometry == Point(199, 0)


def test_one_step_bigger_than_the_journal_can_still_be_undone(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(journal, "LIMIT_BYTES", 1)
    session.apply(add("A", [Tree(geometry=Point(0, 0))]))
    before = session.plan
    session.apply(add("Many", [Tree(geometry=Point(x, 1)) for x in range(500)]))
    assert [step.label for step in session.undo_steps()] == ["Many"]
    session.undo()
    assert session.plan == before


def test_records_without_a_place_are_edited_like_any_other(session: Session) -> None:
    phase = session.plan.get("first")
    assert isinstance(phase, Phase)
    later = changed(phase, place=3, starts="2027-05-01")
    session.apply(put("Move phase", [(phase, later)]))
    session.close()
    with Session.open(session.folder) as again:
        assert again.plan.phases() == [later]
        again.undo()
        assert again.plan.phases() == [phase]
