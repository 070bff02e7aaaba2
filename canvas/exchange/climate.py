"""Reads climate files: daily tables, monthly normals, weather files of a year's hours."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from canvas.base.grid import Floats
from canvas.base.progress import Progress, silent
from canvas.exchange import child
from canvas.exchange.incoming import Skipped

#: Suffixes for a file dialog.
FORMATS = {"Weather file": (".epw",), "Table": (".csv", ".txt", ".tsv")}


@dataclass(frozen=True, slots=True)
class Column:
    """One quantity a climate table can hold, in SI."""

    key: str
    label: str
    unit: str


#: What is understood, with the unit it is kept in. Humidity is a fraction.
COLUMNS: dict[str, Column] = {
    c.key: c
    for c in (
        Column("tmax_c", "highest temperature", "°C"),
        Column("tmin_c", "lowest temperature", "°C"),
        Column("tmean_c", "mean temperature", "°C"),
        Column("t_c", "temperature", "°C"),
        Column("dew_c", "dew point", "°C"),
        Column("rain_mm", "rain", "mm"),
        Column("rh_max", "highest humidity", "fraction"),
        Column("rh_min", "lowest humidity", "fraction"),
        Column("rh_mean", "humidity", "fraction"),
        Column("wind_ms", "wind speed", "m/s"),
        Column("wind_from_deg", "wind direction", "°"),
        Column("sun_h", "sunshine", "h"),
        Column("radiation_mj", "sun's energy", "MJ/m²"),
        Column("beam_mj", "sun's energy facing it", "MJ/m²"),
        Column("diffuse_mj", "sky's energy", "MJ/m²"),
        Column("pressure_kpa", "air pressure", "kPa"),
        Column("et_mm", "reference evapotranspiration", "mm"),
    )
}


@dataclass(frozen=True, slots=True, eq=False)
class ClimateTable:
    """What a climate file holds, in SI; NaN for what is missing."""

    #: "daily", "monthly" or "hourly".
    kind: str
    #: Days, months (1 to 12 as days of year 1) or starts of hours, local standard time.
    when: NDArray[np.datetime64]
    columns: Mapping[str, Floats]
    #: The unit each column was read in.
    units: Mapping[str, str]
    notes: tuple[str, ...] = ()
    skipped: tuple[Skipped, ...] = ()
    name: str = ""
    #: None where the file doesn't say.
    lat_deg: float | None = None
    lon_deg: float | None = None
    height_m: float | None = None
    #: Hours ahead of UTC.
    zone_h: float | None = None
    #: Columns of the file nobody asked for.
    unread: tuple[str, ...] = field(default=())


def read_climate(
    path: Path,
    *,
    units: Mapping[str, str] | None = None,
    progress: Progress = silent,
    limits: child.Limits | None = None,
) -> ClimateTable:
    """Read a climate file in a child process; what kind it is shows from its content.

    Parameters
    ----------
    units : mapping, optional
        Unit by column key ("°F", "in", "mph" …) where the file's headings don't say or say it
        wrongly.

    Raises
    ------
    BadData
        The file can't be read, or holds nothing of a climate.
    """
    child.check_file(path)
    arguments = {"path": str(path.resolve()), "units": dict(units or {})}
    with child.run(
        "climate", arguments, where=path.name, limits=limits, progress=progress
    ) as answer:
        return table_of(answer.data)


def table_of(data: Mapping[str, object]) -> ClimateTable:
    """Return a table from the plain data a reader hands over."""
    found: dict[str, object] = dict(data)
    columns = found["columns"]
    skipped = found["skipped"]
    assert isinstance(columns, dict)
    assert isinstance(skipped, list)
    found["columns"] = {
        key: np.array([np.nan if v is None else v for v in values], dtype=np.float64)
        for key, values in columns.items()
    }
    kind = str(found["kind"])
    found["when"] = np.array(found["when"], dtype="datetime64[m]" if kind == "hourly" else "M8[D]")
    found["skipped"] = tuple(Skipped(place, why) for place, why in skipped)
    for key in ("notes", "unread"):
        found[key] = tuple(found[key])  # type: ignore[arg-type]
    return ClimateTable(**found)  # type: ignore[arg-type]


def table_of_text(text: str, units: Mapping[str, str] | None = None) -> ClimateTable:
    """Return a table typed or pasted by the person: months down or across, or days.

    Raises `BadData` where the text holds nothing of a climate.
    """
    from canvas.exchange.readers import climate_table

    return table_of(climate_table.read_text(text, units or {}, []))
