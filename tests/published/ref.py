"""A published value, how closely it is known, and who says so."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Ref:
    """Expected value with the tolerance that follows from its printed digits."""

    value: float
    within: float
    source: str

    def check(self, got: float) -> None:
        """Fail, naming the source, when `got` is not within the tolerance."""
        assert abs(got - self.value) <= self.within, (
            f"got {got}, expected {self.value} ± {self.within} ({self.source})"
        )
