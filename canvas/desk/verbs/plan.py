"""Actions on the plan's checks, phases, tables and sheet."""

from __future__ import annotations

from canvas.desk.actions import Needs, Record

RECORDS: tuple[Record, ...] = (
    Record("page.findings", "&Findings", "What does not meet its rules, and where",
           lambda d: d.open_page("findings"), "&Check", "Ctrl+F", "findings", Needs.SITE, 1),
    Record("check.next", "&Next finding", "Show the next finding on the map",
           lambda d: d.step_finding(1), "&Check", "F8", "down", Needs.SITE, 1),
    Record("check.previous", "&Previous finding", "Show the finding before",
           lambda d: d.step_finding(-1), "&Check", "Shift+F8", "up", Needs.SITE, 1),
    Record("page.rules", "&Rules and limits", "Rule sets, the site's own limits, and waivers",
           lambda d: d.open_page("rules"), "&Check", "Ctrl+R", "rules", Needs.SITE, 2),
    Record("page.phases", "Ph&ases", "Name and order the phases of the work",
           lambda d: d.open_page("phases"), "&Check", "Ctrl+G, P", "phases", Needs.SITE, 3),
    Record("page.earth", "&Earth balance", "What is dug, filled, brought in and taken away",
           lambda d: d.open_page("earth"), "&Check", "Ctrl+G, E", "earth", Needs.SITE, 3),
    Record("page.levels", "Le&vel book", "Reduce a level book and carry its heights to the plan",
           lambda d: d.open_page("levels"), "&Check", "Ctrl+G, V", "levels", Needs.SITE, 3),
    Record("page.places", "Find a pla&ce", "Look for places for swales, ponds, platforms, tracks",
           lambda d: d.open_page("places"), "&Check", "Ctrl+G, L", "places", Needs.GROUND, 3),
    Record("page.storm", "S&torm", "What a storm fills, what spills and where to",
           lambda d: d.open_page("storm"), "&Check", "Ctrl+G, M", "storm", Needs.SITE, 3),
    Record("page.rain", "Rain on the &land", "Run a storm over the ground and watch its water",
           lambda d: d.open_page("rain"), "&Check", "Ctrl+G, R", "rain", Needs.GROUND, 3),
    Record("page.schedule", "&Schedules", "Tables of what is on the plan",
           lambda d: d.open_page("schedule"), "&Check", "Ctrl+G, T", "schedule", Needs.SITE, 3),
    Record("page.site", "S&ite facts", "Name, grid, datum, ground and areas of the site",
           lambda d: d.open_page("site"), "&Check", "Ctrl+G, S", "settings", Needs.SITE, 3),
    Record("page.sheet", "S&heet", "Lay out and print a true-scale sheet",
           lambda d: d.open_page("sheet"), "&Check", "Ctrl+G, H", "sheet", Needs.SITE, 3),
)  # fmt: skip
