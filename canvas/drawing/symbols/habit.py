"""Which crown a tree is drawn with, and the short code it is known by on the map."""

from __future__ import annotations

from collections.abc import Iterable

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


def short_code(species: str, epithet_letters: int = 2) -> str:
    """Return a code from the botanical name: "Quercus ilex" is "QuIl"; "" when unnamed."""
    words = [w for w in species.replace("×", " ").split() if w.lower() != "x" and w[:1].isalpha()]
    if not words:
        return ""
    genus = words[0][:2].capitalize()
    return genus + (words[1][:epithet_letters].capitalize() if len(words) > 1 else "")


def codes(names: Iterable[str]) -> dict[str, str]:
    """Return a code for each species; those that would share one get more letters each.

    Names alike to the last letter share a code: they are one species.
    """
    wanted = sorted({name for name in names if name.strip()})
    found: dict[str, str] = {}
    taken: dict[str, str] = {}
    for name in wanted:
        for letters in range(2, 12):
            code = short_code(name, letters)
            if taken.get(code, name) == name:
                break
        else:
            code = f"{short_code(name)}{len(found) + 1}"
        taken[code] = name
        found[name] = code
    return found
