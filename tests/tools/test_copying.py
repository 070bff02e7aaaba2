"""Copy and paste. Between sites: checked against pyproj's own transformation."""

from __future__ import annotations

import json

import numpy as np
import pytest
import shapely
from hands import local, make
from pyproj import Transformer

from canvas.base.errors import BadData
from canvas.site.facts import Phase, Site
from canvas.site.plan import Plan
from canvas.tools.clipboard import from_text, is_ours, paste_edit, to_text


def test_paste_in_the_same_site_loses_nothing():
    tree = make("tree", (10, 20), species="Malus domestica", crown_m=4.5, remark="“Ünïcode”")
    plan = Plan([Site(crs="EPSG:7854"), tree])
    edit = paste_edit(to_text([tree], "EPSG:7854"), plan)
    assert edit is not None
    made = edit.changes[0].after
    assert made.id != tree.id
    assert local(made).tolist() == [[10, 20]]
    assert (made.species, made.crown_m, made.remark) == (tree.species, 4.5, tree.remark)
    assert edit.label == "Paste tree"


def test_paste_between_sites_carries_coordinates_over():
    zone = make("zone", (0, 0), (100, 0), (100, 60))
    other = Plan([Site(crs="EPSG:7855")])
    made = from_text(to_text([zone], "EPSG:7854"), other)[0]
    carry = Transformer.from_crs("EPSG:7854", "EPSG:7855", always_xy=True)
    expected = [carry.transform(x, y) for x, y in shapely.get_coordinates(zone.geometry)]
    assert shapely.get_coordinates(made.geometry) == pytest.approx(np.array(expected), abs=1e-6)


def test_phases_stay_in_their_own_site():
    phase = Phase(name="First")
    tree = make("tree", (0, 0), phase=phase.id)
    text = to_text([tree], "EPSG:7854")
    same = from_text(text, Plan([Site(crs="EPSG:7854"), phase]))[0]
    other = from_text(text, Plan([Site(crs="EPSG:7854")]))[0]
    assert (same.phase, other.phase) == (phase.id, "")


def test_the_text_is_geojson_with_its_crs():
    text = to_text([make("tree", (1, 2))], "EPSG:7854")
    whole = json.loads(text)
    assert whole["type"] == "FeatureCollection"
    assert whole["crs"] == "EPSG:7854"
    assert whole["features"][0]["geometry"]["type"] == "Point"
    assert is_ours(text)


@pytest.mark.parametrize(
    "text",
    ["", "hello", '{"type": "FeatureCollection", "features": []}', '{"hillwright": 1',
     '{"hillwright": 1, "crs": "EPSG:7854", "features": [{}]}',
     '{"hillwright": 99, "crs": "EPSG:7854", "features": []}',
     '{"hillwright": 1, "crs": "EPSG:7854", "features": [{"properties": {"kind": "no"},'
     ' "geometry": {"type": "Point", "coordinates": [1, 2]}}]}',
     '{"hillwright": 1, "crs": "nonsense", "features": [{"properties": {"kind": "tree"},'
     ' "geometry": {"type": "Point", "coordinates": [1, 2]}}]}',
     '{"hillwright": 1, "crs": "EPSG:7854", "features": [{"properties": {"kind": "tree"},'
     ' "geometry": {"type": "Polygon", "coordinates": [[[1, 2], [3, 4], [5, 9], [1, 2]]]}}]}'],
)  # fmt: skip
def test_damaged_text_is_said(text):
    with pytest.raises(BadData):
        from_text(text, Plan([Site(crs="EPSG:7854")]))
