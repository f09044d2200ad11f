"""Packing rectangles: what is found keeps every condition, and what is refused nobody else finds either."""

from collections.abc import Iterator, Sequence
from itertools import combinations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenebook.errors import ScenebookError
from scenebook.planning.feet import distance
from scenebook.planning.packing import Answer, Board, Box, Piece, Spot, Stand, Wishes, least_board, packed

SIDE = st.integers(1, 4)


def turning(width: int, depth: int) -> Piece:
    """A piece that may stand straight or turned, its foot in the middle of its front edge."""
    return Piece(
        (
            Stand(width, depth, feet=Box(width // 2, 0, width // 2, 0)),
            Stand(depth, width, feet=Box(0, width // 2, 0, width // 2)),
        )
    )


PIECES = st.lists(st.builds(turning, SIDE, SIDE), min_size=1, max_size=4)


def boxes(pieces: Sequence[Piece], spots: Sequence[Spot]) -> Iterator[tuple[Box, Box]]:
    """Yield the outer box and the feet of each piece."""
    for piece, (x, y, number) in zip(pieces, spots, strict=True):
        stand = piece.stands[number]
        feet = stand.feet or Box(0, 0, 0, 0)
        moved = Box(feet.left + x, feet.front + y, feet.right + x, feet.back + y)
        yield Box(x, y, x + stand.width, y + stand.depth), moved


def keeps_all(pieces: Sequence[Piece], spots: Sequence[Spot], board: Board, apart: int) -> bool:
    placed = list(boxes(pieces, spots))
    inside = all(a.left >= 0 and a.front >= 0 and a.right <= board.width and a.back <= board.depth for a, _ in placed)
    return inside and all(
        (a.right <= b.left or b.right <= a.left or a.back <= b.front or b.back <= a.front) and distance(f, g) >= apart
        for (a, f), (b, g) in combinations(placed, 2)
    )


def found_by_trying(pieces: Sequence[Piece], board: Board, apart: int, done: tuple[Spot, ...] = ()) -> bool:
    """Whether any placement at all does: each place on the board for each piece in turn."""
    if len(done) == len(pieces):
        return True
    piece = pieces[len(done)]
    for x, y, number in product(range(board.width), range(board.depth), range(len(piece.stands))):
        spots = (*done, Spot(x, y, number))
        if keeps_all(pieces[: len(spots)], spots, board, apart) and found_by_trying(pieces, board, apart, spots):
            return True
    return False


@settings(max_examples=60)
@given(PIECES, st.integers(2, 6), st.integers(2, 6), st.integers(0, 3))
def test_a_packing_is_found_exactly_where_trying_every_place_finds_one(
    pieces: list[Piece], width: int, depth: int, apart: int
) -> None:
    """A board that is refused for nothing stays in the shop; one that is praised for nothing comes back."""
    board = Board(width, depth)

    answer = packed(pieces, board, apart=apart)

    assert answer.proved
    assert (answer.spots is not None) == found_by_trying(pieces, board, apart)
    if answer.spots is not None:
        assert keeps_all(pieces, answer.spots, board, apart)


@settings(max_examples=25)
@given(PIECES, st.integers(2, 4), st.integers(2, 4))
def test_the_least_larger_board_has_the_least_area_of_all_that_do(pieces: list[Piece], width: int, depth: int) -> None:
    """In whole steps of the two sides."""
    board = Board(width, depth)

    found = least_board(pieces, board, step=2)

    grown = [Board(width + 2 * a, depth + 2 * b) for a in range(9) for b in range(9)]
    doing = [each for each in grown if packed(pieces, each).spots is not None]
    assert found.proved
    assert found.board in doing
    assert found.board.width * found.board.depth == min(each.width * each.depth for each in doing)


def test_clearances_keep_apart_and_hang_over_the_edge() -> None:
    """Between two bare sides lies the gap; at the board's edge nothing is lost for it."""
    bare = Piece((Stand(10, 6, clear=Box(-1, -1, 11, 7)),))

    assert packed([bare, bare], Board(22, 6)).spots is not None
    assert packed([bare, bare], Board(21, 6)) == Answer(None, True, Board(21, 6))
    assert packed([bare], Board(10, 6)).spots == (Spot(0, 0, 0),)


def test_nothing_at_all_fits_everywhere() -> None:
    """A rig whose units all stand beside the board."""
    assert packed([], Board(50, 50)) == Answer((), True, Board(50, 50))


def test_wishes_are_met_where_there_is_room_and_never_in_place_of_fitting() -> None:
    """The pressed piece in front; the first of the signal on the right."""
    foot = Box(2, 0, 2, 0)
    pieces = [Piece((Stand(4, 4, feet=foot),)), Piece((Stand(4, 4, feet=foot),))]

    in_front = packed(pieces, Board(4, 8), wishes=Wishes([0.1, 0.9])).spots
    in_order = packed(pieces, Board(8, 4), wishes=Wishes(order=[(0, 1)])).spots

    assert in_front == (Spot(0, 4, 0), Spot(0, 0, 0))
    assert in_order == (Spot(4, 0, 0), Spot(0, 0, 0))


def test_a_missing_solver_is_told_in_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    """There are systems for which nobody has built it; everything else works there."""
    monkeypatch.setitem(__import__("sys").modules, "ortools.sat.python", None)

    with pytest.raises(ScenebookError, match="OR-Tools is not installed"):
        packed([turning(1, 2)], Board(4, 4))
