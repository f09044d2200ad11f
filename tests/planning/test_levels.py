"""Rows on levels of likeness, and small choices on the way to a large one: what they leave out is never better."""

import random

import pytest

from scenebook.planning.choice import Search, Within
from scenebook.planning.instance import each_bit
from scenebook.planning.levels import Levels
from scenebook.planning.limits import read_limits
from scenebook.planning.nearby import few_units
from scenebook.planning.picking import question
from scenebook.planning.solving import Model, Relaxation, solved
from tests.benchmarks.walls import wall, wall_limits


def _search(seed: int) -> tuple[Search, Within]:
    library = wall(12, 40, seed)
    limits = read_limits(["units=4", "weight=3kg"], library.units)
    asked = question(library, limits=limits)
    return asked.search, asked.within(*limits)


def _model(search: Search, carried: int | None = None) -> Model:
    count = len(search.instance.units)
    fixed = {} if carried is None else {number: float(carried >> number & 1) for number in range(count)}
    return Model(search.program.costs, search.program.rows, count, fixed)


@pytest.mark.parametrize("seed", range(6))
def test_rows_on_levels_lower_the_bound_and_take_nothing_from_a_whole_set(seed: int) -> None:
    """A set of whole units comes to the same with the rows as without, whichever it is; units in part to less."""
    search, _ = _search(seed)
    levels, pick = Levels(search.program), random.Random(seed)
    sets = [sum(1 << number for number in pick.sample(range(12), pick.randint(2, 6))) for _ in range(20)]
    before = [Relaxation(_model(search, carried)).solved()[1] for carried in sets]
    fractions = [pick.random() for _ in range(12)]
    part = Model(search.program.costs, search.program.rows, 0, dict(enumerate(fractions)))
    values, whole = Relaxation(part).solved()

    rows = levels.broken(values)
    search.program.rows += rows

    assert rows
    assert Relaxation(Model(part.costs, search.program.rows, 0, part.fixed)).solved()[1] < whole
    after = [Relaxation(_model(search, carried)).solved()[1] for carried in sets]
    assert after == pytest.approx(before)


def test_an_answer_goes_on_when_rows_are_added() -> None:
    """A model that is kept comes to what one made anew comes to."""
    search, _ = _search(1)
    kept = Relaxation(_model(search))
    free, _ = kept.solved()
    row = (-1.0, dict.fromkeys(range(12), 1.0), 3.0)

    kept.add([row])

    anew = Model(search.program.costs, [*search.program.rows, row], 12)
    assert sum(free[:12]) > 3
    assert kept.solved()[1] == pytest.approx(Relaxation(anew).solved()[1])


@pytest.mark.parametrize("seed", range(6))
def test_above_a_worth_a_better_set_is_found_where_there_is_one_and_else_it_is_said(seed: int) -> None:
    """Branches that promise no more than is known are not searched: the answer is as sure as without."""
    search, within = _search(seed)
    limits = [(0.0, dict(enumerate(limit.counts)), limit.most) for limit in within.limits]
    model = Model(search.program.costs, [*search.program.rows, *limits], 12)
    best = solved(model, seconds=60)
    assert best.carried is not None

    less = solved(model, above=best.bound - 0.5, seconds=60)
    more = solved(model, above=best.bound + 0.5, seconds=60)

    assert less.proved
    assert less.bound == pytest.approx(best.bound)
    assert less.carried is not None
    assert within.fits(less.carried)
    assert more.proved
    assert more.bound == pytest.approx(best.bound + 0.5)


def test_a_large_choice_is_close_to_the_best_or_proved(monkeypatch: pytest.MonkeyPatch) -> None:
    """Taken as large, a small question gets the same answer: it looks near, then close, then proves."""
    for seed in range(3):
        library = wall(16, 60, seed)
        limits = wall_limits(library, share=0.3)
        plain = question(library, limits=limits)
        best = plain.search.best(plain.within(*limits))
        monkeypatch.setattr("scenebook.planning.choice._MANY", -1)
        large = question(library, limits=limits)

        found = large.search.best(large.within(*limits))

        monkeypatch.undo()
        assert found.proved
        assert found.worth == pytest.approx(best.worth)
        assert found.carried == best.carried


def test_the_few_units_are_of_those_that_are_carried_or_could_be() -> None:
    """A unit that neither the best so far nor the answer in part carries stays at home."""
    shares = [0.0, 0.5, 1.0, 0.0, 0.2, 0.0]

    among = few_units(random.Random(1), shares, 0b01001, count=5)
    two = few_units(random.Random(1), shares, 0b01001, count=2)

    assert list(each_bit(among)) == [0, 1, 2, 3, 4]
    assert two.bit_count() == 2
    assert two & ~among == 0
