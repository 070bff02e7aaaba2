"""A site begun from nothing by mouse on either side of the equator; grids by the EPSG registry."""

from __future__ import annotations

import re

import pytest
from pyproj import Transformer
from PySide6.QtTest import QTest

pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints")
PLACES = {
    # EPSG:32632 is WGS 84 / UTM zone 32N: 6° to 12° E, north; EPSG:32719 zone 19S: 72° to 66° W.
    "north": ("11.25", "46.6", "EPSG:32632", "° N"),
    "south": ("-70.4", "-33.6", "EPSG:32719", "° S"),
}


@pytest.mark.parametrize("side", PLACES)
def test_a_site_from_nothing(desk, hand, qtbot, tmp_path, side):
    lon, lat, crs, letter = PLACES[side]
    hand.click(desk.welcome.choices["site.new"])
    dialog = hand.dialog()
    QTest.keyClicks(hand.named("Name of the site", dialog), f"{side} hill")
    hand.type(hand.named("Folder of the site", dialog), str(tmp_path / side))
    hand.type(hand.named("Longitude", dialog), lon)
    hand.type(hand.named("Latitude", dialog), lat)
    hand.click(hand.named("Offer the UTM zone", dialog))
    assert hand.named("Coordinate system", dialog).text() == crs
    QTest.keyClicks(hand.named("Heights datum", dialog), "local mean sea level")
    hand.click(hand.named("Begin", dialog))
    hand.opened(tmp_path / side)

    carry = Transformer.from_crs("EPSG:4326", crs, always_xy=True)
    east, north = carry.transform(float(lon), float(lat))
    hand.origin = (round(east), round(north))
    hand.type_boundary()
    hand.send_guide_away()
    house = hand.draw("building", (80, 80), (100, 80), (100, 92))
    hand.draw("tree", (140, 140))
    hand.settle()
    pixel = desk.map.camera.pixel_m
    assert desk.bench.plan.element(house).geometry.area == pytest.approx(240, abs=64 * pixel)

    hand.put_pointer(100, 100)
    found = carry.transform(hand.origin[0] + 100, hand.origin[1] + 100, direction="INVERSE")
    # A pixel of the map is a few millionths of a degree.
    expected = pytest.approx([abs(found[1]), abs(found[0])], abs=2e-5)

    def shown() -> list[float]:
        return [float(d) for d in re.findall(r"[\d.]+", desk.readout.geographic.text())]

    qtbot.waitUntil(lambda: shown() == expected, timeout=5000)
    assert letter in desk.readout.geographic.text()

    hand.act("page.sun")
    hand.settle()
    table = hand.named("The sun's days")
    highest = {
        table.item(at, 0).text(): float(re.match(r"[\d.]+", table.item(at, 4).text())[0])
        for at in range(table.rowCount())
    }
    # At noon the sun stands 90° less latitude plus declination high; the declination of the
    # solstices is the Earth's obliquity, 23.44° (common practice, no source).
    for day, declination in (("21 June", 23.44), ("21 December", -23.44)):
        assert highest[day] == pytest.approx(90 - abs(float(lat) - declination), abs=0.6)
