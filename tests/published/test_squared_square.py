"""The board's own packing against packings that are published.

Sources. The simple perfect squared square of the lowest order, 21 squares in a side of 112: A. J. W. Duijvestijn,
*Simple perfect squared square of lowest order*, Journal of Combinatorial Theory B 25 (1978) 240-243; as problem 009 of
CSPLib (squared_square_112.json, with a placement). The least rectangles that hold the squares of sides 1 to n: sequence
A038666 of the On-Line Encyclopedia of Integer Sequences (their areas), with sides and areas as in R. E. Korf, *Optimal
rectangle packing*, ICAPS 2003 and 2004 (consecutive_squares.csv).
"""

import csv
import json
from collections.abc import Sequence
from itertools import combinations
from pathlib import Path

import pytest

from scenebook.planning.packing import Answer, Board, Piece, Stand, packed

HERE = Path(__file__).parent
SQUARED = json.loads((HERE / "squared_square_112.json").read_text(encoding="utf-8"))
PROVED_LEAST = 8  # up to this n every rectangle of a smaller area is refused as well


def rows() -> list[dict[str, int]]:
    with (HERE / "consecutive_squares.csv").open(encoding="utf-8", newline="") as file:
        return [{key: int(text) for key, text in row.items()} for row in csv.DictReader(file)]


def squares(sizes: Sequence[int]) -> list[Piece]:
    return [Piece((Stand(size, size),)) for size in sizes]


def is_a_packing(answer: Answer, sizes: Sequence[int], board: Board) -> bool:
    if answer.spots is None:
        return False
    places = [(spot.x, spot.y, size) for spot, size in zip(answer.spots, sizes, strict=True)]
    inside = all(x >= 0 and y >= 0 and x + s <= board.width and y + s <= board.depth for x, y, s in places)
    return inside and not any(
        a < c + size_c and c < a + size_a and b < d + size_c and d < b + size_a
        for (a, b, size_a), (c, d, size_c) in combinations(places, 2)
    )


def test_the_published_placement_covers_every_cell_once() -> None:
    """The data itself: 12,544 cells."""
    cells = [(x + i, y + j) for x, y, size in SQUARED["squares"] for i in range(size) for j in range(size)]

    assert len(cells) == len(set(cells)) == SQUARED["side"] ** 2


def test_the_perfect_squared_square_is_packed_without_a_gap() -> None:
    """No clearance at all: the hardest board there is, filled to the last cell."""
    sizes, board = [size for _, _, size in SQUARED["squares"]], Board(SQUARED["side"], SQUARED["side"])

    answer = packed(squares(sizes), board, seconds=120)

    assert is_a_packing(answer, sizes, board)


def test_the_squared_square_is_refused_where_a_single_mm_lacks() -> None:
    """Its area alone says so, and the answer is a proof."""
    sizes = [size for _, _, size in SQUARED["squares"]]

    assert packed(squares(sizes), Board(112, 111)) == Answer(None, True, Board(112, 111))


@pytest.mark.parametrize("row", rows()[:12], ids=lambda row: f"1 to {row['n']}")
def test_squares_fit_the_published_rectangle_and_are_refused_one_less(row: dict[str, int]) -> None:
    """Each of the two sides one less has less area than the least: nothing may be found there."""
    sizes, board = list(range(1, row["n"] + 1)), Board(row["width"], row["height"])

    assert is_a_packing(packed(squares(sizes), board, seconds=60), sizes, board)
    for less in (Board(board.width - 1, board.depth), Board(board.width, board.depth - 1)):
        assert packed(squares(sizes), less, seconds=60) == Answer(None, True, less)


@pytest.mark.parametrize("row", rows()[1:PROVED_LEAST], ids=lambda row: f"1 to {row['n']}")
def test_no_rectangle_of_a_smaller_area_holds_the_squares(row: dict[str, int]) -> None:
    """Each shape with room enough by its area is proved not to do, so that the published area is the least."""
    sizes, least, filled = list(range(1, row["n"] + 1)), row["min_area"], row["min_area"] - row["excess_area"]
    smaller = [
        Board(width, depth)
        for width in range(row["n"], int(least**0.5) + 1)
        for depth in range(max(width, -(-filled // width)), -(-least // width))
    ]

    assert [board for board in smaller if packed(squares(sizes), board, seconds=60) != Answer(None, True, board)] == []
