"""One symbol for every kind; status and owner never by colour alone."""

from __future__ import annotations

import dataclasses

import drawn_site
import numpy as np
import pytest
import shapely

from canvas.drawing.build import Look, element_entries, plan_layers
from canvas.drawing.designs import DESIGNS
from canvas.drawing.entries import Areas, Lines, Stamps, Text
from canvas.drawing.palette import PALETTES
from canvas.drawing.symbols import registry
from canvas.drawing.symbols.habit import crown_design
from canvas.site.records import changed, element_kinds, kind_of
from canvas.study.codes import codes, short_code

STATUSES = ("existing", "remove", "proposed", "built", "gone")
OWNERS = ("ours", "neighbour", "public")
LOOK = Look(scale=500, palette="paper", year=8)
#: Kinds whose line pattern says who owns or uses them, whatever the owner field holds.
OWN_PATTERN = {"zone", "note", "dimension", "survey_mark", "site_boundary", "parcel"}


def one_of(study, key):
    return study.plan.of_kind(key)[0]


def inkless(entries):
    """Return everything about entries that is left when colour is taken away."""
    seen = []
    for entry in entries:
        match entry:
            case Lines(stroke=s):
                seen.append(("line", s.width_mm, s.dash_mm))
            case Areas(fill=f, stroke=s):
                plain = f and (f.hatch, f.angle_deg, f.gap_mm, f.line_mm, f.alpha)
                seen.append(("area", plain, s and (s.width_mm, s.dash_mm)))
            case Stamps(symbol=name, stroke=s, fill=f):
                seen.append(("stamp", name, s and (s.width_mm, s.dash_mm), f and f.alpha))
            case Text():
                pass
    return tuple(seen)


def test_every_kind_has_a_symbol():
    assert registry.missing() == []


def test_the_site_drawn_here_holds_every_kind(whole):
    assert {kind_of(item).key for item in whole.plan.elements()} == set(element_kinds())


@pytest.mark.parametrize("key", list(element_kinds()))
def test_every_kind_draws_something_with_inks_there_are(whole, key):
    item = one_of(whole, key)
    entries = element_entries(whole, item, LOOK)
    assert entries
    for entry in entries:
        for part in (getattr(entry, "stroke", None), getattr(entry, "fill", None)):
            assert part is None or part.role in PALETTES["paper"]
        if isinstance(entry, Text):
            assert entry.role in PALETTES["paper"]
        if isinstance(entry, Stamps):
            assert entry.symbol in DESIGNS
            assert np.isfinite(entry.xy).all()
            assert (np.asarray(entry.size) > 0).all()


@pytest.mark.parametrize("key", list(element_kinds()))
def test_what_is_to_be_removed_is_crossed_out(whole, key):
    item = changed(one_of(whole, key), status="remove")
    entries = element_entries(whole, item, LOOK)
    assert any(isinstance(e, Stamps) and e.symbol == "cross" for e in entries), key


@pytest.mark.parametrize(
    "key", ["building", "fence", "tree", "tank", "hedge", "garden_bed", "well"]
)
def test_statuses_differ_without_colour(whole, key):
    item = one_of(whole, key)
    drawn = {s: inkless(element_entries(whole, changed(item, status=s), LOOK)) for s in STATUSES}
    # A well or a bed once built is drawn like one proposed but for its weight or mark.
    distinct = set(drawn.values())
    wanted = 5 if key in ("building", "tree") else 4
    assert len(distinct) >= wanted, drawn


@pytest.mark.parametrize("key", ["building", "fence", "tree"])
def test_owners_differ_without_colour(whole, key):
    item = changed(one_of(whole, key), status="existing")
    drawn = {inkless(element_entries(whole, changed(item, owner=o), LOOK)) for o in OWNERS}
    assert len(drawn) == 3


def test_crown_is_drawn_at_true_size_with_a_ring_for_maturity(whole):
    tree = next(t for t in whole.plan.of_kind("tree") if t.status == "proposed")
    crown = next(f.value for f in whole.facts(tree.id) if f.key == "crown_m")
    stamps = [e for e in element_entries(whole, tree, LOOK) if isinstance(e, Stamps)]
    now = next(e for e in stamps if e.symbol.startswith("crown") and e.symbol != "crown_ring")
    ring = next(e for e in stamps if e.symbol == "crown_ring")
    assert now.on_ground
    assert ring.on_ground
    assert float(now.size[0]) == pytest.approx(crown, rel=1e-6)
    assert float(ring.size[0]) == pytest.approx(tree.mature_crown_m, rel=1e-6)


@pytest.mark.parametrize("name", [n for n in DESIGNS if n.startswith("crown")] + ["tank", "ring"])
def test_designs_with_a_true_size_are_exactly_one_across(name):
    reach = 0.0
    for shape in DESIGNS[name]:
        far = np.hypot(shape.points[:, 0], shape.points[:, 1]) + shape.radius
        reach = max(reach, float(far.max()))
    assert reach == pytest.approx(0.5, abs=1e-9)


