"""Parts and facts of every kind, by family."""

from canvas.study.kinds import (
    access,
    cover,
    land,
    pads,
    plants,
    services,
    structures,
    tracks,
    water,
    writing,
)

ALL = (land, cover, access, tracks, structures, pads, water, services, plants, writing)
