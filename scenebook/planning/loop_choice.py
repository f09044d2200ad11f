"""Choose the loops of a switcher that save most together, from what each would save by itself. Pure and exact.

A loop holds a stretch of the chain, and what one saves does not depend on another: so this is a choice of stretches
that do not overlap, each in a switch of its kind. The signal goes through a switcher once, from in to out: what stands
between two loops and in none cannot be plugged, so the stretches follow each other.
"""

from collections.abc import Collection, Mapping, Sequence
from functools import cache
from typing import NamedTuple

__all__ = ["Candidate", "best_loops"]


class Candidate(NamedTuple):
    """Units that could share a loop, the kind of switch that it would have, and the presses inside songs it saves."""

    units: tuple[str, ...]
    kind: str
    presses: int


_Found = tuple[int, int, int, tuple[Candidate, ...]]  # presses saved, units shared and loops used (less), the loops


def best_loops(
    candidates: Sequence[Candidate],
    room: Mapping[str, int],
    places: Mapping[str, int],
    must: Collection[str] = (),
    *,
    apart: bool = False,
) -> tuple[Candidate, ...] | None:
    """Return the loops that save most together: of equals fewer shared units, then fewer loops, then the chain.

    None where no choice can be wired.

    Args:
        candidates: each stretch in each kind of switch that it was measured in.
        room: how many switches there are of each kind.
        places: the number of each unit along the chain; of two that follow each other with nothing between them, one
            more. The signal goes through a switcher once, so its loops follow each other.
        must: the kinds of which every switch holds a loop.
        apart: what loops would save that need not follow each other.
    """
    kinds = tuple(room)
    begin: dict[int, list[Candidate]] = {}
    for each in sorted(candidates, key=lambda each: len(each.units)):
        begin.setdefault(places[each.units[0]], []).append(each)
    starts = sorted(begin)

    @cache
    def best_from(at: int, left: tuple[int, ...]) -> _Found | None:
        """Return the best from a place on, or that begins right there, where something came before it."""
        ends = not any(left[kinds.index(kind)] for kind in must)
        found: _Found | None = (0, 0, 0, ()) if ends else None
        for each in begin.get(at, ()):
            kind = kinds.index(each.kind)
            if left[kind]:
                less = (*left[:kind], left[kind] - 1, *left[kind + 1 :])
                rest = after(places[each.units[-1]] + 1, less)
                if rest is not None:
                    saved, shared, used, more = rest
                    with_it: _Found = (saved + each.presses, shared + 1 - len(each.units), used - 1, (each, *more))
                    found = with_it if found is None or with_it[:3] > found[:3] else found
        return found

    def anywhere(at: int, left: tuple[int, ...]) -> _Found | None:
        able = [found for start in [at, *starts] if start >= at and (found := best_from(start, left)) is not None]
        return max(able, key=lambda found: found[:3], default=None)

    after = anywhere if apart else best_from
    best = anywhere(starts[0] if starts else 0, tuple(room.values()))
    return None if best is None else best[3]
