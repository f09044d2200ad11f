"""Rows on levels of likeness, and a choice above a worth: what they leave out is never better."""

import os
import random
import signal
import threading
from collections.abc import Callable
from functools import partial
from time import perf_counter

import pytest

from scenebook.planning.choice import Search
from scenebook.planning.halves import solved_in_halves
from scenebook.planning.levels import Levels
from scenebook.planning.limits import read_limits
from scenebook.planning.picking import question
from scenebook.planning.solving import Answer, Model, Relaxation, quiet, solved
from scenebook.planning.within import Within
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


@pytest.mark.parametrize("seed", range(3))
def test_a_program_asked_in_two_halves_has_the_answer_of_the_whole(seed: int) -> None:
    """Whichever unit divides it; where nothing is better that is said, and the bound is that of the greater half."""
    search, within = _search(seed)
    limits = [(0.0, dict(enumerate(limit.counts)), limit.most) for limit in within.limits]
    model = Model(search.program.costs, [*search.program.rows, *limits], 12)
    best = solved(model, seconds=60)
    told: list[float] = []

    def watch(carried: int, bound: float) -> bool:
        told.append(bound)
        return True

    for unit in range(0, 12, 3):
        less = solved_in_halves(model, unit, above=best.bound - 0.5, seconds=60, watch=watch)
        more = solved_in_halves(model, unit, above=best.bound + 0.5, seconds=60, watch=watch)

        assert (less.proved, more.proved) == (True, True)
        assert less.bound == pytest.approx(best.bound)
        assert less.met
        assert more.bound == pytest.approx(best.bound + 0.5)


def test_two_halves_end_when_they_are_told_to() -> None:
    """Neither goes on alone, and nothing is said to be proved."""
    asked = question(wall(40, 200, 1), limits=read_limits(["units=12", "weight=9kg"], wall(40, 200, 1).units))
    model = Model(asked.search.program.costs, asked.search.program.rows, 40)

    found = solved_in_halves(model, 0, above=0.0, seconds=60, watch=lambda carried, bound: False)

    assert not found.proved


def test_what_is_printed_is_kept_away_while_any_solver_works_and_comes_back_with_the_last(
    capfd: pytest.CaptureFixture[str],
) -> None:
    """Two may work at once, in threads of their own."""
    with quiet:
        os.write(1, b"one ")
        with quiet:
            os.write(1, b"two ")
        os.write(1, b"three ")
    os.write(1, b"four")

    assert capfd.readouterr().out == "four"


def test_a_half_in_which_no_set_keeps_the_limits_raises_no_bound() -> None:
    """A unit that is over a limit alone divides as any does: its half ends before the solver has a number for it."""
    search, within = _search(0)
    limits = [(0.0, dict(enumerate(limit.counts)), limit.most) for limit in within.limits]
    limits[1][1][0] = within.limits[1].most + 1.0
    model = Model(search.program.costs, [*search.program.rows, *limits], 12)
    best = solved(model, seconds=60)

    less = solved_in_halves(model, 0, above=best.bound - 0.5, seconds=60, watch=lambda carried, bound: True)
    more = solved_in_halves(model, 0, above=best.bound + 0.5, seconds=60, watch=lambda carried, bound: True)

    assert (less.proved, more.proved) == (True, True)
    assert less.bound == pytest.approx(best.bound)
    assert more.bound == pytest.approx(best.bound + 0.5)


def _large() -> Model:
    library = wall(120, 600, 1)
    asked = question(library, limits=wall_limits(library))
    limits = [(0.0, dict(enumerate(limit.counts)), limit.most) for limit in asked.within(*asked.limits).limits]
    return Model(asked.search.program.costs, [*asked.search.program.rows, *limits], 120)


@pytest.mark.parametrize("solve", [solved, partial(solved_in_halves, unit=0)], ids=["whole", "halves"])
def test_what_is_raised_by_who_watches_ends_the_solver_and_is_raised_anew(solve: Callable[..., Answer]) -> None:
    """A second Ctrl-C: the solver swallowed it and had no bound, which was then taken for a proof."""

    def watch(carried: int, bound: float) -> bool:
        raise KeyboardInterrupt

    start, before = perf_counter(), threading.active_count()
    with pytest.raises(KeyboardInterrupt):
        solve(_large(), above=0.0, seconds=60, watch=watch)

    assert perf_counter() - start < 20
    assert threading.active_count() == before


def test_ctrl_c_ends_both_halves_though_nobody_hears_it_for_them() -> None:
    """It comes to the thread that waits for them."""
    begun = threading.Event()

    def watch(carried: int, bound: float) -> bool:
        begun.set()
        return True

    def press() -> None:
        begun.wait()
        signal.pthread_kill(threading.main_thread().ident or 0, signal.SIGINT)

    threading.Thread(target=press, daemon=True).start()
    start = perf_counter()
    with pytest.raises(KeyboardInterrupt):
        solved_in_halves(_large(), 0, above=0.0, seconds=60, watch=watch)

    assert perf_counter() - start < 20
