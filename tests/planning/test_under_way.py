"""A board's search while it is watched: what it tells, and what is left of it when it is stopped."""

import threading
from collections.abc import Callable

import pytest

from scenebook.planning.board import BoardPlan, plan_board, read_board
from scenebook.planning.packing import Board, Piece, Stand, Wishes, least_board, packed
from scenebook.planning.under_way import Progress, UnderWay
from tests.demo_library.reading import demo_library
from tests.planning.test_board import PATIENT, faults
from tests.planning.test_packing import turning

EFFORT = 0.5
LAID, SOLVED = "900x450", "780x400"  # of the hall board: laid at once; only the solver finds an arrangement


def watched(size: str, watch: Callable[[Progress], bool] | None, *, effort: float = EFFORT) -> BoardPlan:
    return plan_board(demo_library(), "hall board", read_board(size), seconds=PATIENT, effort=effort, watch=watch)


@pytest.fixture
def _soon_at_the_proof(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let little be tried before the solver begins to prove, which then has long to do."""
    monkeypatch.setattr("scenebook.planning.packing.TRIES", 1)


def noting(told: list[Progress]) -> Callable[[Progress], bool]:
    """Return a watch that notes all it is told and never says to stop."""

    def watch(far: Progress) -> bool:
        told.append(far)
        return True

    return watch


def until(count: int) -> Callable[[Progress], bool]:
    """Return a watch that says to go on so many times."""
    looks = iter(range(count))
    return lambda far: next(looks, None) is not None


def test_who_watches_changes_nothing_and_hears_of_ever_better_ones_down_to_the_bound() -> None:
    """The same board with somebody at the terminal and without, on a busy machine too: effort is counted, not time."""
    told: list[Progress] = []

    plan = watched(LAID, noting(told))

    assert plan == watched(LAID, None)
    assert not plan.stopped
    best = [far.best for far in told if far.best is not None]
    assert len(set(best)) > 1
    assert best == sorted(best, reverse=True)
    assert told[0].best is None
    assert all(far.bound <= far.best for far in told if far.bound is not None and far.best is not None)
    assert [far.seconds for far in told] == sorted(far.seconds for far in told)


@pytest.mark.parametrize("looks", [6, 12, 40, 70])
def test_stopped_anywhere_the_best_arrangement_so_far_keeps_every_condition(looks: int) -> None:
    """While arrangements are laid, and while they are bettered."""
    plan = watched(LAID, until(looks))

    assert (plan.fits, plan.best, plan.stopped) == (True, False, True)
    assert faults(plan) == []


@pytest.mark.usefixtures("_soon_at_the_proof")
@pytest.mark.parametrize("size", [LAID, SOLVED])
def test_stopped_while_the_solver_betters_it_the_best_so_far_is_kept(size: str) -> None:
    """It is ended within a look or two, and gives the best that it has."""
    plan = watched(size, lambda far: far.bound is None, effort=20)

    assert plan.fits
    assert plan.stopped
    assert faults(plan) == []


@pytest.mark.parametrize(("size", "looks"), [(LAID, 0), (LAID, 1), (LAID, 3), (SOLVED, 2), (SOLVED, 10), (SOLVED, 30)])
def test_stopped_before_there_is_any_arrangement_nothing_is_claimed(size: str, looks: int) -> None:
    """Neither that it fits nor that it does not, and no larger board."""
    plan = watched(size, until(looks))

    assert (plan.fits, plan.placed, plan.leads, plan.larger) == (None, (), (), None)
    assert plan.stopped


def test_stopped_while_a_larger_board_is_looked_for_the_least_so_far_does() -> None:
    """That it does not fit is proved by then, and stays so; that no smaller one does is not claimed."""
    plan = watched("500x400", lambda far: far.larger is None)

    assert plan.fits is False
    assert plan.larger is not None
    assert plan.stopped
    assert not plan.larger_is_least
    assert watched(f"{plan.larger.width}x{plan.larger.depth}", None).fits


def test_a_larger_board_is_told_with_its_area_and_the_least_that_is_possible() -> None:
    """In mm² both."""
    told: list[Progress] = []
    pieces = [turning(30 + 7 * at, 20 + 5 * at) for at in range(6)]

    found = least_board(pieces, Board(60, 60), way=UnderWay(noting(told)))

    assert found.proved
    for far in told:
        assert (far.best is None) == (far.larger is None)
        if far.larger is not None:
            assert far.best == far.larger.width * far.larger.depth
            assert far.bound is None or far.bound <= found.board.width * found.board.depth <= far.best


@pytest.mark.usefixtures("_soon_at_the_proof")
def test_what_is_raised_by_who_watches_ends_the_solver_at_once() -> None:
    """A second Ctrl-C: nothing is kept, and nothing goes on working."""
    before = threading.active_count()

    def twice(far: Progress) -> bool:
        if far.bound is not None:
            raise KeyboardInterrupt
        return True

    with pytest.raises(KeyboardInterrupt):
        watched(LAID, twice, effort=20)
    assert threading.active_count() == before


def test_once_stopped_no_further_search_is_begun() -> None:
    """One Ctrl-C is for all that is still to come."""
    way = UnderWay(lambda far: False)

    assert packed([turning(1, 2)], Board(4, 4), wishes=Wishes(), way=way).spots is None
    assert way.stopped
    assert least_board([Piece((Stand(8, 8),))], Board(4, 4), way=way).spots is None
    assert packed([Piece((Stand(8, 8),))], Board(4, 4), way=way).proved  # that it is too large needs no search
    assert packed([], Board(4, 4), way=way).spots == ()
