"""The family's design on Kestrel Rise, with a few mistakes left in for the checks to find.

Left in on purpose: the firebreak has a gap to the south-west; a shade tree stands too near the
house; two trees are planted under the wires; the frog pond lies in dispersive clay; the dam in the
hollow is high enough to want an engineer, and the public road crosses the creek below it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import shapely
import shapely.affinity
from shapely import LineString, Point, Polygon
from shapely.ops import substring

from canvas.planting.layouts import Pattern, fill
from canvas.site.elements.access import Path
from canvas.site.elements.building import Building, Fence, Gate
from canvas.site.elements.land import Zone
from canvas.site.elements.services import BuriedService, Firebreak
from canvas.site.elements.vegetation import GardenBed, Hedge, Tree, TreeRow
from canvas.site.elements.water import SepticField, SepticTank, Tank, Well
from canvas.site.elements.writing import Dimension, Note
from canvas.site.facts import Phase
from canvas.site.records import Element

from . import soundings, spots, waters, ways
from .frame import SEED
from .landscape import Landscape
from .local import box, line, place

PHASES = (
    Phase(id="p1", name="First dry season: way in and water", place=1, starts="2026-11-01"),
    Phase(id="p2", name="Second dry season: house and yard", place=2, starts="2027-11-01"),
    Phase(id="p3", name="Winters: planting", place=3, starts="2027-05-15"),
    Phase(id="p4", name="When there is time", place=4, starts="2029-01-01"),
)

ZONES = {
    0: ("House yard", "The house and what the door opens on"),
    1: ("Kitchen garden and sheds", "Seen to every day"),
    2: ("Orchard and hens", "Most days"),
    3: ("Home paddock", "Sheep in rotation, hay in good years"),
    4: ("Top woodlot", "Firewood, posts and shelter"),
    5: ("Creek reserve", "Left alone"),
}


def elements(land: Landscape, ground: Any) -> Iterator[Element]:
    """Yield the whole design; `ground` gives floor levels and level lines."""
    yield from zones()
    yield from ways.elements(ground)
    yield from waters.elements(land, ground)
    yield from soundings.elements(ground)
    yield from paths_and_gates()
    yield from buildings(ground)
    yield from water()
    yield from fire_and_fences()
    yield from garden()
    yield from orchard()
    yield from shelter()
    yield from woodlot(ground)
    yield from writing()


def zones() -> Iterator[Zone]:
    """Yield the zones by how often the family is there, and one of its own."""
    for intensity, shape in spots.ZONES.items():
        name, use = ZONES[intensity]
        for number, part in enumerate(shapely.get_parts(shape)):
            ident = f"zone_{intensity}" + (f"_{number}" if number else "")
            yield Zone(id=ident, name=name, geometry=part, intensity=str(intensity), use=use)
    yield Zone(
        id="zone_camp",
        name="Camp",
        geometry=box(118.0, -71.0, 22.0, 14.0, 4.0),
        intensity="free",
        use="Caravan and materials while building",
        phase="p1",
    )


def paths_and_gates() -> Iterator[Element]:
    """Yield the ways on foot and the gates on them."""
    yield Path(id="orchard_path", name="Orchard path", geometry=spots.PATH, phase="p3")
    yield Path(
        id="garden_path",
        name="Garden path",
        geometry=line((5, -34), (4.2, -28.2), (22.4, -26.2)),
        width_m=0.9,
        phase="p2",
    )
    yield Gate(id="garden_gate", name="Garden gate", geometry=place(4.4, -29.7), width_m=1.2)
    yield Gate(id="orchard_gate", name="Orchard gate", geometry=place(-6.4, 7.2), width_m=1.5)


def level(ground: Any, shape: Polygon) -> float:
    """Return a floor level: the ground's under the middle, to the nearest 0.05 m, plus 0.15 m."""
    middle = shape.centroid
    return round(float(ground.sample(middle.x, middle.y)) * 20) / 20 + 0.15


def buildings(ground: Any) -> Iterator[Building]:
    """Yield house, shed, hen house and glasshouse."""
    hens, glass = box(-20.0, -14.0, 4.0, 2.5, -8.0), box(28.0, -27.5, 5.0, 3.0, -6.0)
    wanted = (
        ("house", "House", spots.HOUSE, "dwelling", 2.7, 4.6, "p2"),
        ("shed", "Shed", spots.SHED, "shed", 3.0, 4.2, "p1"),
        ("hen_house", "Hen house", hens, "animal_house", 1.9, 2.4, "p3"),
        ("glasshouse", "Glasshouse", glass, "glasshouse", 2.0, 2.9, "p4"),
    )
    for ident, name, shape, use, wall, ridge, phase in wanted:
        yield Building(
            id=ident,
            name=name,
            geometry=shape,
            use=use,
            wall_height_m=wall,
            ridge_height_m=ridge,
            floor_level_m=round(level(ground, shape), 2),
            phase=phase,
        )


