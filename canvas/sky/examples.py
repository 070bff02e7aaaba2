"""Labelled example climates to start from and edit; never taken for a place's own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.base import resources
from canvas.base.errors import BadData
from canvas.sky.climate_record import Normals, Station

FOLDER = "climate"


@dataclass(frozen=True, slots=True)
class Example:
    """One example climate."""

    key: str
    label: str
    #: What it is: invented, or whose record.
    note: str
    #: The class it is meant to show.
    koppen: str
    invented: bool
    normals: Normals


def examples() -> dict[str, Example]:
    """Return the example climates by key, in the order of their names."""
    found = {}
    for path in sorted(resources.path(FOLDER).glob("*.toml")):
        row = resources.toml(f"{FOLDER}/{path.name}")
        station = Station(
            float(row["lat_deg"]),
            float(row["height_m"]),
            wind_height_m=float(row["wind_height_m"]),
            coastal=bool(row["coastal"]),
            name=str(row["label"]),
        )
        columns = {k: np.array(v, dtype=np.float64) for k, v in row["months"].items()}
        normals = Normals(
            station, columns, str(row.get("years", "")), str(row.get("source", "")), example=True
        )
        found[path.stem] = Example(
            path.stem,
            str(row["label"]),
            str(row["note"]),
            str(row["koppen"]),
            bool(row["invented"]),
            normals,
        )
    return found


def example(key: str) -> Example:
    """Return the example called `key`; `BadData` lists those there are."""
    found = examples()
    if key not in found:
        raise BadData(
            f"there is no example climate called “{key}”", remedy=f"Examples: {', '.join(found)}."
        )
    return found[key]
