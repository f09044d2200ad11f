"""The path against a brute force over all units together, on random gigs: the same cost, the same refusals (C1, C2)."""

from collections import Counter
from collections.abc import Callable

import pytest

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import CueList
from scenebook.errors import SceneError
from scenebook.model import Library
from tests.support.brute_force import least_cost
from tests.support.build import GIG, RIG
from tests.support.gigs_at_random import gig_at_random
from tests.support.listed import listed_cost


def compiled(library: Library) -> CueList | None:
    """Compile the gig, or nothing where a scene of it cannot be reached."""
    try:
        return compile_gig(library, GIG)
    except SceneError:
        return None


def compared(seeds: range) -> tuple[Counter[str], list[str]]:
    """Return what was counted, and every disagreement in words."""
    counted: Counter[str] = Counter()
    wrong: list[str] = []
    for seed in seeds:
        library = gig_at_random(seed)
        cues, (least, greedy) = compiled(library), least_cost(library, GIG, RIG)
        counted["feasible" if least is not None else "infeasible"] += 1
        counted["greedy is worse"] += least is not None and greedy != least
        if (cues is None) != (least is None):
            wrong.append(f"gig {seed}: {'refused' if cues is None else 'compiled'}, and the least cost is {least}")
        elif cues is not None:
            cost, missed = listed_cost(library, cues)
            wrong += [f"gig {seed}: costs {cost}, and the least is {least}"] if cost != least else []
            wrong += [f"gig {seed}: not reached: {text}" for text in missed]
    return counted, wrong


def test_lists_cost_the_least_that_any_list_can(tell: Callable[[str], None]) -> None:
    """Of 2,000 gigs every list that can be made is the cheapest, and what is refused cannot be played."""
    counted, wrong = compared(range(2000))

    tell(f"{dict(counted)}, {len(wrong)} disagreements with the brute force")
    assert wrong == []
    assert counted["feasible"] >= 1000
    assert counted["greedy is worse"] >= 0.05 * counted["feasible"]


@pytest.mark.benchmark
def test_many_more_lists_cost_the_least_that_any_list_can(tell: Callable[[str], None]) -> None:
    """The same on 40,000 other gigs, for whoever has a minute or two."""
    counted, wrong = compared(range(2000, 42_000))

    tell(f"{dict(counted)}, {len(wrong)} disagreements with the brute force")
    assert wrong == []
