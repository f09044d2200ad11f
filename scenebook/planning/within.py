"""What a choice of units has to keep, in numbers."""

from typing import NamedTuple

from scenebook.planning.instance import each_bit

__all__ = ["Bounded", "Within"]


class Bounded(NamedTuple):
    """A limit in numbers: what each unit of the question counts, and how much all may count."""

    counts: tuple[float, ...]
    most: float

    def of(self, carried: int) -> float:
        """Return what a set of units counts."""
        return sum(self.counts[number] for number in each_bit(carried))


class Within(NamedTuple):
    """What a choice has to keep: limits, units that must be carried and units that must not, as bits."""

    limits: tuple[Bounded, ...] = ()
    must: int = 0
    never: int = 0

    def fits(self, carried: int) -> bool:
        """Whether a set of units keeps all of it."""
        if self.must & ~carried or self.never & carried:
            return False
        return all(limit.of(carried) <= limit.most + 1e-9 for limit in self.limits)
