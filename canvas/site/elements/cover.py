"""Land cover and soil as they bear on runoff."""

from __future__ import annotations

from canvas.site.elements.land import GROUP
from canvas.site.fields import choice
from canvas.site.records import AreaElement, element
from canvas.site.storms import CONDITIONS, COVERS, GROUPS


@element(
    "ground_cover", label="Ground cover", plural="Ground covers", geometry="Polygon", group=GROUP
)
class GroundCover(AreaElement):
    """An area of one land cover on one soil: what decides how much of a storm runs off."""

    cover: str = choice("Cover", COVERS, default="pasture")
    group: str = choice(
        "Soil group",
        (*GROUPS, ("pit", "As the nearest test pit found")),
        default="C",
        help="By texture or by a measured rate of soaking; shallow rock or water makes it D",
    )
    condition: str = choice(
        "Condition",
        CONDITIONS,
        default="fair",
        help="How well the cover guards the soil: poor where it is thin or heavily grazed",
    )
