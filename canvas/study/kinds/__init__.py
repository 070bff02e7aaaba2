"""Parts and facts of every kind, by family."""

from canvas.study.kinds import (
    access,
    land,
    plants,
    services,
    structures,
    water,
    writing,
)

ALL = (land, access, structures, water, services, plants, writing)
