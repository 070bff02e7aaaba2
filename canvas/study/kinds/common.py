"""Facts every point, line and area has."""

from __future__ import annotations

from shapely import LineString, Point, Polygon

from canvas.base.fact import Fact
from canvas.base.quantity import area_unit
from canvas.ground.crs import to_lonlat
from canvas.ground.measure import Basis, area_on_ellipsoid, length_on_ellipsoid
from canvas.study.scene import Scene

GRID = Basis.GRID.value
ELLIPSOID = Basis.ELLIPSOID.value
SLOPING = Basis.GROUND.value


def count(key: str, label: str, value: float, remark: str = "") -> Fact:
    """Return a number of things."""
    return Fact(key, label, float(value), "count", remark=remark)


def length(key: str, label: str, value_m: float | None, basis: str = GRID) -> Fact:
    """Return a length [m]."""
    return Fact(key, label, value_m, "m", basis=basis)


def area(key: str, label: str, value_m2: float, basis: str = GRID, source: str = "") -> Fact:
    """Return an area [m²], shown in square metres or hectares by its size."""
    return Fact(key, label, value_m2, area_unit(value_m2), basis=basis, source=source)


def ratio(key: str, label: str, value: float | None, basis: str = "", source: str = "") -> Fact:
    """Return a grade, slope or share, kept as a fraction and shown in per cent."""
    return Fact(key, label, value, "%", basis=basis, source=source)


def words(key: str, label: str, value: str, remark: str = "") -> Fact:
    """Return a statement."""
    return Fact(key, label, value, remark=remark)


def level(key: str, label: str, value_m: float | None, scene: Scene) -> Fact:
    """Return a height read from the ground, with its uncertainty and how far to trust it."""
    terrain = scene.terrain
    return Fact(
        key,
        label,
        value_m,
        "m",
        basis=terrain.datum,
        plus_minus=terrain.accuracy_m,
        remark=terrain.trust if value_m is not None else "",
    )


def point_facts(point: Point, scene: Scene) -> list[Fact]:
    """Return where a point is: grid, longitude and latitude, ground height and slope."""
    lon, lat = to_lonlat(scene.crs).transform(point.x, point.y)
    facts = [
        Fact("east_m", "East", point.x, "m_grid", basis=GRID),
        Fact("north_m", "North", point.y, "m_grid", basis=GRID),
        Fact("lon_deg", "Longitude", lon, "deg", basis=ELLIPSOID, decimals=6),
        Fact("lat_deg", "Latitude", lat, "deg", basis=ELLIPSOID, decimals=6),
    ]
    if scene.terrain.known:
        facts.append(
            level("ground_m", "Ground height", scene.terrain.height(point.x, point.y), scene)
        )
        facts.append(ratio("slope", "Ground slope", scene.terrain.slope(point.x, point.y)))
    return facts


def line_facts(line: LineString, scene: Scene) -> list[Fact]:
    """Return a line's lengths on grid, ellipsoid and ground, and its rise from start to end."""
    facts = [
        length("length_m", "Length", line.length),
        length(
            "length_geodesic_m", "Length", length_on_ellipsoid(line, scene.crs).value, ELLIPSOID
        ),
    ]
    if scene.terrain.known:
        terrain = scene.terrain
        along = terrain.along(line)
        sloping = along.length_m if along is not None else None
        facts.append(length("length_ground_m", "Length", sloping, SLOPING))
        start = terrain.height(*line.coords[0][:2])
        end = terrain.height(*line.coords[-1][:2])
        rise = None if start is None or end is None else end - start
        facts.append(Fact("rise_m", "Rise from start to end", rise, "m"))
    return facts


def area_facts(polygon: Polygon, scene: Scene) -> list[Fact]:
    """Return an area on grid, ellipsoid and ground, its outline, heights and slopes."""
    geodesic = area_on_ellipsoid(polygon, scene.crs).value
    facts = [
        area("area_m2", "Area", polygon.area),
        area("area_geodesic_m2", "Area", geodesic, ELLIPSOID, "karney2013"),
    ]
    under = scene.terrain.under(polygon)
    if under is not None:
        facts.append(area("area_ground_m2", "Area", under.surface_m2, SLOPING))
    facts.append(length("outline_m", "Outline", polygon.length))
    if under is not None:
        facts += [
            level("lowest_m", "Lowest ground", under.z_min_m, scene),
            level("highest_m", "Highest ground", under.z_max_m, scene),
            ratio("mean_slope", "Mean slope", under.slope_mean),
            ratio("max_slope", "Steepest", under.slope_max, "of a grid cell"),
        ]
    return facts
