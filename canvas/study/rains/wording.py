"""A kept run in words and tables: what the page, the command line and the sheet all say."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from canvas.base.quantity import UnitSystem, show
from canvas.study.rains.keep import SavedRun

#: Places of first overtopping listed.
MOST_PLACES = 40


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the water's books."""

    label: str
    volume_m3: float
    #: Of all that came; None where a share says nothing.
    share: float | None


def clock(seconds: float) -> str:
    """Return a time since the start of the rain as hours and minutes."""
    minutes = round(seconds / 60.0)
    return f"{minutes // 60}:{minutes % 60:02d} h"


def books(run: SavedRun) -> tuple[Line, ...]:
    """Return where the water came from and went."""
    told = run.told["books_m3"]
    came = max(told["start"] + told["rain"], 1e-9)
    rows = (
        ("Stood in ponds", "start"), ("Rain", "rain"), ("Kept by soil and leaves", "lost"),
        ("Soaked in where it stood", "soaked"), ("Left the land", "ran_off"),
        ("Stands at the end", "standing"), ("Not accounted for", "error"),
    )  # fmt: skip
    return tuple(Line(label, float(told[key]), float(told[key]) / came) for label, key in rows)


def title(run: SavedRun) -> str:
    """Return which run it is, in one line."""
    return f"{run.told['storm']['said']}, {run.told['cell_m']:g} m cells"


def overtopped(run: SavedRun) -> list[dict[str, Any]]:
    """Return what was first overtopped where, the first first."""
    return list(run.told["overtopped"][:MOST_PLACES])


def place_words(row: dict[str, Any]) -> str:
    """Return what was overtopped: "Swale Top swale, over its sill"."""
    return f"{row['kind']} {row['name']}".strip() + f", over its {row['over']}"


def gauge_words(row: dict[str, Any], units: UnitSystem) -> str:
    """Return what a gauge saw."""
    if "peak_m3s" in row:
        return (
            f"greatest {show(row['peak_m3s'], 'm3/s', units)} at {clock(row['peak_s'])}, "
            f"{show(row['volume_m3'], 'm3', units)} in all"
        )
    return (
        f"deepest {show(row['deepest_m'], 'm', units)} at {clock(row['peak_s'])}, "
        f"level {show(row['highest_m'], 'm', units)}, "
        f"fastest {show(row['fastest_m_s'], 'm/s', units)}"
    )


def summary(run: SavedRun, units: UnitSystem, stale: str = "") -> list[str]:
    """Return a run in lines of text."""
    told = run.told
    lines = [title(run), *([stale] if stale else [])]
    for word, key, unit in (("Deepest", "deepest", "m"), ("Fastest", "fastest", "m/s")):
        at = told[key]
        lines.append(
            f"{word}: {show(at['value'], unit, units)} at E {at['x_m']:.1f} m, N {at['y_m']:.1f} m"
        )
    lines.append(f"Greatest flow off the land: {show(told['greatest_off_m3s'], 'm3/s', units)}")
    lines += [
        f"  {each.label:<26} {show(each.volume_m3, 'm3', units, 2):>16}  "
        f"{show(each.share, '%', units, 4 if each.label.startswith('Not') else 1)}"
        for each in books(run)
    ]
    rows = overtopped(run)
    if rows:
        lines.append("First overtopped:")
    for row in rows:
        lines.append(
            f"  {clock(row['first_s']):>8}  {place_words(row)}, "
            f"{show(row['volume_m3'], 'm3', units)} in all, at E {row['x_m']:.1f} m, "
            f"N {row['y_m']:.1f} m"
        )
    if told["gauges"]:
        lines.append("Gauges:")
    for row in told["gauges"]:
        lines.append(f"  {row['name'] or row['id']}: {gauge_words(row, units)}")
    return [*lines, *(f"({remark})" for remark in told["remarks"]), told["caution"]]
