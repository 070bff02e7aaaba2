"""Hand-placed numbers of the landscape, in local metres (u east, v north of `frame.ORIGIN`)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

# Corners clockwise from the north-west; the east side runs along the road reserve.
BOUNDARY = (
    (-146.0, 118.0), (22.0, 147.0), (150.0, 137.0), (157.0, -14.0), (141.0, -112.0),
    (-30.0, -141.0), (-137.0, -62.0),
)  # fmt: skip

# Centre line of the unsealed public road, from the south.
ROAD = np.array(
    [(96, -440), (110, -330), (128, -230), (149, -128), (162, -60), (169, -14), (167, 40),
     (163, 95), (162, 141), (166, 200), (176, 270), (184, 340), (188, 460)], dtype=float
)  # fmt: skip
ROAD_WIDTH_M = 5.6
RESERVE_M = 20.0

# u, v, half length, half width, turn of the long axis [deg from east], level, fall along minor.
BENCHES = ((16.0, -34.0, 25.0, 17.0, -38.0, 257.4, 0.035),)


@dataclass(frozen=True)
class Hollow:
    """A spoon-shaped hollow left by an old slip: axis from mouth to head, its floor and sides."""

    axis: tuple[tuple[float, float], ...]
    mouth_m: float
    grade: float
    half_m: float
    side: float


HOLLOWS = (
    Hollow(((-98.0, 56.0), (-92.0, 40.0), (-84.0, 26.0), (-74.0, 10.0), (-66.0, -2.0)),
           241.7, 0.03, 11.0, 0.36),
)  # fmt: skip

# u, v, radius of rocky ground.
OUTCROPS = (
    (-62.0, -118.0, 10.0), (-40.0, -133.0, 6.0), (-92.0, -74.0, 9.0), (-118.0, -40.0, 7.0),
    (64.0, -8.0, 6.0), (-212.0, -178.0, 12.0), (-236.0, 60.0, 9.0), (-30.0, -225.0, 11.0),
    (-176.0, 232.0, 8.0), (20.0, 262.0, 7.0),
)  # fmt: skip


@dataclass(frozen=True)
class Channel:
    """A water line: where it heads, how deep and wide its channel and its flat are."""

    head: tuple[float, float]
    depth_m: float
    half_m: float
    flat_m: float
    batter: float
    full_m2: float
    flat_rise_m: float = 0.25


TRUNK = "creek"
CHANNELS = {
    "creek": Channel((-262, 148), 0.95, 0.9, 9.0, 0.8, 120_000, 0.35),
    "south-west gully": Channel((-205, -70), 0.55, 0.4, 2.5, 0.55, 60_000, 0.1),
    "spur gully": Channel((-128, -66), 0.4, 0.3, 1.5, 0.45, 25_000, 0.1),
    "east gully": Channel((92, -44), 0.4, 0.3, 2.0, 0.45, 25_000, 0.1),
    "north gully": Channel((-100, 196), 0.45, 0.35, 2.0, 0.5, 25_000, 0.1),
}


@dataclass(frozen=True)
class Dam:
    """The neighbour's dam: northing of the wall on its gully, and its size."""

    wall_v: float
    half_m: float
    long_m: float
    height_m: float
    bow: float


DAM = Dam(164.0, 14.0, 17.0, 2.4, 0.011)

# --- the neighbour's homestead, north of the creek -------------------------------------------
# u, v of the middle, length, width, turn of the length [deg from east], wall and ridge height.
HOUSE = (104.0, 214.0, 17.0, 9.6, -8.0, 3.0, 5.6)
SHED = (58.0, 232.0, 20.0, 9.5, -8.0, 4.2, 5.9)
SMALL_SHED = (84.0, 238.0, 7.0, 5.0, -8.0, 2.6, 3.5)
ROUND_TANKS = ((93.0, 223.5, 3.6, 2.4), (73.0, 223.6, 4.4, 2.5), (78.4, 223.0, 4.4, 2.5))
DRIVE = np.array([(166, 198), (150, 202), (132, 200), (118, 202), (104, 204), (88, 210),
                  (76, 217), (62, 222)], dtype=float)  # fmt: skip
CYPRESS_ROW = ((62.0, 190.0), (136.0, 180.0))
GARDEN_TREES = (
    (88.0, 204.0, "schin", 8.0, 8.5), (122.0, 226.0, "schin", 9.0, 9.5),
    (112.0, 228.0, "malus", 4.0, 3.8), (117.0, 233.0, "malus", 3.6, 3.6),
    (110.0, 234.0, "malus", 4.2, 4.0), (104.0, 231.0, "malus", 3.6, 3.4),
    (98.0, 233.0, "malus", 4.0, 3.8), (42.0, 226.0, "melli", 14.0, 12.0),
    (128.0, 213.0, "schin", 7.0, 7.0), (94.0, 196.0, "malus", 3.0, 3.0),
)  # fmt: skip
KEEP_OPEN = ((104.0, 214.0), (58.0, 232.0), (16.0, -34.0), (84.0, 238.0), (150.0, 202.0),
             (74.0, 224.0), (-74.0, 176.0))  # fmt: skip