def test_ten_thousand_trees_are_a_handful_of_entries():
    study = drawn_site.study(2000)
    layer = next(x for x in plan_layers(study, LOOK) if x.key == "tree")
    assert len(layer.entries) < 120
    crowns = [e for e in layer.entries if e.symbol.startswith("crown") and e.symbol != "crown_ring"]
    assert sum(len(e.xy) for e in crowns) == 2000
    assert sum(len(e.ids) for e in crowns) == 2000


def test_layers_keep_their_order(whole):
    keys = [layer.key for layer in plan_layers(whole, LOOK)]
    assert keys.index("zone") < keys.index("water_body") < keys.index("building")
    assert keys.index("building") < keys.index("site_boundary") < keys.index("note")
    assert keys[-1] == "labels"


def test_hidden_kinds_and_phases_stay_off(whole):
    look = dataclasses.replace(LOOK, hidden_kinds=frozenset({"tree", "zone"}))
    keys = {layer.key for layer in plan_layers(whole, look)}
    assert not keys & {"tree", "zone"}
    none = plan_layers(whole, dataclasses.replace(LOOK, hidden_phases=frozenset({""})))
    assert none == ()


def test_bounds_leave_out_what_is_elsewhere(whole):
    house = whole.plan.element("house").geometry
    near = house.buffer(3).bounds
    everything = {layer.key for layer in plan_layers(whole, LOOK)}
    some = {layer.key for layer in plan_layers(whole, LOOK, near)}
    assert "building" in some
    assert "public_road" in everything - some


def test_an_element_not_in_the_plan_is_drawn_like_one_that_is(whole):
    house = whole.plan.element("house")
    moved = changed(house, id="ghost", geometry=shapely.affinity.translate(house.geometry, 5, 5))
    entries = element_entries(whole, moved, LOOK)
    assert inkless(entries) == inkless(element_entries(whole, house, LOOK))
    assert "ghost" not in whole.plan


def test_dimension_says_what_the_study_says(whole):
    for item in whole.plan.of_kind("dimension"):
        written = next(f for f in whole.facts(item.id) if f.key == "written_m")
        words = [e.words for e in element_entries(whole, item, LOOK) if isinstance(e, Text)]
        assert any(w.startswith(written.shown()) for w in words)
        assert any("slope" in w for w in words) == (item.basis == "ground")


def test_a_flowing_stream_swells_and_points_downstream(whole):
    creek = next(w for w in whole.plan.of_kind("watercourse") if w.name == "Dry Creek")
    entries = element_entries(whole, creek, LOOK)
    lines = [e for e in entries if isinstance(e, Lines) and e.stroke.dash_mm]
    weights = [e.stroke.width_mm for e in lines]
    assert weights == sorted(weights)
    assert len(set(weights)) > 1
    arrows = next(e for e in entries if isinstance(e, Stamps) and e.symbol == "flow")
    line = creek.geometry
    for xy, turn in zip(arrows.xy, arrows.turn_deg, strict=True):
        here = line.project(shapely.Point(xy))
        a, b = line.interpolate(here - 0.5), line.interpolate(here + 0.5)
        bearing = np.degrees(np.arctan2(b.x - a.x, b.y - a.y)) % 360
        assert abs((bearing - turn + 180) % 360 - 180) < 1


def test_buried_services_carry_their_letter(whole):
    cable = next(s for s in whole.plan.of_kind("buried_service") if s.service == "power")
    texts = [e for e in element_entries(whole, cable, LOOK) if isinstance(e, Text)]
    letters = [t for t in texts if t.words == "E"]
    assert letters
    gapped = next(e for e in element_entries(whole, cable, LOOK) if isinstance(e, Lines))
    drawn = shapely.MultiLineString([list(map(tuple, p)) for p in gapped.paths])
    for letter in letters:
        assert drawn.distance(shapely.Point(letter.x, letter.y)) > LOOK.metres(1.0)


@pytest.mark.parametrize(
    ("species", "height", "design"),
    [
        ("Pinus pinea", 18.0, "crown_conifer"),
        ("Allocasuarina verticillata", 8.0, "crown_conifer"),
        ("Phoenix canariensis", 12.0, "crown_palm"),
        ("Quercus ilex", 15.0, "crown_broad"),
        ("Malus domestica", 5.0, "crown_small"),
        ("Rosmarinus officinalis", 1.5, "crown_shrub"),
        ("", None, "crown_small"),
    ],
)
def test_crowns_by_habit_and_stature(species, height, design):
    assert crown_design(species, height, 4.0) == design


def test_species_codes_are_short_and_never_shared():
    assert short_code("Quercus ilex") == "QuIl"
    assert short_code("× Cupressocyparis leylandii") == "CuLe"
    assert short_code("Malus") == "Ma"
    assert short_code("") == ""
    names = ["Quercus ilex", "Quercus ilicifolia", "Quillaja ilex", "Malus domestica", ""]
    found = codes(names)
    assert set(found) == set(names) - {""}
    assert len(set(found.values())) == len(found)
