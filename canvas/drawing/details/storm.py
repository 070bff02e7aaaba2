"""The storm's chain of stores as a detail of the whole site."""

from __future__ import annotations

from canvas.drawing.chain_diagram import chain_diagram
from canvas.drawing.details.registry import Detail, site_details_of
from canvas.drawing.entries import Anchor, Entry, Text
from canvas.drawing.flow_chart import flow_chart
from canvas.drawing.shift import shifted
from canvas.drawing.typeface import wrap
from canvas.study.storm.chain import Chain
from canvas.study.storm.chain_facts import CHAIN_KINDS
from canvas.study.storm.told import books, notes
from canvas.study.study import Study

WIDE_MM, HIGH_MM = 150.0, 62.0
LETTERS = 1.7


@site_details_of
def storm_details(study: Study) -> list[Detail]:
    """Return the chain as a diagram with its books, and the flow through the lowest store."""
    if not any(study.of_kind(key) for key in CHAIN_KINDS):
        return []
    chain = study.chain()
    if chain.run is None:
        return []
    units = study.plan.site.unit_system()
    made = chain_diagram(chain, WIDE_MM, HIGH_MM, LETTERS, units)
    words = _words(study, chain)
    foot = len(words) * LETTERS * 1.7 + 2.0
    entries: list[Entry] = [*shifted(made.entries, 0.0, foot)]
    entries += [
        Text(0.0, foot - 2.0 - LETTERS * (0.6 + 1.7 * k), line, LETTERS, "ink_soft", Anchor.LEFT)
        for k, line in enumerate(words)
    ]
    title = f"Storm of {chain.rain.said()}: what fills, spills and goes where"
    found = [Detail(title, tuple(entries), WIDE_MM, made.height_mm + foot)]
    last = chain.order[-1]
    chart = flow_chart(chain, last, 110.0, 48.0, units, LETTERS)
    if chart is not None:
        label = chain.network.nodes[last].label
        found.append(Detail(f"{label}: flow in the storm", chart.entries, 110.0, 48.0))
    return found


def _words(study: Study, chain: Chain) -> tuple[str, ...]:
    told = "; ".join(f"{title.lower()} {value}" for title, value in
                     books(chain, study.plan.site.unit_system()))  # fmt: skip
    whole = ". ".join([told[:1].upper() + told[1:], *(n.rstrip(".") for n in notes(chain))]) + "."
    return wrap(whole, LETTERS, WIDE_MM)
