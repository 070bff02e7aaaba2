"""Which crown a tree is drawn with."""

from __future__ import annotations

#: Genera of needle- and scale-leaved trees, drawn with a spiked crown; general botany, from memory.
CONIFERS = frozenset(
    (
        "abies",
        "agathis",
        "allocasuarina",
        "araucaria",
        "callitris",
        "calocedrus",
        "casuarina",
        "cedrus",
        "chamaecyparis",
        "cryptomeria",
        "cupressus",
        "cupressocyparis",
        "juniperus",
        "larix",
        "metasequoia",
        "picea",
        "pinus",
        "podocarpus",
        "pseudotsuga",
        "sequoia",
        "sequoiadendron",
        "taxodium",
        "taxus",
        "thuja",
        "tsuga",
        "widdringtonia",
    )
)
#: Genera of palms and tree ferns; general botany, from memory.
PALMS = frozenset(
    (
        "archontophoenix",
        "brahea",
        "butia",
        "chamaerops",
        "cocos",
        "cordyline",
        "cyathea",
        "dicksonia",
        "jubaea",
        "livistona",
        "phoenix",
        "sabal",
        "syagrus",
        "trachycarpus",
        "washingtonia",
    )
)

#: Stature by height at maturity [m]: below the first shrub, below the second small tree.
SHRUB_BELOW_M = 3.0
SMALL_BELOW_M = 8.0


def crown_design(species: str, height_m: float | None, crown_m: float) -> str:
    """Return the design of a crown by habit and stature.

    An unknown height is guessed from the crown's breadth: trees are rarely broader than tall.
    """
    words = [word for word in species.lower().replace("×", " ").split() if word != "x"]
    genus = words[0] if words else ""
    if genus in CONIFERS:
        return "crown_conifer"
    if genus in PALMS:
        return "crown_palm"
    height = height_m if height_m is not None else crown_m * 1.2
    if height < SHRUB_BELOW_M:
        return "crown_shrub"
    return "crown_small" if height < SMALL_BELOW_M else "crown_broad"


def crown_role(height_m: float | None, crown_m: float) -> str:
    """Return the ink of a crown's fill by stature: the taller the darker."""
    height = height_m if height_m is not None else crown_m * 1.2
    if height < SHRUB_BELOW_M:
        return "tree_low"
    return "tree_mid" if height < SMALL_BELOW_M else "tree_high"
