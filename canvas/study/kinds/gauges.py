"""Gauges: where they are, and what they saw in the storm run last."""

from __future__ import annotations

from typing import Any

from canvas.base.fact import Fact
from canvas.site.elements.gauges import Gauge, GaugeLine
from canvas.study.kinds import common
from canvas.study.rains.answers import MODEL
from canvas.study.scene import Parts, Scene, facts_of, parts_of


@parts_of("gauge")
def gauge_parts(item: Gauge, scene: Scene) -> Parts:
    """Return the point."""
    return {"shape": item.geometry}


@parts_of("gauge_line")
def line_parts(item: GaugeLine, scene: Scene) -> Parts:
    """Return the line."""
    return {"shape": item.geometry, "centre_line": item.geometry}


def _seen(ident: str, scene: Scene) -> tuple[dict[str, Any] | None, str]:
    """Return what a gauge saw in the newest run, and which run that was."""
    run = scene.rains().run("")
    if run is None:
        return None, ""
    seen = next((each for each in run.told["gauges"] if each["id"] == ident), None)
    return seen, f"{run.told['storm']['said']}, run of {run.made[:10]}"


def _unseen(basis: str) -> list[Fact]:
    words = "was not there in the last run" if basis else "no storm has been run over the land"
    return [common.words("seen", "In the storm", words)]


def _hours(key: str, label: str, seconds: float) -> Fact:
    return Fact(key, label, seconds / 3600.0, "hours", remark="from the start of the rain",
                decimals=2)  # fmt: skip


@facts_of("gauge")
def gauge_facts(item: Gauge, scene: Scene) -> list[Fact]:
    """Return where it is, and depth, level and speed in the last run."""
    facts = common.point_facts(item.geometry, scene)
    seen, basis = _seen(item.id, scene)
    if seen is None:
        return facts + _unseen(basis)
    return [
        *facts,
        Fact("deepest_m", "Deepest in the storm", seen["deepest_m"], "m", basis=basis,
             remark=MODEL),
        Fact("highest_m", "Highest water level", seen["highest_m"], "m", basis=basis, remark=MODEL),
        Fact("fastest_m_s", "Fastest", seen["fastest_m_s"], "m/s", basis=basis, remark=MODEL),
        _hours("peak_h", "Deepest at", seen["peak_s"]),
    ]  # fmt: skip


@facts_of("gauge_line")
def line_facts(item: GaugeLine, scene: Scene) -> list[Fact]:
    """Return its lengths, and what passed it in the last run."""
    facts = common.line_facts(item.geometry, scene)
    seen, basis = _seen(item.id, scene)
    if seen is None:
        return facts + _unseen(basis)
    return [
        *facts,
        Fact("peak_m3s", "Greatest flow in the storm", seen["peak_m3s"], "m3/s", basis=basis,
             remark=f"below 0: from right to left of the line as drawn; {MODEL}"),
        Fact("volume_m3", "Passed in all", seen["volume_m3"], "m3", basis=basis, remark=MODEL),
        _hours("peak_h", "Greatest at", seen["peak_s"]),
    ]  # fmt: skip
