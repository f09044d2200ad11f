"""Keep rows of footswitches apart: a shoe is wide.

Pure geometry and its form for the solver. The distance between two rows is that between two boxes: from corner to
corner where they are apart both ways.
"""

from collections.abc import Iterable
from math import ceil, sqrt
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

__all__ = ["FeetApart", "distance"]

_FAR = 9000  # mm: more than any board is long


class _Edges(Protocol):
    @property
    def left(self) -> int: ...
    @property
    def front(self) -> int: ...
    @property
    def right(self) -> int: ...
    @property
    def back(self) -> int: ...


class _Stand(Protocol):
    @property
    def width(self) -> int: ...
    @property
    def depth(self) -> int: ...
    @property
    def feet(self) -> Any: ...


def distance(one: _Edges, other: _Edges) -> float:
    """Return the mm between two rows of footswitches."""
    across = max(0, one.left - other.right, other.left - one.right)
    along = max(0, one.front - other.back, other.front - one.back)
    return sqrt(across**2 + along**2)


class FeetApart:
    """Keeps rows of footswitches at least `apart` mm from each other in a solver's model."""

    def __init__(self, model: "cp_model.CpModel", apart: int) -> None:
        self._model, self._apart = model, apart
        # how far they must be apart along the board, for each distance across it: exact for whole mm
        self._needed = [ceil(sqrt(apart**2 - across**2)) for across in range(apart + 1)]

    def may_touch(self, one: Iterable[_Stand], other: Iterable[_Stand]) -> bool:
        """Whether two pieces that do not overlap can bring their footswitches too near."""
        others = list(other)
        return any(self._near(a, b) or self._near(b, a) for a in one for b in others)

    def _near(self, a: _Stand, b: _Stand) -> bool:
        """Whether feet can be too near with `b` to the right of `a`, or behind it."""
        if a.feet is None or b.feet is None:
            return False
        beside = a.width - a.feet.right + b.feet.left
        behind = a.depth - a.feet.back + b.feet.front
        return bool(min(beside, behind) < self._apart)

    def keep(self, one: tuple[Any, Any, Any, Any] | None, other: tuple[Any, Any, Any, Any] | None) -> None:
        """Add the condition for two rows, each given by its left, front, right and back edge."""
        if one is None or other is None:
            return
        across = self._gap(one[0], one[2], other[0], other[2])
        along = self._gap(one[1], one[3], other[1], other[3])
        needed = self._model.new_int_var(0, self._apart, "")
        self._model.add_element(across, self._needed, needed)
        self._model.add(along >= needed)

    def _gap(self, low: Any, high: Any, other_low: Any, other_high: Any) -> Any:
        """Return a length that is no more than the gap between two spans, and 0 where they have none."""
        model = self._model
        gap = model.new_int_var(0, self._apart, "")
        above, below = model.new_bool_var(""), model.new_bool_var("")
        model.add(low - other_high >= gap).only_enforce_if(above)
        model.add(other_low - high >= gap).only_enforce_if(below)
        model.add(gap == 0).only_enforce_if(above.negated(), below.negated())
        return gap
