"""Every module that declares a kind of element, in the order kinds are listed."""

from canvas.site.elements import (
    access,
    building,
    land,
    services,
    vegetation,
    water,
    writing,
)

MODULES = (land, access, building, water, services, vegetation, writing)
