"""Every module that declares a kind of element, in the order kinds are listed."""

from canvas.site.elements import (
    access,
    building,
    cover,
    earthworks,
    land,
    services,
    vegetation,
    water,
    writing,
)

MODULES = (land, cover, access, building, earthworks, water, services, vegetation, writing)
