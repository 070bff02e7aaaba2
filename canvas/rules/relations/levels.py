"""Earthworks that ask different levels of the same place."""

from __future__ import annotations

from canvas.rules.breach import Breach
from canvas.rules.model import Rule
from canvas.rules.relations.spec import Only, Reach, relation
from canvas.rules.scene import Scene

#: A part so named shows where a work undoes the one whose identity follows.
UNDOES = "undoes:"


@relation("keeps_levels", sides="ab", reach=Reach.ALL, unit="m", sense="at most")
def keeps_levels(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where a undoes the level of an earlier work b by more than the limit.

    Part "undoes:IDENT" shows where, the figure `undoes_N_m` by how much, in the parts' order.
    """
    assert rule.limit is not None
    assert rule.b is not None
    earlier = {subject.id for subject in scene.of(rule.b)}
    found = []
    for subject in scene.of(rule.a):
        asked = scene.ask(rule, subject.id)
        places = [name for name in subject.parts if name.startswith(UNDOES)]
        for nth, name in enumerate(places, start=1):
            by, other = subject.number(f"undoes_{nth}_m"), name.removeprefix(UNDOES)
            if by is None or asked is None or by <= asked or other not in earlier:
                continue
            if scene.some_ours(subject.id, other):
                where = subject.parts[name]
                found.append(Breach((subject.id, other), by, asked, rule.limit.unit, where))
    return found
