"""Which CRS a file is in, and the way from there to the site's."""

from __future__ import annotations

import warnings
from typing import Any

from canvas.base.errors import BadData


def named(crs: Any) -> str:
    """Return a CRS as "EPSG:n" where it has a number, else its name, for people."""
    code = crs.to_authority(min_confidence=70)
    return ":".join(code) if code else str(crs.name)


def understood(text: str, *, what: str = "the file's CRS") -> Any:
    """Return the horizontal `pyproj.CRS` a text names; `BadData` says which text it was.

    The vertical half of a compound CRS is dropped: heights are never converted silently.
    """
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        crs = CRS.from_user_input(text)
    except (CRSError, ValueError, TypeError) as error:
        raise BadData(
            f"{what}, “{text[:80]}”, is not one that is known",
            remedy="Give it by its EPSG number, such as EPSG:7854.",
        ) from error
    if crs.is_compound:
        crs = crs.sub_crs_list[0]
    if crs.is_engineering or crs.type_name == "Vertical CRS":
        raise BadData(
            f"{what}, “{crs.name}”, says nothing about where on Earth it is",
            remedy="Give the CRS its coordinates are really in, such as EPSG:7854.",
        )
    return crs.to_2d() if len(crs.axis_info) == 3 else crs


def asked_for() -> BadData:
    """Return the complaint that a file doesn't say which CRS it is in."""
    return BadData(
        "the file doesn't say which coordinate reference system (CRS) it is in",
        remedy="Give it by its EPSG number, such as EPSG:7854 for GDA2020 MGA zone 54 or "
        "EPSG:4326 for longitude and latitude. Whoever made the file knows it.",
    )


def way(source: Any, target: Any) -> Any:
    """Return the transformer between two CRS, longitude or easting first."""
    from pyproj import Transformer

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return Transformer.from_crs(source, target, always_xy=True)


def note_on(transformer: Any, source: Any, target: Any) -> str:
    """Return what to mind about a change of datum; "" when it costs less than half a metre."""
    off = float(transformer.accuracy)
    if off < 0.5:
        return ""
    return (
        f"Going from {named(source)} to {named(target)} changes the datum; positions are good to "
        f"about {off:g} m."
    )
