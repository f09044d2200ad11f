"""Which units to choose anew, where several good sets do not agree: a small choice, soon made, that may do better."""

from collections.abc import Iterable

__all__ = ["Merges"]

_FIRST, _MORE = 24, 4  # units to choose among at first; how many more after a choice in vain
_VAIN, _ALL = 4, 10  # choices in vain one after the other; choices at all


class Merges:
    """How many units are chosen anew: more while that finds nothing better, fewer where it takes too long."""

    def __init__(self) -> None:
        """Begin with few."""
        self._most, self._vain, self._all = _FIRST, 0, 0

    @property
    def over(self) -> bool:
        """Whether it has been done, or been in vain, so often that little more is to be hoped for."""
        return self._vain >= _VAIN or self._all >= _ALL

    def note(self, *, better: bool, done: bool) -> None:
        """Hear whether the last choice found a better set, and whether it came to its end."""
        self._all += 1
        self._vain = 0 if better else self._vain + 1
        if not done:
            self._most -= _MORE
        elif not better:
            self._most += _MORE

    def among(self, best: int, others: Iterable[int]) -> int:
        """Return the units on which the best set and some others differ: of the first one, then more while few."""
        differ = 0
        for other in others:
            more = differ | best ^ other
            if differ and more.bit_count() > self._most:
                break
            differ = more
        return differ
