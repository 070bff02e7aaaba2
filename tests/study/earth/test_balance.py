"""The balance of earth over a site: every cubic metre comes from somewhere and goes somewhere."""

from __future__ import annotations

import math

import drawn_site
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import box

from canvas.base.quantity import UnitSystem
from canvas.site.elements.earthworks import BorrowPit, Heap, Platform
from canvas.site.facts import Phase
from canvas.site.records import changed
from canvas.study.balance import TOPSOIL, SiteBalance, balance
from canvas.study.balance_tables import carriage
from canvas.study.book import Book
from canvas.study.earth.moved import moved
from canvas.study.haul import Place, Stock, carried
from canvas.study.schedules import schedules
from made import EAST, NORTH, plane, study_of

X, Y = EAST + 100, NORTH + 100


def pad(east: float, level: float | None = None, **more: object) -> Platform:
    """A pad 20 m x 12 m, at a given level or balanced, 0.15 m of topsoil off and none back."""
    values = {
        "geometry": box(X + east - 10, Y - 6, X + east + 10, Y + 6), "respread_m": 0.0,
        "level": "balanced" if level is None else "set", "level_m": level,
    }  # fmt: skip
    return Platform(**(values | more))  # type: ignore[arg-type]


def facts(study: object, item: object) -> dict[str, float]:
    return {f.key: f.value for f in reversed(study.facts(item.id))}  # type: ignore[attr-defined]


def test_one_pads_spoil_fills_the_next_pad() -> None:
    """A pad 1 m into flat ground beside one 0.5 m above it, 60 m on."""
    low, high = pad(-30, 99.0), pad(30, 100.5)
    study = study_of(low, high, grid=plane(slope_north=0.0))
    found = balance(study)
    line = found.whole.line("earth")
    assert line is not None
    dug, filled = facts(study, low), facts(study, high)
    assert line.cut_m3 == pytest.approx(dug["cut_m3"] + filled["cut_m3"])
    assert line.fill_m3 == pytest.approx(dug["fill_m3"] + filled["fill_m3"])
    assert line.fill_bank_m3 == pytest.approx(line.fill_m3 / 0.9)
    assert line.cut_loose_m3 == pytest.approx(1.25 * line.cut_m3)
    assert line.brought_in_m3 == pytest.approx(0.0)
    assert line.taken_away_m3 == pytest.approx(line.cut_m3 - line.fill_bank_m3)
    move = max(found.whole.moves, key=lambda m: m.bank_m3 if m.kind == "earth" else 0)
    assert (move.from_ident, move.to_ident) == (low.id, high.id)
    assert move.distance_m == pytest.approx(60.0, abs=0.5)
    assert move.bank_m3 == pytest.approx(filled["fill_m3"] / 0.9, rel=1e-6)
    assert found.whole.haul_m4 == pytest.approx(
        sum(m.bank_m3 * m.distance_m for m in found.whole.moves)
    )
    soil = found.whole.line(TOPSOIL)
    assert soil is not None
    assert soil.cut_m3 == pytest.approx(dug["topsoil_off_m3"] + filled["topsoil_off_m3"])
    assert soil.taken_away_m3 == pytest.approx(soil.cut_m3)


def test_topsoil_goes_to_its_heap_as_far_as_it_holds() -> None:
    low = pad(-30, 99.0)
    heap = Heap(geometry=box(X + 20, Y - 8, X + 44, Y + 8), height_m=2.0, batter=1.5)
    study = study_of(low, heap, grid=plane(slope_north=0.0))
    found = balance(study)
    soil = found.whole.line(TOPSOIL)
    assert soil is not None
    assert soil.onto_heaps_m3 == pytest.approx(soil.cut_m3)
    assert found.heaps[0].used_m3 == pytest.approx(1.25 * soil.cut_m3)
    assert found.heaps[0].holds_m3 == pytest.approx(facts(study, heap)["holds_m3"])
    small = changed(heap, geometry=box(X + 20, Y - 3, X + 26, Y + 3), height_m=1.0)
    found = balance(study.moved(study.plan.with_(small)))
    soil = found.whole.line(TOPSOIL)
    assert soil is not None
    assert found.heaps[0].used_m3 == pytest.approx(found.heaps[0].holds_m3)
    assert soil.taken_away_m3 == pytest.approx(soil.cut_m3 - soil.onto_heaps_m3)
    assert soil.taken_away_m3 > 0


