"""How long it takes to fit 8 to 12 units on a board, plugs counted, or to prove that they do not fit."""

import random
from time import perf_counter

from scenebook.model import Unit
from scenebook.planning.outlines import piece_of
from scenebook.planning.packing import Board, packed
from scenebook.resources import demo_library_folder
from scenebook.storage.folder import read_folder
from tests.benchmarks.table import Row

__all__ = ["run"]

PLUG, GAP, FOOTSWITCH = 25, 5, 70
SEEDS = range(6)
# Of the board's area, with plugs: from what any hand manages to what only a proof can refuse. Above 1 the areas alone
# would say no, and that is no work.
FILLED = (0.80, 0.90, 0.95, 1.0)


def run() -> list[Row]:
    """Return the longest of all seconds for each number of units; no answer at all counts as ten times the goal."""
    library, _ = read_folder(demo_library_folder())
    known = [unit for _, unit in sorted(library.units.items()) if unit.size and unit.size.width < 200]
    return [_row(count, known) for count in (8, 10, 12)]


def _row(count: int, known: list[Unit]) -> Row:
    taken: list[float] = []
    fitting = refused = open_ = 0
    for seed in SEEDS:
        pieces = [piece_of(unit, plug=PLUG, gap=GAP) for unit in random.Random(seed).sample(known, count)]
        area = sum(piece.stands[0].width * piece.stands[0].depth for piece in pieces)
        for filled in FILLED:
            depth = round((area / filled / 2) ** 0.5)
            start = perf_counter()
            answer = packed(pieces, Board(2 * depth, depth), apart=FOOTSWITCH, seconds=20)
            taken.append(perf_counter() - start if answer.proved else 50.0)
            fitting += answer.spots is not None
            refused += answer.proved and answer.spots is None
            open_ += not answer.proved
    middle = sorted(taken)[len(taken) // 2]
    note = f"{fitting} fit, {refused} proved not to, {open_} open; median {middle:.2f} s"
    return Row(f"{count} units on a board, the longest of {len(taken)} in s", max(taken), 5.0, note)
