"""Parts and facts of every kind, by family."""

from canvas.study.kinds import (
    access,
    cover,
    gauges,
    gullies,
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
    land, pits, cover, access, tracks, structures, pads, water, gauges, swales, gullies, ponds,
    services, plants, writing,
)  # fmt: skip