def test_what_a_phase_heaps_a_later_phase_may_fill_with() -> None:
    first, second = Phase(id="1", name="Dig", place=1), Phase(id="2", name="Fill", place=2)
    low, high = pad(-30, 99.0, phase="1"), pad(30, 100.5, phase="2")
    heap = Heap(geometry=box(X - 20, Y + 20, X + 20, Y + 50), height_m=3.0, what="spoil", phase="1")
    study = study_of(first, second, low, high, heap, grid=plane(slope_north=0.0))
    found = balance(study)
    assert [row.name for row in found.phases] == ["Dig", "Fill"]
    dig, fill = (row.line("earth") for row in found.phases)
    assert dig is not None
    assert fill is not None
    assert dig.onto_heaps_m3 == pytest.approx(dig.cut_m3 - dig.fill_bank_m3)
    assert fill.from_heaps_m3 == pytest.approx(fill.fill_bank_m3 - fill.used_m3, rel=1e-6)
    assert fill.brought_in_m3 == pytest.approx(0.0)
    # With the phases the other way round nothing is there yet to fill with.
    back = study.moved(study.plan.with_(changed(first, place=3)))
    fill = balance(back).phases[0].line("earth")
    assert fill is not None
    assert fill.from_heaps_m3 == 0
    assert fill.brought_in_m3 > 0


def test_borrow_pits_give_what_lacks_and_no_other_earth() -> None:
    high = pad(30, 101.0)
    pit = BorrowPit(geometry=box(X - 60, Y - 15, X - 20, Y + 15), depth_m=2.0, soil="earth")
    clay = BorrowPit(geometry=box(X + 50, Y - 15, X + 70, Y + 15), depth_m=2.0, soil="clay")
    study = study_of(high, pit, clay, grid=plane(slope_north=0.0))
    found = balance(study)
    line = found.whole.line("earth")
    assert line is not None
    assert line.from_pits_m3 == pytest.approx(line.fill_bank_m3 - line.used_m3, rel=1e-6)
    assert line.brought_in_m3 == pytest.approx(0.0)
    used = {each.ident: each.used_m3 for each in found.pits}
    assert used[clay.id] == 0
    assert used[pit.id] == pytest.approx(line.from_pits_m3)
    # The pits' own topsoil is stripped and in part put back.
    soil = found.whole.line(TOPSOIL)
    assert soil is not None
    assert soil.cut_m3 > 0.15 * (40 * 30 + 20 * 30) * 0.98


def test_what_exists_moves_nothing_and_what_fails_is_named() -> None:
    there = pad(-30, 99.0, status="existing")
    never = changed(pad(30), level="set")
    study = study_of(there, never, grid=plane(slope_north=0.0))
    found = balance(study)
    assert found.whole.lines == ()
    assert found.whole.works == 0
    assert found.left_out[0][0] == never.id


def test_bare_ground_is_what_is_opened_and_not_laid_over() -> None:
    open_, laid = pad(-30, 99.0), pad(30, 99.0, surfacing_m=0.1)
    study = study_of(open_, laid, grid=plane(slope_north=0.0))
    whole = balance(study).whole
    both = facts(study, open_)["moved_m2"] + facts(study, laid)["moved_m2"]
    assert whole.bare_m2 == pytest.approx(both - 240, rel=0.01)
    assert whole.laid_m3 == pytest.approx(24.0, rel=0.01)


@given(
    st.lists(st.floats(0, 500), min_size=1, max_size=5),
    st.lists(st.floats(0, 500), min_size=1, max_size=5),
    st.floats(0, 300),
    st.floats(0, 300),
    st.floats(1.1, 1.5),
)
@settings(max_examples=60, deadline=None)
def test_every_cubic_metre_is_accounted_for(
    cuts: list[float], fills: list[float], room: float, pit: float, loose: float
) -> None:
    heap = Stock("heap", "spoil", (0, 50), room)
    heap.put("earth", room / loose / 2, loose)
    hole = Stock("pit", "earth", (90, 0), pit, pit)
    had = heap.holds("earth")
    done = carried(
        "earth",
        [Place(f"w{i}", (10.0 * i, 0.0), v) for i, v in enumerate(cuts)],
        [Place(f"w{i}", (10.0 * i, 7.0), v) for i, v in enumerate(fills)],
        [heap],
        [hole],
        loose,
    )
    slack = 1e-4
    used = sum(cuts) - done.onto_heaps_m3 - done.left_m3
    assert used >= -slack
    got = used + done.from_heaps_m3 + done.from_pits_m3 + done.lacking_m3
    assert got == pytest.approx(sum(fills), abs=slack)
    assert heap.holds("earth") == pytest.approx(
        had + done.onto_heaps_m3 - done.from_heaps_m3, abs=slack
    )
    assert heap.loose_m3 <= room + slack
    assert pit - hole.bank_m3 == pytest.approx(done.from_pits_m3, abs=slack)
    assert min(done.left_m3, done.lacking_m3) <= slack
    assert sum(m.bank_m3 for m in done.moves) == pytest.approx(
        used + done.from_heaps_m3 + done.from_pits_m3 + done.onto_heaps_m3, abs=slack
    )


