"""A large program solved in two halves side by side, one with a unit carried and one without it: one on each core."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from threading import Lock

from scenebook.planning.formulation import INFINITE
from scenebook.planning.solving import Answer, Model, Watch, solved

__all__ = ["solved_in_halves"]


def solved_in_halves(model: Model, unit: int, *, above: float, seconds: float, watch: Watch) -> Answer:
    """Return the best set of units that is worth more than `above`, as `solved` does, searched for on both sides.

    `unit` is the number of the unit that divides them. `watch` is told by one side at a time, of the greater bound.
    """
    both = _Both(watch)

    def half(carried: int) -> Answer:
        side = replace(model, fixed={**model.fixed, unit: float(carried)})
        answer = solved(side, above=above, seconds=seconds, watch=lambda found, bound: both.told(carried, found, bound))
        both.bounds[carried] = answer.bound
        return answer

    with ThreadPoolExecutor(2) as beside:
        try:
            sides = list(beside.map(half, (0, 1)))
        finally:
            both.over = True  # of what is raised here, such as KeyboardInterrupt, both are to hear
    found = [side.carried for side in sides if side.carried is not None]
    met = tuple(carried for side in sides for carried in side.met)
    bound, proved = max(side.bound for side in sides), all(side.proved for side in sides)
    return Answer(found[0] if found else None, bound, proved, (*met, *found))


class _Both:
    """The bounds of the two sides: no set is worth more than the greater."""

    def __init__(self, watch: Watch) -> None:
        self.bounds = [INFINITE, INFINITE]
        self.over = False
        self._watch, self._lock = watch, Lock()

    def told(self, side: int, carried: int, bound: float) -> bool:
        """Hear of a set and the bound of one side; return whether to go on."""
        with self._lock:
            self.bounds[side] = bound
            if self.over:
                return False
            self.over = True  # should `watch` raise anything
            self.over = not self._watch(carried, max(self.bounds))
            return not self.over
