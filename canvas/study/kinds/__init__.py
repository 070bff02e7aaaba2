"""Parts and facts of every kind, by family."""

from canvas.study.kinds import (
    access,
    land,
    pads,
    plants,
    services,
    structures,
    water,
    writing,
)

ALL = (land, access, structures, pads, water, services, plants, writing)
