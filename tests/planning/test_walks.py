"""Walks to a good first set of units, and choosing anew what they do not agree on, on the way to a large choice."""

from itertools import islice

import pytest

from scenebook.planning.annealing import annealed
from scenebook.planning.choice import Progress, Search
from scenebook.planning.kept import KeptModel, Relaxed
from scenebook.planning.merging import Merges
from scenebook.planning.picking import question
from scenebook.planning.within import Within
from tests.benchmarks.walls import wall, wall_limits

EVERY = (1 << 16) - 1


def _search(seed: int, *, mean: bool = False) -> tuple[Search, Within]:
    library = wall(16, 60, seed)
    limits = wall_limits(library, share=0.3)
    asked = question(library, limits=limits, mean=mean)
    return asked.search, asked.within(*limits)


def _walks(search: Search, within: Within, among: int = EVERY, steps: int = 2000) -> list[int]:
    walks = annealed(search.instance, within, within.must, among, steps=steps, go_on=lambda _: True)
    return list(islice(walks, 4))


@pytest.mark.parametrize("mean", [False, True], ids=["worst", "mean"])
@pytest.mark.parametrize("seed", range(4))
def test_walks_come_near_the_best_set_and_keep_every_limit(seed: int, *, mean: bool) -> None:
    """On a wall so small that the best is known, the best of four walks is worth nine tenths of it and more."""
    search, within = _search(seed, mean=mean)
    best = search.best(within)

    found = _walks(search, within)

    assert best.proved
    assert all(within.fits(carried) for carried in found)
    assert max(map(search.instance.worth, found)) >= 0.9 * best.worth
    assert max(map(search.instance.worth, found)) <= best.worth + 1e-6


def test_a_walk_takes_in_units_that_it_may_choose_among_and_keeps_those_that_must_be_carried() -> None:
    """What must never be carried stays at home as well, whatever it would be worth."""
    search, within = _search(1)
    kept = within._replace(must=0b1, never=0b110)

    found = _walks(search, kept, among=0b1111111110)

    assert all(carried & 0b1 and not carried & 0b110 and not carried >> 10 for carried in found)
    assert any(carried != 0b1 for carried in found)


def test_the_same_question_has_the_same_walks() -> None:
    """Chance comes from a seed and effort is a number of steps, so a busy machine finds the same sets."""
    assert _walks(*_search(2)) == _walks(*_search(2))


def test_walks_end_at_once_where_they_are_told_to_or_where_nothing_can_come_in() -> None:
    """What was found until then is given."""
    search, within = _search(3)
    told: list[int] = []

    def stop(carried: int) -> bool:
        told.append(carried)
        return False

    stopped = list(annealed(search.instance, within, 0b11, EVERY, steps=500, go_on=stop))
    still = list(annealed(search.instance, within, 0b11, 0b11, steps=500, go_on=lambda _: True))

    assert (stopped, still, told) == ([0b11], [0b11], [0b11])


def test_sets_differ_in_the_units_of_the_newest_first_and_of_more_while_they_are_few() -> None:
    """At least one set has a part, however many units that are."""
    merges = Merges()
    far = (1 << 40) - 1

    assert merges.among(0b0011, [0b0101, 0b1001]) == 0b1110
    assert merges.among(0, [far, 1 << 50]) == far
    assert merges.among(0, [0b1, far]) == 0b1


def test_more_units_are_chosen_anew_after_a_choice_in_vain_and_fewer_after_one_that_took_too_long() -> None:
    """A better set begins the count of those in vain anew; after so many choices little more is to be hoped for."""
    merges = Merges()
    some = (1 << 26) - 1

    before = merges.among(0, [0b1, some])
    merges.note(better=False, done=True)
    after = merges.among(0, [0b1, some])
    merges.note(better=False, done=False)
    again = merges.among(0, [0b1, some])

    assert (before, after, again) == (0b1, some, 0b1)
    for better in (False, True, False, False, False):
        assert not merges.over
        merges.note(better=better, done=True)
    assert not merges.over
    merges.note(better=False, done=True)
    assert merges.over


def test_choosing_anew_ends_though_it_finds_better_sets_each_time() -> None:
    """Whatever is left is for the search that proves."""
    merges = Merges()
    for _ in range(10):
        assert not merges.over
        merges.note(better=True, done=True)
    assert merges.over


