"""Puts land and design together into the site that is opened as the sample.

Run from the top folder: ``python -m sample_sites.kestrel_rise.make.site``.
"""

from __future__ import annotations

import shutil

from canvas.exchange.rasters import open_grid
from canvas.site.edits import add
from canvas.site.facts import Ground, Picture, Site, Threshold, Waiver
from canvas.site.session import Session
from canvas.study.land import Land
from canvas.study.study import Study

from . import design, landscape, soundings, surveyed
from .frame import EPSG, NAME

SITE_FOLDER = landscape.FOLDER / "site"
THINNING = "Planted close for straight stems; every second tree comes out in year eight."
MOWING = "The belt is mown, never dug; pipe and cable are marked with posts at its edges."


def main() -> None:
    """Write the site afresh."""
    shutil.rmtree(SITE_FOLDER, ignore_errors=True)
    facts = Site(
        name=NAME,
        crs=f"EPSG:{EPSG}",
        heights_datum="AHD (invented)",
        rule_sets="good_practice,victoria",
        clock_h=10.0,
        designer="The family",
        address="Windmill Road, western Victoria (invented)",
    )
    land = landscape.load()
    grid = open_grid(landscape.GROUND_TIF)
    with Session.start(SITE_FOLDER, facts, design.PHASES) as session:
        ground = Ground(
            file=session.adopt(landscape.GROUND_TIF, stem="ground"),
            name="Ground",
            source="Invented survey, 1 m cells",
            surveyed="2024-03-12",
            accuracy_m=0.10,
            datum="AHD (invented)",
            cell_m=1.0,
        )
        session.apply(add("Bring in the ground", [ground]))
        picture = Picture(
            file=session.adopt(landscape.AERIAL_TIF, stem="aerial"),
            source="Painted from the invented landscape",
            taken="2024-03-12",
            pixel_m=0.25,
        )
        session.apply(add("Bring in the aerial", [picture]))
        session.apply(add("Survey", surveyed.elements(land, grid)))
        session.apply(add("Design", [*soundings.records(grid), *design.elements(land, grid)]))
        session.apply(add("Agree", agreements(session)))
    (SITE_FOLDER / "site.lock").unlink(missing_ok=True)


def agreements(session: Session) -> list[Threshold | Waiver]:
    """Return what the family has settled with itself."""
    limit = Threshold(
        id="mowing_strip",
        rule="good_practice.tree_boundary",
        value=3.0,
        reason="We want to mow along the fence before the fire season.",
    )
    land = Land.load(session.plan, session.folder)
    found = Study(session.plan.with_(limit), land).findings()
    crowded = [
        each
        for each in found
        if each.rule == "good_practice.plants_too_close"
        and all(e.startswith("wood_") for e in each.elements)
    ]
    mown = [
        each
        for each in found
        if each.rule == "good_practice.digging_over_service" and "firebreak" in each.elements
    ]
    waivers = [
        Waiver(id=f"{name}_{number}", finding=each.key, reason=reason, decided="2026-08-30")
        for name, reason, those in (
            ("thinning", THINNING, crowded),
            ("mowing", MOWING, mown),
        )
        for number, each in enumerate(those, start=1)
    ]
    return [limit, *waivers]


if __name__ == "__main__":
    main()
