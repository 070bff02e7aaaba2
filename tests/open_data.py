"""Open data that comes with libraries: a real daily record, a real weather file, real relief."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import matplotlib
import numpy as np
import pytest

from canvas.base.grid import Grid
from canvas.exchange.climate import read_climate
from canvas.sky.climate_record import (
    Daily,
    Hourly,
    Normals,
    Station,
    daily_of_table,
    hourly_of_table,
    normals,
    station_of,
)

#: The record carries no place; the handbook's worked values assume this one.
PORT = Station(47.45, 130.0)


def vega(name: str) -> Path:
    """A file of vega_datasets (its weather tables are public-domain NOAA data)."""
    spec = importlib.util.find_spec("vega_datasets")
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).parent / "_data" / name


def port_days() -> Daily:
    """Four years of days at a north-western American port, 2012 to 2015."""
    return daily_of_table(read_climate(vega("seattle-weather.csv")), PORT)


def port_months() -> Normals:
    """The same as mean months, temperatures and rain only."""
    found = normals(port_days())
    return Normals(PORT, {k: found.columns[k] for k in ("tmax_c", "tmin_c", "rain_mm")})


def weather_file(name: str = "tmy_45.000_8.000_2005_2023.epw") -> Path:
    """A weather file out of pvlib's source package; skips where setting up could not fetch it."""
    path = Path(sys.prefix) / "share" / "open_data" / name
    if not path.exists():
        pytest.skip(f"{name} was not fetched on setting up")
    return path


def weather_hours() -> Hourly:
    """A year of hours at 45° N, 8° E (PVGIS, 2005 to 2023)."""
    table = read_climate(weather_file())
    return hourly_of_table(table, station_of(table, 0.0, 0.0))


RELIEF_EAST_M, RELIEF_NORTH_M = 74.485, 92.458


def relief_heights() -> np.ndarray:
    """Hills around a fault (SRTM, public domain), every 74.485 m east and 92.458 m south."""
    folder = Path(matplotlib.__file__).parent / "mpl-data" / "sample_data"
    with np.load(folder / "jacksboro_fault_dem.npz") as data:
        return np.asarray(data["elevation"], dtype=np.float64)


def real_relief(parts: int = 5, through: int = 0) -> Grid:
    """The same hills on square cells, each row drawn out to `parts`, bilinear between heights.

    An odd number keeps the data's rows in the middle of cells; column `through` is kept so too,
    for a kink of the surface between cells would be rounded off.
    """
    z = relief_heights()
    cell = RELIEF_NORTH_M / parts
    rows = z.shape[0] * parts
    cols = int(z.shape[1] * RELIEF_EAST_M / cell)
    low, part = _places(rows, cell / RELIEF_NORTH_M, z.shape[0])
    tall = z[low] * (1 - part[:, None]) + z[low + 1] * part[:, None]
    place = (through + 0.5) * RELIEF_EAST_M / cell - 0.5
    moved = round(place) - place
    low, part = _places(cols, cell / RELIEF_EAST_M, z.shape[1], moved)
    heights = tall[:, low] * (1 - part) + tall[:, low + 1] * part
    return Grid(heights, moved * -cell, rows * cell, cell)


def _places(
    count: int, step: float, size: int, moved: float = 0.0
) -> tuple[np.ndarray, np.ndarray]:
    at = np.clip((np.arange(count) + 0.5 - moved) * step - 0.5, 0, size - 1.001)
    low = at.astype(int)
    return low, at - low
