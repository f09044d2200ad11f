"""The smallest cover: as few sets as can be, the earliest of them, and no dependence on the solver's mood."""

import random
from itertools import combinations

import pytest

from scenebook.planning.covering import smallest_cover


def by_trying_all(sets: list[set[int]]) -> tuple[int, ...]:
    """Return the first answer of the smallest size; `combinations` gives them in the order that decides ties."""
    wanted = set().union(*sets)
    return next(
        numbers
        for size in range(len(sets) + 1)
        for numbers in combinations(range(len(sets)), size)
        if set().union(*(sets[number] for number in numbers)) == wanted
    )


@pytest.mark.parametrize("seed", range(60))
def test_it_is_the_first_of_all_that_are_smallest(seed: int) -> None:
    """Tried against every set of sets."""
    chance = random.Random(seed)
    things = range(chance.randint(1, 9))
    sets = [
        {t for t in things if chance.random() < chance.choice([0.1, 0.3, 0.5])} for _ in range(chance.randint(1, 9))
    ]

    assert smallest_cover(sets) == by_trying_all(sets)


def test_nothing_needs_no_set() -> None:
    """A gig with no songs yet."""
    assert smallest_cover([]) == ()
    assert smallest_cover([set(), set()]) == ()


def test_what_is_not_wanted_costs_no_set() -> None:
    """And what no set holds is passed over."""
    assert smallest_cover([{"a"}, {"b"}, {"a", "c"}], {"a", "z"}) == (0,)