# --- wires, fences, wheels -------------------------------------------------------------------
POLES = (
    (186.0, -330.0), (148.5, -216.0), (121.0, -130.0), (108.0, -36.0), (113.0, 62.0),
    (124.0, 146.0), (131.0, 206.0),
)  # fmt: skip
POLE_HEIGHT_M = 10.5
WIRE_LOW_M = 6.4

CROSS_FENCE = ((-141.6, 22.0), (-98.0, 50.0), (-40.0, 68.0), (30.0, 72.0), (92.0, 66.0),
               (153.7, 40.0))  # fmt: skip
OUTER_FENCES = (
    ((-146.0, 118.0), (-300.0, 146.0), (-460.0, 150.0)),
    ((-137.0, -62.0), (-240.0, -22.0), (-460.0, 20.0)),
    ((-30.0, -141.0), (-70.0, -250.0), (-92.0, -430.0)),
    ((22.0, 147.0), (10.0, 250.0), (-4.0, 430.0)),
)  # fmt: skip
GATES = (  # u, v, width, bearing of the opening along the fence [deg from east], name
    (149.3, -61.5, 4.3, 81.0, "old paddock gate"),
    (10.0, 71.6, 3.6, 4.0, "creek paddock gate"),
    (158.0, 200.3, 4.3, 88.0, "neighbour's gate"),
)
TRACKS = {
    "old track to the rise": np.array(
        [(160, -62), (149, -61.5), (128, -66), (100, -78), (72, -78), (46, -66), (26, -56),
         (4, -58), (-18, -78), (-30, -104), (-38, -122)], dtype=float),
    "old track to the creek": np.array(
        [(46, -66), (52, -44), (50, -20), (40, 4), (24, 28), (12, 50), (10, 71.6), (14, 84),
         (16, 94), (16, 104), (26, 122), (40, 132)], dtype=float),
}  # fmt: skip
STOCK_PADS = (
    ((-50, 166), (-36, 154), (-10, 158), (30, 170), (60, 196)),
    ((-96, 178), (-120, 188), (-190, 206), (-290, 214)),
    ((-66, 190), (-40, 220), (-10, 262), (4, 300)),
    ((-76, 191), (-96, 230), (-140, 280), (-170, 330)),
    ((-52, 172), (-20, 176), (8, 190)),
    ((10, -150), (60, -175), (112, -205)), ((0, -160), (-40, -200), (-120, -240), (-230, -262)),
)  # fmt: skip
TROUGH = (-4.0, 58.0)

# --- vegetation and grazing, as polygons --------------------------------------------------------
PADDOCKS = {  # corners, lightness, greenness, roughness of the sward
    "hill paddock": (((-141.6, 22), (-98, 50), (-40, 68), (30, 72), (92, 66), (153.7, 40),
                      (157, -14), (141, -112), (-30, -141), (-137, -62)), -0.01, 0.05, 1.0),
    "creek paddock": (((-146, 118), (22, 147), (150, 137), (153.7, 40), (92, 66), (30, 72),
                       (-40, 68), (-98, 50), (-141.6, 22)), -0.06, 0.22, 1.25),
    "north-west paddock": (((22, 147), (-146, 118), (-460, 150), (-460, 440), (-4, 440),
                            (10, 250)), 0.05, -0.05, 0.55),
    "homestead paddock": (((22, 147), (150, 137), (156, 200), (176, 340), (180, 440), (-4, 440),
                           (10, 250)), 0.03, 0.03, 0.6),
    "bush": (((-146, 118), (-141.6, 22), (-137, -62), (-460, 20), (-460, 150)), -0.10, 0.10, 1.4),
    "south-west bush": (((-137, -62), (-30, -141), (-70, -250), (-92, -430), (-460, -430),
                         (-460, 20)), -0.07, 0.05, 1.2),
    "south paddock": (((-30, -141), (141, -112), (118, -230), (96, -430), (-92, -430),
                       (-70, -250)), 0.035, -0.05, 0.55),
}  # fmt: skip
LAWN = ((88, 203), (92, 226), (104, 229), (122, 222), (124, 207), (112, 204.5), (104, 206.5))
HAY = ((177, -160), (181, -60), (180, 30), (208, 66), (330, 40), (330, -180), (250, -190))
BRACKEN = ((-131, -48), (-112, -62), (-92, -52), (-78, -30), (-92, -10), (-110, -14), (-128, -24))
SCRUB = ((96, -34), (112, -40), (124, -20), (132, 4), (136, 24), (124, 26), (112, 4))
TUSSOCK = ((-120, 66), (-80, 92), (-20, 104), (26, 116), (60, 124), (130, 134), (140, 122),
           (110, 112), (60, 114), (20, 98), (-20, 96), (-80, 84), (-116, 54))  # fmt: skip
REEDS = ((-108, -70), (-22, 26), (52, 96), (128, 176))  # stretches of the creek by easting
POOLS = ((-86, -72), (-2, 10), (96, 108), (132, 140), (190, 204))