@pytest.mark.parametrize("mean", [False, True], ids=["worst", "mean"])
def test_a_large_choice_is_proved_the_same_as_a_small_one(monkeypatch: pytest.MonkeyPatch, *, mean: bool) -> None:
    """Taken as large, a small question gets the same answer: it walks, looks for what is much better, then proves."""
    for seed in range(3):
        search, within = _search(seed, mean=mean)
        best = search.best(within)
        monkeypatch.setattr("scenebook.planning.choice._MANY", -1)

        found = _search(seed, mean=mean)[0].best(within)

        monkeypatch.undo()
        assert found.proved
        assert found.worth == pytest.approx(best.worth)
        assert found.carried == best.carried


@pytest.mark.parametrize("mean", [False, True], ids=["worst", "mean"])
def test_what_is_close_is_not_taken_for_the_best(monkeypatch: pytest.MonkeyPatch, *, mean: bool) -> None:
    """Where nothing half as good again is to be found, a set that is a little better still is."""
    small = [_search(seed, mean=mean) for seed in range(6)]
    worths = [search.best(within).worth for search, within in small]
    monkeypatch.setattr("scenebook.planning.choice.Search._begin", lambda *_: 0.5)

    large = [_search(seed, mean=mean) for seed in range(6)]
    found = [search.best(within, settle=False) for search, within in large]

    assert all(each.proved for each in found)
    assert [each.worth for each in found] == pytest.approx(worths)


@pytest.mark.parametrize("mean", [False, True], ids=["worst", "mean"])
def test_a_large_choice_that_is_stopped_on_its_walks_keeps_the_best_so_far(
    monkeypatch: pytest.MonkeyPatch, *, mean: bool
) -> None:
    """It tells of the bound from the beginning, and what it returns keeps the limits."""
    monkeypatch.setattr("scenebook.planning.choice._MANY", -1)
    search, within = _search(0, mean=mean)
    told: list[Progress] = []

    def stop(far: Progress) -> bool:
        told.append(far)
        return len(told) < 12

    found = search.best(within, watch=stop)

    assert not found.proved
    assert within.fits(found.carried)
    assert found.worth == pytest.approx(search.instance.worth(found.carried))
    assert found.worth <= found.bound
    assert found.worth >= max(far.worth for far in told) - 1e-6
    assert found.bound <= told[0].bound + 1e-6


@pytest.mark.parametrize("mean", [False, True], ids=["worst", "mean"])
@pytest.mark.parametrize("seed", range(2))
def test_the_bound_that_is_told_is_never_below_the_best_so_far(seed: int, *, mean: bool) -> None:
    """Nor while a lighter set is looked for: a bound in grams was told as one of worth."""
    search, within = _search(seed, mean=mean)
    told: list[Progress] = []

    def watch(far: Progress) -> bool:
        told.append(far)
        return True

    found = search.best(within, watch=watch)

    assert found.settled
    assert told[-1].bound == pytest.approx(found.worth)
    assert all(far.bound >= far.worth - 1e-9 for far in told)


@pytest.mark.parametrize("seed", range(3))
def test_a_mean_that_is_stopped_while_a_lighter_set_is_looked_for_is_proved_and_not_settled(seed: int) -> None:
    """Nobody was asked whether to go on there."""
    search, within = _search(seed, mean=True)

    found = search.best(within, watch=lambda far: far.bound > far.worth + 5e-7)

    assert found.proved
    assert not found.settled


def test_a_choice_hears_that_it_is_to_stop_with_its_first_answer_in_part() -> None:
    """On a large library it takes seconds to bound that well; a bound is known all the same."""
    search, within = _search(0)
    told: list[Progress] = []

    def stop(far: Progress) -> bool:
        told.append(far)
        return False

    rows = len(search.program.rows)
    found = search.best(within, watch=stop)

    assert (len(told), found.proved) == (1, False)
    assert len(search.program.rows) == rows
    assert found.worth <= found.bound == told[0].bound


def test_a_mean_that_is_stopped_on_its_walks_asks_the_solver_nothing_more(monkeypatch: pytest.MonkeyPatch) -> None:
    """What a branch on each of thirty units would cost is of no use to a search that has ended."""
    monkeypatch.setattr("scenebook.planning.choice._MANY", -1)
    solves, told, later = KeptModel.solved, list[Progress](), list[KeptModel]()

    def counted(self: KeptModel) -> Relaxed | None:
        later.extend([self] * (len(told) >= 2))
        return solves(self)

    def stop(far: Progress) -> bool:
        told.append(far)
        return len(told) < 2

    monkeypatch.setattr(KeptModel, "solved", counted)
    search, within = _search(0, mean=True)
    search.best(within, watch=stop)

    assert len(told) == 2
    assert later == []
