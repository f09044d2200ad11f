"""Bettering an arrangement: it keeps every condition, is never liked less, and is the same on every run."""

from hypothesis import given, settings
from hypothesis import strategies as st

from scenebook.planning.arranging import arranged
from scenebook.planning.packing import Board, Box, Piece, Spot, Stand, Wishes, packed
from scenebook.planning.wishes import End, Near, cost
from tests.planning.test_packing import keeps_all, turning

SIDE = st.integers(1, 4)
PIECES = st.lists(st.builds(turning, SIDE, SIDE), min_size=2, max_size=5)


def wishes_for(pieces: list[Piece]) -> Wishes:
    """A chain from right to left, its leads from corner to corner, the later the more pressed."""
    ends = [End(at, tuple((0, 0) for _ in piece.stands)) for at, piece in enumerate(pieces)]
    steps = list(zip(range(len(pieces)), range(1, len(pieces)), strict=False))
    return Wishes([at / 10 for at in range(len(pieces))], steps, [Near(ends[a], ends[b]) for a, b in steps])


@settings(max_examples=40, deadline=None)
@given(PIECES, st.integers(4, 9), st.integers(4, 9), st.integers(0, 3))
def test_an_arrangement_keeps_every_condition_and_is_never_liked_less(
    pieces: list[Piece], width: int, depth: int, apart: int
) -> None:
    """Whatever is tried on the way."""
    board, wishes = Board(width, depth), wishes_for(pieces)
    spots = packed(pieces, board, apart=apart).spots
    if spots is None:
        return

    found = arranged(pieces, board, spots, wishes, apart=apart, tries=30)

    assert keeps_all(pieces, found, board, apart)
    assert cost(pieces, found, wishes) <= cost(pieces, spots, wishes)
    assert found == arranged(pieces, board, spots, wishes, apart=apart, tries=30)


def test_clearances_are_kept_too() -> None:
    """A gap on every bare side, and none at the board's edges."""
    bare = Piece((Stand(10, 6, clear=Box(-1, -1, 11, 7)),))
    wishes = wishes_for([bare, bare])

    found = arranged([bare, bare], Board(40, 6), (Spot(0, 0, 0), Spot(30, 0, 0)), wishes, apart=0, tries=20)

    assert {abs(found[0].x - found[1].x)} == {12}
    assert found[0].x > found[1].x


def test_the_cost_is_the_sum_of_what_is_liked() -> None:
    """Worked out by hand: 0.5 x 1000 x (3 + 2) to the front; 3 away from it; 2 x 2 mm backwards at 50 each; 4 a mm."""
    foot = Piece((Stand(4, 4, feet=Box(2, 2, 2, 2)),))
    near = Near(End(0, ((0, 0),)), End(1, ((4, 1),)))

    spots = Spot(0, 3, 0), Spot(2, 0, 0)

    assert cost([foot, foot], spots, Wishes([0.5, 0])) == 2500 + 3
    assert cost([foot, foot], spots, Wishes(order=[(0, 1)])) == 200 + 3
    assert cost([foot, foot], spots, Wishes(near=[near])) == 4 * (6 + 2) + 3
