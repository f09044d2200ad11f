"""Which units to choose anew among while all others stay as they are: a small choice, soon made, that may do better."""

import random
from collections.abc import Sequence

__all__ = ["few_units"]

_ANY = 0.3  # how much chance counts beside what is doubtful
_SOME = 1e-6


def few_units(pick: random.Random, shares: Sequence[float], carried: int, count: int) -> int:
    """Return some units by chance, of those that an answer in part carries some of, or that the best so far carries.

    Those on which the two differ most come most often: there the best so far may be wrong.
    """
    doubts: dict[int, float] = {}
    for number, share in enumerate(shares):
        there = carried >> number & 1
        if there or share > _SOME:
            doubts[number] = pick.random() * (_ANY + abs(share - there))
    return sum(1 << number for number in sorted(doubts, key=lambda number: -doubts[number])[:count])
