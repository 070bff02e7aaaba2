"""Every module that declares a kind of element, in the order kinds are listed."""

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

MODULES = (
    land, pits, heights, cover, access, crossings, building, earthworks, water, gauges, swales,
    ponds, services, vegetation, writing,
)  # fmt: skip
