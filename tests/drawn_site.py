"""One made-up site with every kind on it, in several statuses and owners. Invented data."""

from __future__ import annotations

import random

import numpy as np
from pyproj import CRS
from shapely.geometry import LineString, Point, Polygon, box

from canvas.base.finding import Finding, Severity
from canvas.base.grid import Grid
from canvas.base.sources import Mark
from canvas.ground.measure import grid_on_earth
from canvas.site.elements import (
    access,
    building,
    cover,
    crossings,
    earthworks,
    gauges,
    heights,
    land,
    pits,
    ponds,
    services,
    swales,
    vegetation,
    water,
    writing,
)
from canvas.site.facts import Ground, Site
from canvas.site.plan import Plan
from canvas.site.records import Element
from canvas.study.land import Land
from canvas.study.study import Study

EAST, NORTH = 620_000.0, 5_820_000.0
CORNERS = ((0, 0), (290, -10), (310, 180), (210, 290), (20, 260))


def at(*points: tuple[float, float]) -> list[tuple[float, float]]:
    """Return site coordinates for offsets from the corner [m]."""
    return [(EAST + x, NORTH + y) for x, y in points]


def hill(cells: int = 420) -> Grid:
    """Return a hill with a spur, 1 m cells, from 60 m beyond the corner."""
    x, y = np.arange(cells) - 60, cells - 60 - np.arange(cells)
    xx, yy = np.meshgrid(x, y)
    z = 240 + 30 * np.exp(-((xx - 120) ** 2 + (yy - 210) ** 2) / 18000) - 0.03 * yy
    z += 12 * np.exp(-((xx - 260) ** 2 + (yy - 90) ** 2) / 9000)
    return Grid(z.astype(float), EAST - 60, NORTH + cells - 60, 1.0)


def _land() -> list[Element]:
    zones = (
        ("0", (100, 80, 160, 130)), ("1", (160, 80, 220, 150)), ("2", (20, 60, 95, 130)),
        ("3", (20, 140, 120, 200)), ("4", (130, 160, 230, 210)), ("5", (220, 215, 290, 250)),
        ("free", (230, 50, 280, 90)),
    )  # fmt: skip
    return [
        land.SiteBoundary(id="edge", name="Block", geometry=Polygon(at(*CORNERS))),
        land.Parcel(title_ref="Lot 7", owner="neighbour",
                    geometry=Polygon(at((290, -10), (360, -10), (360, 200), (310, 180)))),
        land.Easement(purpose="power", beneficiary="the network",
                      geometry=Polygon(at((0, 20), (290, 10), (290, 30), (0, 40)))),
        land.SurveyMark(id="bm", name="BM 1", height_m=251.32, geometry=Point(at((30, 230))[0])),
        land.SurveyMark(name="CP 2", mark="control", geometry=Point(at((280, 20))[0])),
        land.SurveyMark(mark="peg", geometry=Point(at((20, 260))[0])),
        *(land.Zone(intensity=key, name=f"Zone {key}",
                    geometry=box(EAST + w, NORTH + s, EAST + e, NORTH + n))
          for key, (w, s, e, n) in zones),
        cover.GroundCover(cover="woods", group="B", condition="good",
                          geometry=Polygon(at((20, 205), (60, 205), (60, 225), (24, 225)))),
    ]  # fmt: skip


def _ways_and_structures() -> list[Element]:
    fences = ("stock", "netting", "deer", "electric", "post_rail", "wall")
    return [
        access.PublicRoad(name="Wattle Road", geometry=LineString(at((-60, -25), (360, -35)))),
        access.Track(name="Drive", geometry=LineString(
            at((130, -28), (135, 10), (128, 40), (150, 60), (180, 70), (200, 100)))),
        access.Track(name="Old track", status="remove", surface="earth",
                     geometry=LineString(at((180, 70), (240, 60), (270, 30)))),
        access.Track(name="Hill track", forming="in", design_grade=0.4, ditch_m=0.2,
                     geometry=LineString(at((20, 150), (60, 165), (100, 160), (140, 190)))),
        crossings.TurningHead(name="Turn", geometry=Point(at((139, 190))[0])),
        crossings.PassingBay(geometry=Point(at((80, 158))[0])),
        crossings.Culvert(inlet_m=252.6, outlet_m=252.2,
                          geometry=LineString(at((40, 162), (42, 152)))),
        crossings.Ford(geometry=LineString(at((136, 222), (164, 216)))),
        crossings.WaterBar(geometry=LineString(at((118, 178), (122, 171)))),
        access.Path(name="Path", geometry=LineString(at((140, 105), (160, 120), (110, 170)))),
        building.Building(id="house", name="House", floor_level_m=255.4, geometry=Polygon(
            at((115, 95), (135, 92), (137, 104), (117, 107)))),
        building.Building(use="shed", status="existing",
                          geometry=Polygon(at((170, 95), (182, 95), (182, 104), (170, 104)))),
        building.Building(use="shed", status="remove", name="Old shed",
                          geometry=Polygon(at((240, 60), (252, 60), (252, 68), (240, 68)))),
        building.Building(status="existing", owner="neighbour", name="Neighbour",
                          geometry=Polygon(at((320, 60), (338, 60), (338, 72), (320, 72)))),
        building.Building(use="glasshouse", status="built",
                          geometry=Polygon(at((165, 115), (177, 115), (177, 120), (165, 120)))),
        *(building.Fence(fence=kind, status="existing" if i % 2 else "proposed",
                         geometry=LineString(at((20, 205 + 8 * i), (125, 205 + 8 * i))))
          for i, kind in enumerate(fences)),
        building.Gate(geometry=Point(at((60, 205))[0])),
    ]  # fmt: skip


