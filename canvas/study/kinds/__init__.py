"""Parts and facts of every kind, by family."""

from canvas.study.kinds import (
    access,
    cover,
    crossings,
    gauges,
    gullies,
    heights,
    land,
    pads,
    pits,
    plants,
    ponds,
    services,
    structures,
    swales,
    tracks,
    water,
    writing,
)

ALL = (
    land, pits, heights, cover, access, tracks, crossings, structures, pads, water, gauges, swales,
    gullies, ponds, services, plants, writing,
)  # fmt: skip
