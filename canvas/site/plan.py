"""The plan: every record of a site at one moment. Immutable; an edit makes the next one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TypeVar

from canvas.base.errors import InputError
from canvas.site.edits import Change, Edit
from canvas.site.facts import SITE_ID, Phase, Site
from canvas.site.records import Element, Record, kind_of

R = TypeVar("R", bound=Record)

_NONE: Mapping[str, Record] = {}


class Plan:
    """All records by identity, and by kind. Share it freely between threads."""

    __slots__ = ("_by_kind", "_records")

    def __init__(self, records: Iterable[Record] = ()) -> None:
        self._records: dict[str, Record] = {}
        self._by_kind: dict[str, dict[str, Record]] = {}
        for item in records:
            if item.id in self._records:
                raise InputError(f"two records share the identity {item.id!r}")
            self._records[item.id] = item
            self._by_kind.setdefault(kind_of(item).key, {})[item.id] = item

    def __contains__(self, ident: str) -> bool:
        return ident in self._records

    def __len__(self) -> int:
        return len(self._records)

    def __iter__(self) -> Iterator[Record]:
        return iter(self._records.values())

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Plan) and self._records == other._records

    __hash__ = None  # type: ignore[assignment]

    @property
    def records(self) -> Mapping[str, Record]:
        """Every record by identity."""
        return self._records

    @property
    def site(self) -> Site:
        """The record that holds for the whole site."""
        found = self._records.get(SITE_ID)
        if not isinstance(found, Site):
            raise InputError("the plan has no site record")
        return found

    def get(self, ident: str) -> Record | None:
        """Return a record, or None."""
        return self._records.get(ident)

    def element(self, ident: str) -> Element:
        """Return an element; `InputError` when there is none of that identity."""
        found = self._records.get(ident)
        if not isinstance(found, Element):
            raise InputError(f"no element {ident!r} in the plan")
        return found

    def of(self, cls: type[R]) -> list[R]:
        """Return the records of one class, in the order they were added."""
        return list(self._by_kind.get(kind_of(cls).key, {}).values())  # type: ignore[arg-type]

    def of_kind(self, key: str) -> list[Record]:
        """Return the records of the kind called `key`, in the order they were added."""
        return list(self._by_kind.get(key, {}).values())

    def group(self, key: str) -> Mapping[str, Record]:
        """Return the records of a kind by identity: the same object while none has changed."""
        return self._by_kind.get(key, _NONE)

    def group_keys(self) -> list[str]:
        """Return the keys of the kinds that have records."""
        return list(self._by_kind)

    def elements(self) -> Iterator[Element]:
        """Yield every element, kind by kind."""
        for group in self._by_kind.values():
            for item in group.values():
                if isinstance(item, Element):
                    yield item

    def phases(self) -> list[Phase]:
        """Return the phases in their order."""
        return sorted(self.of(Phase), key=lambda phase: (phase.place, phase.name))

    def applied(self, edit: Edit) -> Plan:
        """Return the plan after an edit.

        Raises
        ------
        InputError
            A record is not what the edit says it was before.
        """
        made = Plan()
        made._records = dict(self._records)
        made._by_kind = dict(self._by_kind)
        fresh: set[str] = set()
        for change in edit.changes:
            made._apply(change, fresh)
        return made

    def _apply(self, change: Change, fresh: set[str]) -> None:
        found = self._records.get(change.id)
        if found is not change.before and found != change.before:
            raise InputError(f"{change.id}: the plan does not hold what the edit starts from")
        for item in (change.before, change.after):
            key = kind_of(item).key if item is not None else None
            if key is not None and key not in fresh:
                self._by_kind[key] = dict(self._by_kind.get(key, {}))
                fresh.add(key)
        if change.after is None:
            del self._records[change.id]
        else:
            self._records[change.id] = change.after
        if change.before is not None and (
            change.after is None or kind_of(change.before).key != kind_of(change.after).key
        ):
            del self._by_kind[kind_of(change.before).key][change.id]
        if change.after is not None:
            self._by_kind[kind_of(change.after).key][change.id] = change.after

    def with_(self, *items: Record) -> Plan:
        """Return the plan with these records added or replaced: for previews."""
        changes = [Change(self._records.get(item.id), item) for item in items]
        return self.applied(Edit("Preview", tuple(changes)))

    def without(self, *idents: str) -> Plan:
        """Return the plan without these records: for previews."""
        return self.applied(
            Edit("Preview", tuple(Change(self._records[ident], None) for ident in idents))
        )
