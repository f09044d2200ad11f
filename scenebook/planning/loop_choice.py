"""Choose the loops of a switcher that save most together, from what each would save by itself. Pure and exact.

A loop holds a stretch of the chain, and what one saves does not depend on another: so this is a choice of stretches
that do not overlap, each in a switch of its kind.
"""

from collections.abc import Mapping, Sequence
from functools import cache
from typing import NamedTuple

__all__ = ["Candidate", "best_loops"]


class Candidate(NamedTuple):
    """Units that could share a loop, the kind of switch that it would have, and the presses inside songs it saves."""

    units: tuple[str, ...]
    kind: str
    presses: int


def best_loops(
    candidates: Sequence[Candidate], room: Mapping[str, int], order: Mapping[str, int]
) -> tuple[Candidate, ...]:
    """Return the loops that save most together: of equals fewer shared units, then fewer loops, then the chain.

    Args:
        candidates: each stretch in each kind of switch that it was measured in.
        room: how many switches there are of each kind.
        order: the number of each unit along the chain.
    """
    worth = [each for each in candidates if each.presses > 0]
    worth.sort(key=lambda each: (order[each.units[0]], len(each.units)))
    kinds = tuple(room)

    @cache
    def best_from(at: int, left: tuple[int, ...]) -> tuple[int, int, int, tuple[Candidate, ...]]:
        if at == len(worth) or not any(left):
            return 0, 0, 0, ()
        without, each = best_from(at + 1, left), worth[at]
        kind = kinds.index(each.kind)
        if not left[kind]:
            return without
        end = order[each.units[-1]]
        after = next((n for n in range(at, len(worth)) if order[worth[n].units[0]] > end), len(worth))
        less = (*left[:kind], left[kind] - 1, *left[kind + 1 :])
        saved, shared, used, rest = best_from(after, less)
        with_it = (saved + each.presses, shared + 1 - len(each.units), used - 1, (each, *rest))
        return max(with_it, without, key=lambda found: found[:3])

    return best_from(0, tuple(room.values()))[3]