def water() -> Iterator[Element]:
    """Yield tanks, well, pond and septic system, then what lies in the ground."""
    yield Tank(
        id="header_tank",
        name="Header tank",
        geometry=spots.TANK,
        volume_l=22_500.0,
        diameter_m=3.6,
        height_m=2.3,
        material="Steel, lined",
        phase="p1",
    )
    yield Tank(
        id="house_tank",
        name="Rain tank",
        geometry=place(48.9, -54.0),
        volume_l=45_000.0,
        diameter_m=4.6,
        height_m=2.8,
        fire_reserve_l=20_000.0,
        material="Concrete",
        phase="p2",
    )
    yield Well(
        id="well", name="Bore", geometry=spots.WELL, depth_m=38.0, water_level_m=11.0,
        yield_l_s=0.4, phase="p1",
    )  # fmt: skip
    yield SepticTank(id="septic_tank", name="Septic tank", geometry=place(30.5, -35.2), phase="p2")
    field, spare = spots.SEPTIC, box(38.5, -6.5, 14.0, 6.0, -12.0)
    yield SepticField(id="septic_field", name="Septic field", geometry=field, phase="p2")
    yield SepticField(
        id="septic_reserve", name="Reserve field", geometry=spare, reserve=True, phase="p2"
    )
    yield from buried()


def buried() -> Iterator[BuriedService]:
    """Yield pipes and the cable, each ending short of the wall it serves."""
    wanted = (
        ("house_main", "Tank to house", "water", 0.45, "p1",
         ((-12.9, -129.4), (-4, -100), (-11, -70), (2, -52), (9.5, -43.4))),
        ("bore_main", "Bore to header tank", "water", 0.45, "p1",
         ((-55, 45), (-46, 12), (-37, -18), (-36.6, -40), (-24, -62), (-16, -90), (-18.9, -129.0))),
        ("house_power", "Power to house", "power", 0.6, "p2",
         ((108, -36), (84, -44), (50, -40), (25.2, -36.6))),
    )  # fmt: skip
    for ident, name, service, depth, phase, points in wanted:
        yield BuriedService(
            id=ident, name=name, service=service, status="proposed", depth_m=depth, phase=phase,
            geometry=line(*points),
        )  # fmt: skip


def fire_and_fences() -> Iterator[Element]:
    """Yield the belt round the house, with its gap, and the new fences."""
    ring = spots.HOUSE.buffer(16.0).exterior
    whole = LineString(ring.coords)
    gap = whole.project(place(-12.0, -46.0))
    start = shapely.get_coordinates(shapely.line_interpolate_point(whole, gap + 7.0))[0]
    rest = substring(whole, gap + 7.0, whole.length)
    head = substring(whole, 0.0, gap - 7.0)
    open_ring = LineString([start, *rest.coords[1:], *head.coords[1:]])
    yield Firebreak(
        id="firebreak", name="Firebreak", geometry=open_ring.simplify(0.05), width_m=4.0,
        surface="mown", phase="p2",
    )  # fmt: skip
    garden = spots.GARDEN.buffer(1.6, join_style="mitre").exterior
    yield Fence(
        id="garden_fence", name="Garden fence", geometry=LineString(garden.coords), fence="netting",
        height_m=1.5, post_spacing_m=3.0, phase="p2",
    )  # fmt: skip
    orchard = spots.ORCHARD.buffer(2.0, join_style="mitre").exterior
    yield Fence(
        id="orchard_fence", name="Orchard fence", geometry=LineString(orchard.coords),
        fence="netting", height_m=1.5, phase="p3",
    )  # fmt: skip


def garden() -> Iterator[GardenBed]:
    """Yield six beds across the fall, a herb bed by the door, and compost."""
    for number in range(6):
        u = 6.6 + number * 2.55
        yield GardenBed(
            id=f"bed_{number + 1}",
            name=f"Bed {number + 1}",
            geometry=box(u, -24.3 - (u - 13.0) * 0.105, 1.3, 4.6, -6.0),
            use="berries" if number == 5 else "vegetables",
            mulch_mm=75.0,
            phase="p2",
        )
    yield GardenBed(
        id="herbs", name="Herbs", geometry=box(24.7, -36.8, 1.1, 5.0, -6.0), use="herbs", phase="p2"
    )
    yield GardenBed(
        id="compost", name="Compost", geometry=box(18.5, -49.5, 4.5, 1.5, -6.0), use="compost",
        phase="p2",
    )  # fmt: skip


#: Name, species, spacing [m], mature height and crown [m], local line.
ROWS = (
    ("Olives", "Olea europaea", 6.0, 5.0, 5.0, ((-40, 39), (-18, 40.5), (8, 42))),
    ("Almonds", "Prunus dulcis", 6.0, 5.0, 4.6, ((-40, 32), (-16, 33.5), (14, 34))),
    ("Pomegranates", "Punica granatum", 4.5, 3.5, 3.6, ((-40, 25), (-14, 26.5), (20, 26))),
    ("Apples", "Malus domestica", 5.0, 3.5, 3.8, ((-40, 18), (-12, 19.5), (24, 18))),
    ("Pears", "Pyrus communis", 5.0, 4.0, 3.6, ((-38, 11.5), (-12, 12.5), (24, 10))),
)