def _water_and_services() -> list[Element]:
    return [
        water.Watercourse(name="Dry Creek", width_m=2, geometry=LineString(
            at((60, 290), (90, 240), (150, 220), (240, 140), (300, 90), (360, 60)))),
        water.Watercourse(flow="storm", geometry=LineString(at((20, 120), (80, 140), (150, 220)))),
        water.WaterBody(name="Dam", depth_m=2.5, geometry=Point(at((240, 140))[0]).buffer(14)),
        water.WaterBody(body="wetland", name="Soak", geometry=Point(at((275, 120))[0]).buffer(12)),
        gauges.Gauge(id="staff", name="Staff", geometry=Point(at((150, 60))[0])),
        heights.SpotHeight(id="spot", height_m=103.4, geometry=Point(at((30, 150))[0])),
        heights.SurveyLine(level_m=104.0, geometry=LineString(at((20, 160), (45, 158)))),
        gauges.GaugeLine(name="Outflow", geometry=LineString(at((60, 14), (76, 8)))),
        water.Well(id="bore", name="Bore", geometry=Point(at((205, 60))[0])),
        water.Tank(id="tank", name="Tank", diameter_m=6.0, fire_reserve_l=10000,
                   geometry=Point(at((142, 112))[0])),
        water.SepticTank(geometry=Point(at((112, 84))[0])),
        water.SepticField(geometry=Polygon(at((80, 70), (105, 66), (107, 76), (82, 80)))),
        water.SepticField(reserve=True,
                          geometry=Polygon(at((50, 72), (75, 68), (77, 78), (52, 82)))),
        services.OverheadLine(geometry=LineString(at((-40, 30), (60, 27), (160, 25), (340, 18)))),
        services.BuriedService(service="power", depth_m=0.6,
                               geometry=LineString(at((60, 27), (70, 60), (115, 95)))),
        services.BuriedService(service="water",
                               geometry=LineString(at((205, 60), (160, 90), (142, 110)))),
        services.Firebreak(geometry=LineString(at((95, 75), (95, 135), (230, 135)))),
    ]  # fmt: skip


SPECIES = (
    ("Quercus ilex", 12, 9), ("Pinus pinea", 18, 9), ("Malus domestica", 4.5, 4),
    ("Phoenix canariensis", 9, 6), ("Rosmarinus officinalis", 1.5, 1.6),
    ("Eucalyptus leucoxylon", 16, 11),
)  # fmt: skip


def trees(count: int, seed: int = 3) -> list[Element]:
    """Return trees strewn over the site in every status."""
    shake = random.Random(seed)
    made: list[Element] = []
    for i in range(count):
        species, height, crown = SPECIES[shake.randrange(len(SPECIES))]
        status = ("proposed", "existing", "remove", "built", "gone")[i % 5]
        made.append(
            vegetation.Tree(
                species=species, status=status, owner="neighbour" if i % 17 == 0 else "ours",
                mature_height_m=height, mature_crown_m=crown, years_to_mature=20,
                crown_m=None if status == "proposed" else crown * 0.6,
                geometry=Point(at((20 + shake.random() * 270, 10 + shake.random() * 230))[0]),
            )
        )  # fmt: skip
    return made


def _plants_and_writing() -> list[Element]:
    covers = ("grass", "scrub", "woodland", "forest", "reeds", "crop", "bare")
    beds = ("vegetables", "herbs", "flowers", "berries", "nursery", "compost")
    return [
        *(vegetation.Vegetation(cover=cover, geometry=box(
            EAST - 55, NORTH + 10 + 38 * i, EAST - 8, NORTH + 42 + 38 * i))
          for i, cover in enumerate(covers)),
        vegetation.TreeRow(species="Olea europaea", name="Olives",
                           geometry=LineString(at((25, 65), (90, 65)))),
        vegetation.Hedge(species="Prunus lusitanica", purpose="windbreak", width_m=3, rows=2,
                         spacing_m=2, height_m=6, geometry=LineString(at((10, 140), (14, 200)))),
        vegetation.Hedge(species="Rosa rugosa", geometry=LineString(at((160, 152), (222, 152)))),
        *(vegetation.GardenBed(use=use, raised_m=0.3 if i % 2 else 0.0, geometry=box(
            EAST + 185 + 6 * i, NORTH + 108, EAST + 190 + 6 * i, NORTH + 122))
          for i, use in enumerate(beds)),
        writing.Note(words="Keep this spring\nfenced off", geometry=Point(at((262, 150))[0])),
        writing.Dimension(geometry=LineString(at((115, 95), (135, 92)))),
        writing.Dimension(basis="ground", offset_mm=5,
                          geometry=LineString(at((300, 90), (230, 135)))),
    ]  # fmt: skip