def test_the_answer_is_kept_while_nothing_moves() -> None:
    low = pad(-30, 99.0)
    study = study_of(low, grid=plane(slope_north=0.0))
    first: SiteBalance = balance(study)
    renamed = study.moved(study.plan.with_(Phase(id="9", name="Later", place=9)))
    assert balance(study) is first
    assert balance(renamed) is not first


def test_loads_are_counted_whole_as_carried() -> None:
    """1000 m³ dug of sand less what is used, x 1.11, by lorries of 7 m³; any rest is a load."""
    low = pad(-30, 98.0, soil="sand")
    study = study_of(low, grid=plane(slope_north=0.0))
    row = balance(study).whole
    away = row.line("sand").away_loose_m3 + row.line(TOPSOIL).away_loose_m3  # type: ignore[union-attr]
    told = carriage(Book(study, UnitSystem.METRIC), row).replace("\xa0", " ")
    assert f"({math.ceil(away / 7)} loads of 7 m³)" in told
    assert "0 m³ to bring in" in told


def test_sheets_print_the_works_and_the_whole_sites_balance() -> None:
    low = pad(-30, 99.0, name="Yard")
    study = study_of(low, grid=plane(slope_north=0.0))
    found = {table.title: table for table in schedules(study, UnitSystem.METRIC)}
    works = found["Earthworks: indicative, level on site"]
    assert works.lines[0].cells[:2] == ("Yard · proposed", "99.00\xa0m")
    cut = f"{facts(study, low)['cut_m3']:.0f}\xa0m³"
    assert works.lines[0].cells[2] == cut
    earth = found["Earth balance: All phases"]
    assert [line.cells[0] for line in earth.lines] == ["Topsoil", "Common earth (loam)"]
    assert earth.lines[1].cells[1] == cut
    assert not any("arth" in table.title for table in schedules(study_of(), UnitSystem.METRIC))


def test_a_dam_and_a_swale_have_their_level_and_earth_among_the_works() -> None:
    """A dam's fill is what is placed, a swale's lip its level: as the balance has them."""
    study = drawn_site.study(0)
    found = {table.title: table for table in schedules(study, UnitSystem.METRIC)}
    rows = {
        line.cells[0]: line.cells for line in found["Earthworks: indicative, level on site"].lines
    }
    for kind, level, word in (("dam", "crest_m", "crest"), ("swale", "lip_m", "lip")):
        item, work = next(
            (item, work) for work in study.works()
            if work.key == kind and work.patches and (item := study.plan.element(work.ident))
        )  # fmt: skip
        cells = next(cells for name, cells in rows.items() if name.startswith(item.name + " ·"))
        told = facts(study, item)
        assert cells[1].replace("\xa0", " ") == f"{word} {told[level]:.2f} m"
        filled = told["earth_m3"] if kind == "dam" else told["placed_m3"]
        number = float(cells[3].split("\xa0m")[0].replace("\xa0", "").replace("\u202f", ""))
        assert number == pytest.approx(moved(item, work).earth.fill_m3, abs=0.51)
        assert filled == pytest.approx(moved(item, work).earth.fill_m3, rel=0.01)


def test_every_kind_of_work_counts_as_its_own_facts_have_it() -> None:
    """The made-up site with all kinds: what each card tells is what the balance adds up."""
    study = drawn_site.study(0)
    told = 0
    for work in study.works():
        if not work.patches:
            continue
        item = study.plan.element(work.ident)
        found, said = moved(item, work).earth, facts(study, item)
        for key in ("fill_m3", "topsoil_off_m3"):
            want = said.get("placed_m3", said.get(key)) if key == "fill_m3" else said.get(key)
            if isinstance(want, float) and work.key not in ("heap", "dam"):
                assert getattr(found, key) == pytest.approx(want, rel=0.01, abs=0.1), work.key
                told += 1
        if work.key == "dam":
            assert found.fill_m3 == pytest.approx(said["earth_m3"], rel=0.01)
    assert told > 14
    whole = balance(study).whole
    ours = [w for w in study.works() if study.plan.element(w.ident).status in ("proposed", "built")]
    all_of = [moved(study.plan.element(w.ident), w) for w in ours if w.patches]
    digs = [m for m, w in zip(all_of, [w for w in ours if w.patches], strict=True)
            if w.key not in ("heap", "borrow_pit")]  # fmt: skip
    assert sum(line.cut_m3 for line in whole.lines if line.key != TOPSOIL) == pytest.approx(
        sum(m.earth.cut_m3 for m in digs)
    )
