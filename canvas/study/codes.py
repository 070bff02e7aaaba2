"""The short codes species are known by, on the map and in the schedules."""

from __future__ import annotations

from collections.abc import Iterable


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