def _earthworks() -> list[Element]:
    return [
        earthworks.Platform(name="Yard", walls="uphill", fall=0.02, geometry=Polygon(
            at((196, 232), (216, 226), (220, 238), (200, 244)))),
        earthworks.Terraces(name="Benches", riser=0.8,
                            geometry=LineString(at((24, 196), (60, 178), (96, 166)))),
        earthworks.Heap(geometry=Polygon(at((232, 236), (248, 232), (252, 242), (236, 246)))),
        earthworks.BorrowPit(geometry=Polygon(at((140, 256), (160, 250), (164, 264), (144, 270)))),
    ]  # fmt: skip


def _ponds() -> list[Element]:
    return [
        swales.Swale(id="swale", name="Top swale",
                     geometry=LineString(at((60, 250), (90, 252), (120, 256)))),
        swales.Swale(shape="parabola", sill="middle", status="existing",
                     geometry=LineString(at((200, 180), (225, 176), (250, 168)))),
        swales.Drain(name="Top drain", grade=0.01,
                     geometry=LineString(at((30, 110), (60, 112), (92, 118)))),
        swales.LevelSill(design_flow_m3s=0.05,
                         geometry=LineString(at((236, 225), (250, 222)))),
        swales.CheckDam(geometry=LineString(at((196, 172), (205, 182)))),
        swales.CheckDam(made_of="log", geometry=LineString(at((222, 150), (230, 160)))),
        ponds.Dam(id="dam", name="Top dam", rise_m=2.0, sill_below_m=0.8,
                  geometry=LineString(at((56, 50), (39, 21), (66, 1), (89, 24)))),
        ponds.DugPond(name="Frog pond", depth_m=1.6, side=2.0, geometry=Polygon(
            at((258, 188), (276, 184), (281, 198), (262, 203)))),
        pits.TestPit(name="Pit 1", rock_depth_m=1.4, crumb="1", jar_sand_mm=22, jar_silt_mm=30,
                     jar_clay_mm=34, geometry=Point(at((100, 60))[0])),
    ]  # fmt: skip


def elements(tree_count: int = 60) -> list[Element]:
    """Return at least one element of every kind."""
    return [
        *_land(), *_ways_and_structures(), *_water_and_services(), *_earthworks(), *_ponds(),
        *_plants_and_writing(),
        *trees(tree_count),
    ]  # fmt: skip


def study(tree_count: int = 60, *, units: str = "metric", ground: bool = True) -> Study:
    """Return the study of the whole site."""
    site = Site(
        name="Made Hill", crs="EPSG:7854", heights_datum="AHD", designer="A. Owner", units=units,
        address="120 Wattle Road",
    )  # fmt: skip
    survey = Ground(
        file="ground.tif", source="Made-up lidar", surveyed="2024-03-01", accuracy_m=0.15,
        datum="AHD",
    )  # fmt: skip
    crs = CRS("EPSG:7854")
    earth = grid_on_earth(crs, EAST + 150, NORTH + 130, 250.0)
    stands_on = Land(crs, hill() if ground else None, survey if ground else None, earth)
    return Study(Plan([site, survey, *elements(tree_count)]), stands_on, year=8)


class Judged(Study):
    """A study whose findings are given, for pictures of findings whatever the rules say."""

    given: tuple[Finding, ...] = ()

    def findings(self) -> tuple[Finding, ...]:
        """Return what was given."""
        return self.given


def judged(tree_count: int = 60, **options: str) -> Judged:
    """Return the site with one finding of each severity and one waived."""
    plain = study(tree_count, **options)  # type: ignore[arg-type]
    made = Judged(plain.plan, plain.land, year=8)
    made.given = tuple(findings())
    return made


def findings() -> list[Finding]:
    """Return findings of every severity, on a line, on an area, on points."""
    places = (
        (Severity.ERROR, LineString(at((115, 95), (112, 84))), ""),
        (Severity.WARNING, Point(at((142, 112))[0]).buffer(6), ""),
        (Severity.ADVICE, Point(at((60, 150))[0]), ""),
        (Severity.WARNING, LineString(at((205, 60), (180, 70))), "Sealed, agreed in writing"),
    )  # fmt: skip
    return [
        Finding(
            f"rule_{i}", "good_practice", severity, f"Thing {i} lies too near thing {i + 1}.",
            ("house", "bore"), 5.2 + i, 15.0, "m", "at least", where, "horn1981", Mark.PRACTICE,
            waived=waived,
        )
        for i, (severity, where, waived) in enumerate(places)
    ]  # fmt: skip