def orchard() -> Iterator[Element]:
    """Yield the orchard rows along the slope, and the trees of the yard."""
    for name, species, spacing, height, crown, points in ROWS:
        yield TreeRow(
            id=f"row_{name.lower()}", name=name, species=species, spacing_m=spacing,
            mature_height_m=height, mature_crown_m=crown, geometry=line(*points), phase="p3",
        )  # fmt: skip
    yard = (
        ("yard_mulberry", "Mulberry", "Morus alba", (1.5, -30.2)),
        ("yard_fig", "Fig", "Ficus carica", (-22.0, -26.0)),
        ("yard_carob", "Carob", "Ceratonia siliqua", (-28.0, -41.0)),
        ("yard_bay", "Bay", "Laurus nobilis", (-15.0, -6.0)),
        ("camp_gum_1", "", "Eucalyptus leucoxylon", (111.0, -18.0)),
        ("camp_gum_2", "", "Eucalyptus leucoxylon", (110.5, -6.0)),
    )
    for ident, name, species, (u, v) in yard:
        yield Tree(id=ident, name=name, species=species, geometry=place(u, v), phase="p3")


def shelter() -> Iterator[Hedge]:
    """Yield the hedge to the north and the belts against the cold and the hot wind."""
    yield Hedge(
        id="north_hedge", name="North hedge", purpose="hedge", species="Atriplex nummularia",
        geometry=spots.NORTH_HEDGE, rows=1, spacing_m=1.2, height_m=1.8, width_m=1.8, phase="p3",
    )  # fmt: skip
    yield Hedge(
        id="south_west_belt", name="South-west windbreak", purpose="windbreak",
        species="Allocasuarina verticillata", geometry=line((-92, -34), (-86, -52), (-82, -66)),
        rows=3, row_gap_m=3.0, spacing_m=3.0, height_m=7.0, width_m=10.0, phase="p3",
    )  # fmt: skip
    yield Hedge(
        id="road_belt", name="Road belt", purpose="windbreak", species="Acacia melanoxylon",
        geometry=line((143.0, 30.0), (145.0, -10.0), (141.0, -36.0)), rows=2, row_gap_m=2.5,
        spacing_m=2.5, height_m=6.0, width_m=6.0, phase="p4",
    )  # fmt: skip


#: Share of the woodlot and of the creek planting by species.
WOOD = (
    ("Allocasuarina verticillata", 0.4),
    ("Eucalyptus leucoxylon", 0.35),
    ("Acacia pycnantha", 0.25),
)
CREEK = (("Acacia melanoxylon", 0.5), ("Banksia marginata", 0.3), ("Eucalyptus camaldulensis", 0.2))


def woodlot(ground: Any) -> Iterator[Tree]:
    """Yield the trees of the top woodlot and of the creek's south bank, seeded, a little uneven."""
    rng = np.random.default_rng(SEED)
    corners = (
        (4, -122), (8, -110), (34, -112), (60, -104), (68, -112), (34, -122), (8, -127),
    )  # fmt: skip
    wood = Polygon([place(u, v) for u, v in corners])
    yield from planted("wood", wood, 6.0, WOOD, rng)
    bank = line((-36, 74), (-10, 78), (30, 82), (86, 78)).buffer(5.5, cap_style="flat")
    yield from planted("creek", bank, 7.0, CREEK, rng)


def planted(
    stem: str, area: Polygon, spacing_m: float, mix: tuple[tuple[str, float], ...], rng: Any
) -> Iterator[Tree]:
    """Yield trees on a triangular layout, each a little off its place."""
    spots_xy = fill(area, Pattern.TRIANGULAR, spacing_m)
    names, shares = zip(*mix, strict=True)
    for number, (x, y) in enumerate(spots_xy):
        dx, dy = rng.normal(0.0, 0.35, 2)
        yield Tree(
            id=f"{stem}_{number + 1:03d}",
            species=str(rng.choice(names, p=shares)),
            geometry=Point(round(x + dx, 2), round(y + dy, 2)),
            phase="p3" if stem == "wood" else "p4",
        )


def writing() -> Iterator[Element]:
    """Yield notes and dimension lines."""
    notes = (
        ("note_ford", "Old ford: dry by December", (13.0, 96.0)),
        ("note_view", "View to the ranges", (20.0, -96.0)),
    )
    for ident, words, (u, v) in notes:
        yield Note(id=ident, words=words, geometry=place(u, v), status="existing")
    well = spots.WELL
    near = shapely.shortest_line(well, spots.SEPTIC)
    yield Dimension(id="dim_well", name="Bore to septic field", geometry=near, basis="grid")
    house, edge = spots.HOUSE, spots.ENTRY_GATE
    yield Dimension(
        id="dim_gate", name="House to gate", geometry=shapely.shortest_line(house, edge)
    )
