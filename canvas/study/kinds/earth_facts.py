"""Facts every earthwork has: earth by material, how high and deep, and the trouble if there is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from canvas.base.fact import Fact
from canvas.base.sources import Mark
from canvas.ground.materials import Material
from canvas.ground.patch import Earth, Patch
from canvas.study.earth.registry import Work
from canvas.study.kinds import common
from canvas.study.scene import Scene

IN_BANK = "in the bank"
LOOSE = "loose, as carried"
PLACED = "placed and compacted"
#: Earth lacking by less is none: no level balances to the litre.
EVEN_M3 = 0.5


def trouble(work: Work | None) -> list[Fact]:
    """Return why an element can't be built as drawn; nothing when it can."""
    if work is None or not work.trouble:
        return []
    return [common.words("trouble", "Cannot be built so", work.trouble)]


def earth_facts(patches: Sequence[Patch], earth: Earth, soil: Material, scene: Scene) -> list[Fact]:
    """Return cut and fill in bank, loose and compacted volumes, topsoil, and what is left over.

    ± is what the volumes change by if the whole survey lies higher or lower by its accuracy.
    """
    cut_pm, fill_pm = _plus_minus(patches, scene.terrain.accuracy_m)
    made_of = soil.label.lower()
    left = earth.left_over_m3(soil.compacted_per_bank)
    source, doubt = soil.sources.get("volume", ""), _doubt(soil)
    return [
        Fact("cut_m3", f"Cut, {made_of}", earth.cut_m3, "m3", IN_BANK, cut_pm),
        Fact("cut_loose_m3", "Cut", soil.loose_m3(earth.cut_m3), "m3", LOOSE,
             remark=doubt, source=source),
        Fact("fill_m3", "Fill", earth.fill_m3, "m3", PLACED, fill_pm),
        Fact("fill_bank_m3", "Fill takes", soil.bank_for_m3(earth.fill_m3), "m3", IN_BANK,
             remark=doubt, source=source),
        Fact("left_over_m3", "Earth left over" if left > -EVEN_M3 else "Earth lacking", left, "m3",
             IN_BANK),
        Fact("cut_depth_m", "Deepest cut", earth.deepest_cut_m, "m"),
        Fact("fill_height_m", "Highest fill", earth.highest_fill_m, "m"),
        common.area("moved_m2", "Ground disturbed", earth.area_m2),
        *topsoil_facts(earth),
    ]  # fmt: skip


def topsoil_facts(earth: Earth) -> list[Fact]:
    """Return topsoil taken off, put back and left over; surfacing when there is some."""
    facts = [
        Fact("topsoil_off_m3", "Topsoil stripped", earth.topsoil_off_m3, "m3", IN_BANK),
        Fact("topsoil_back_m3", "Topsoil put back", earth.topsoil_back_m3, "m3"),
        Fact("topsoil_left_m3", "Topsoil left over",
             earth.topsoil_off_m3 - earth.topsoil_back_m3, "m3"),
    ]  # fmt: skip
    if earth.laid_m3:
        facts.append(Fact("laid_m3", "Laid on it", earth.laid_m3, "m3", PLACED))
    return facts


def _plus_minus(
    patches: Sequence[Patch], accuracy_m: float | None
) -> tuple[float | None, float | None]:
    """Return by how much cut and fill change with the survey's height [m³]."""
    if accuracy_m is None:
        return None, None
    cut = fill = 0.0
    for patch in patches:
        levels, ground, cell = patch.levels.z, patch.ground.z, patch.levels.cell_m**2
        cut += float(np.count_nonzero(levels < ground)) * cell
        fill += float(np.count_nonzero(levels > ground)) * cell
    return cut * accuracy_m, fill * accuracy_m


def _doubt(soil: Material) -> str:
    """Return how well a soil's bulking is known; "" when it was read."""
    mark = soil.marks.get("volume", Mark.PRACTICE)
    return "" if mark is Mark.READ else f"bulking: {mark.value}"
