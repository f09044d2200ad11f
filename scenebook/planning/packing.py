"""Pack rectangles into a rectangle, or prove that it cannot be done.

Pure: it knows neither units nor rigs. Lengths are whole mm; x runs from the left edge, y from the front edge. A piece
may stand turned as well, has margins that nothing else enters, a clearance that may hang over
the edge, and a row of footswitches that keeps its distance. The solver is CP-SAT, imported when the first packing is
asked for.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import combinations
from typing import TYPE_CHECKING, Any

from scenebook.errors import ScenebookError
from scenebook.planning.arranging import arranged, laid
from scenebook.planning.feet import FeetApart
from scenebook.planning.pieces import Board, Box, Piece, Spot, Stand
from scenebook.planning.under_way import UnderWay
from scenebook.planning.wishes import BACKWARDS, GATHERED, End, Wishes, cost

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

__all__ = ["EFFORT", "Answer", "Board", "Box", "Piece", "Spot", "Stand", "Wishes", "least_board", "packed"]

SEED, WORKERS = 1, 1  # one worker gives the same answer on every run, and measured faster here than two
EFFORT, PATIENCE = 2.0, 10  # of a better arrangement; seconds that a busy machine may take for each of effort
TRIES = 900  # of taking pieces out and putting them back, for each of effort
_NO_LIMIT = 3000  # mm: no board is larger


@dataclass(frozen=True, slots=True)
class Answer:
    """What came of it: spots if it fits; `proved` tells whether that is certain (and, with wishes, the best)."""

    spots: tuple[Spot, ...] | None
    proved: bool
    board: Board = field(default_factory=lambda: Board(0, 0))


def packed(
    pieces: Sequence[Piece],
    board: Board,
    *,
    apart: int = 0,
    wishes: Wishes | None = None,
    seconds: float = 5.0,
    effort: float = EFFORT,
    way: UnderWay | None = None,
) -> Answer:
    """Return where the pieces stand on the board; without spots and proved: they cannot.

    Args:
        pieces: what is to be packed.
        board: what holds them.
        apart: mm between the footswitches of two pieces, at least.
        wishes: what is liked; then the arrangement is improved until it is proved best or the effort is spent.
        seconds: how long to look for an answer on an idle machine; a busy one may take longer for the same answer.
        effort: how much to look for a better arrangement, in the solver's own measure: about seconds on an idle
            machine, and the same arrangement on a busy one.
        way: who is told of it; stopped it returns the best arrangement so far, if there is any yet.

    Raises:
        ScenebookError: the solver is not installed.
    """
    if not pieces:
        return Answer((), True, board)
    if any(not any(_enters(stand, board) for stand in piece.stands) for piece in pieces):
        return Answer(None, True, board)
    way = way or UnderWay()
    model = _Model(pieces, board, apart)
    if wishes is None:
        status, spots = model.solved(PATIENCE * seconds, effort=seconds, way=way)
        return Answer(spots, status != _UNKNOWN, board)
    spots = laid(pieces, board, wishes, apart=apart, told=way.told)  # where there is room that is the quickest
    if spots is None:
        status, spots = model.solved(PATIENCE * seconds, effort=seconds, way=way)
        if spots is None:
            return Answer(None, status != _UNKNOWN, board)
    spots = arranged(pieces, board, spots, wishes, apart=apart, tries=round(TRIES * effort), told=way.told)
    spots = _settled(pieces, board, spots, wishes, apart, effort, way) or spots
    model.wish(wishes, spots)
    status, better = model.solved(PATIENCE * effort, effort=effort / 2, way=way)
    best = min((each for each in (better, spots) if each), key=lambda each: cost(pieces, each, wishes))
    return Answer(_centred(pieces, best, board), status == _BEST, board)


def least_board(
    pieces: Sequence[Piece],
    board: Board,
    *,
    step: int = 10,
    apart: int = 0,
    seconds: float = 10.0,
    way: UnderWay | None = None,
) -> Answer:
    """Return the board of the least area that holds the pieces, each side larger than `board` by whole steps.

    `proved` tells whether it is certain that no smaller one does; without spots none was found in the time, or before
    `way` was told to stop.
    """
    model = _Model(pieces, board, apart, step=step)
    status, spots = model.solved(PATIENCE * seconds, effort=seconds, way=way or UnderWay())
    return Answer(spots, status == _BEST, model.board_found)


def _settled(
    pieces: Sequence[Piece],
    board: Board,
    spots: Sequence[Spot],
    wishes: Wishes,
    apart: int,
    effort: float,
    way: UnderWay,
) -> tuple[Spot, ...] | None:
    """Return the best arrangement in which each piece stays on the same side of each other: whole groups slide."""
    model = _Model(pieces, board, apart)
    model.stay(spots)
    model.wish(wishes, spots)
    return model.solved(PATIENCE * effort, effort=effort / 4, way=way, bounds=False)[1]


def _centred(pieces: Sequence[Piece], spots: Sequence[Spot], board: Board) -> tuple[Spot, ...]:
    """Return the arrangement in the middle of the board's width: that costs no wish anything."""
    left = min(spot.x for spot in spots)
    right = max(spot.x + piece.stands[spot.stand].width for piece, spot in zip(pieces, spots, strict=True))
    shift = (board.width - right - left) // 2
    return tuple(spot._replace(x=spot.x + shift) for spot in spots)


_UNKNOWN, _FITS, _BEST, _NOT = "unknown", "fits", "best", "not"


def _enters(stand: Stand, board: Board) -> bool:
    return stand.width <= board.width and stand.depth <= board.depth


def _solver() -> Any:
    """Import the solver; it costs a third of a second, so only a packing does it."""
    try:
        from ortools.sat.python import cp_model
    except ImportError as error:
        raise ScenebookError(
            "the solver OR-Tools is not installed: it has no package for this system",
            remedy="Install it (pip install ortools) where there is one; all other commands work without it",
        ) from error
    return cp_model


class _Model:
    """The pieces on the board as the solver sees them; with `step` the board may grow, and its area is kept least."""

    def __init__(self, pieces: Sequence[Piece], board: Board, apart: int, *, step: int = 0) -> None:
        self._cp = _solver()
        self._model: cp_model.CpModel = self._cp.CpModel()
        self._pieces, self._board, self._answer = pieces, board, board
        self._grows = step > 0
        self._grown = _grown(self._model, board, step)
        most = Board(_NO_LIMIT, _NO_LIMIT) if step else board
        self._picks = [self._picked(piece, most, fixed=not step) for piece in pieces]
        self._x = [self._model.new_int_var(0, most.width, "") for _ in pieces]
        self._y = [self._model.new_int_var(0, most.depth, "") for _ in pieces]
        self._stay_inside()
        self._stay_clear()
        feet = FeetApart(self._model, apart)
        for a, b in combinations(range(len(pieces)), 2):
            if feet.may_touch(pieces[a].stands, pieces[b].stands):
                feet.keep(self._feet(a), self._feet(b))

    @property
    def board_found(self) -> Board:
        """The board of the last answer, where it may grow."""
        return self._answer

    def wish(self, wishes: Wishes, spots: Sequence[Spot]) -> None:
        """Ask for the best arrangement, beginning from one that is known."""
        terms: list[Any] = [GATHERED * y for y in self._y]
        for at in range(len(self._pieces)):
            feet, pull = self._feet(at), wishes.pull(at)
            if pull:
                terms.append(pull * (feet[1] if feet else self._y[at]))
        for first, then in wishes.order:
            terms.append(BACKWARDS * self._above(0, self._middle(then) - self._middle(first)))
        for one, other, weight in wishes.near:
            for side in (0, 1):
                way = self._end(one, side) - self._end(other, side)
                apart = self._above(0, way)
                self._model.add(apart >= -way)
                terms.append(weight * apart)
        terms += [wishes.turning(at) * pick for at, picks in enumerate(self._picks) for pick in picks[1:]]
        self._model.minimize(sum(terms))
        for at, spot in enumerate(spots):
            self._model.add_hint(self._x[at], spot.x)
            self._model.add_hint(self._y[at], spot.y)
            for number, pick in enumerate(self._picks[at]):
                if not isinstance(pick, int):
                    self._model.add_hint(pick, number == spot.stand)

    def stay(self, spots: Sequence[Spot]) -> None:
        """Keep each piece's stand, and each pair on the sides of each other that an arrangement has them on."""
        for at, spot in enumerate(spots):
            for number, pick in enumerate(self._picks[at]):
                if not isinstance(pick, int):
                    self._model.add(pick == (number == spot.stand))
        stands = [piece.stands[spot.stand] for piece, spot in zip(self._pieces, spots, strict=True)]
        outer = [Box(0, 0, stand.width, stand.depth) for stand in stands]
        for boxes in (outer, [stand.clear or box for stand, box in zip(stands, outer, strict=True)]):
            for pair in combinations(range(len(boxes)), 2):
                gaps = [
                    (spots[b][side] + boxes[b][side] - spots[a][side] - boxes[a][side + 2], a, b, side)
                    for a, b in (pair, pair[::-1])
                    for side in (0, 1)
                ]
                _, a, b, side = max(gaps)
                edge = (self._x, self._y)[side]
                self._model.add(edge[a] + boxes[a][side + 2] <= edge[b] + boxes[b][side])

    def solved(
        self, seconds: float, *, effort: float, way: UnderWay, bounds: bool = True
    ) -> tuple[str, tuple[Spot, ...] | None]:
        """Solve within a time, and within an effort: that gives the same arrangement whatever the machine's load.

        `way` is told of it and may end it; `bounds` says whether its bound is one on all arrangements.
        """
        solver = self._cp.CpSolver()
        solver.parameters.num_workers = WORKERS
        solver.parameters.random_seed = SEED
        solver.parameters.max_time_in_seconds = seconds
        if not self._model.has_objective():
            solver.parameters.linearization_level = 0  # only fitting: on the hard boards up to ten times faster
        elif not self._grows:
            solver.parameters.linearization_level = 2  # wishes are sums of lengths: halves what is left to gain
        solver.parameters.max_deterministic_time = effort
        sides = self._grown if self._grows else None
        status = way.solved(solver, self._model, sides=sides, bounds=bounds)
        if status == self._cp.INFEASIBLE:
            return _NOT, None
        if status not in (self._cp.OPTIMAL, self._cp.FEASIBLE):
            return _UNKNOWN, None
        width, depth = self._grown
        self._answer = Board(solver.value(width), solver.value(depth))
        spots = tuple(
            Spot(solver.value(x), solver.value(y), next(n for n, pick in enumerate(picks) if solver.value(pick)))
            for x, y, picks in zip(self._x, self._y, self._picks, strict=True)
        )
        return (_BEST if status == self._cp.OPTIMAL else _FITS), spots

    def _picked(self, piece: Piece, most: Board, *, fixed: bool) -> list[Any]:
        """Return one literal a stand, of which exactly one holds; a piece with one stand has nothing to choose."""
        if len(piece.stands) == 1:
            return [1]
        picks = [self._model.new_bool_var("") for _ in piece.stands]
        self._model.add_exactly_one(picks)
        for pick, stand in zip(picks, piece.stands, strict=True):
            if fixed and not _enters(stand, most):
                self._model.add(pick == 0)
        return picks

    def _stay_inside(self) -> None:
        for at, piece in enumerate(self._pieces):
            for pick, stand in zip(self._picks[at], piece.stands, strict=True):
                ends = (self._x[at] + stand.width, self._grown[0]), (self._y[at] + stand.depth, self._grown[1])
                for end, most in ends:
                    inside = self._model.add(end <= most)
                    if not isinstance(pick, int):
                        inside.only_enforce_if(pick)

    def _stay_clear(self) -> None:
        """No two overlap, nor do their clearances."""
        outer = [[Box(0, 0, stand.width, stand.depth) for stand in piece.stands] for piece in self._pieces]
        clear = [
            [stand.clear or box for stand, box in zip(piece.stands, boxes, strict=True)]
            for piece, boxes in zip(self._pieces, outer, strict=True)
        ]
        self._apart(outer)
        if clear != outer:
            self._apart(clear)

    def _apart(self, boxes: Sequence[Sequence[Box]]) -> None:
        """Keep boxes from overlapping; that no line across the board meets more than its length proves much as well."""
        across, along, widths, depths = [], [], [], []
        for at, each in enumerate(boxes):
            widths.append(self._varying(at, [box.right - box.left for box in each]))
            depths.append(self._varying(at, [box.back - box.front for box in each]))
            left = self._varying(at, [box.left for box in each], self._x[at])
            front = self._varying(at, [box.front for box in each], self._y[at])
            across.append(self._interval(left, widths[-1]))
            along.append(self._interval(front, depths[-1]))
        hang = self._hang(boxes)
        self._model.add_no_overlap_2d(across, along)
        self._model.add_cumulative(across, depths, self._grown[1] + hang[1])
        self._model.add_cumulative(along, widths, self._grown[0] + hang[0])

    def _hang(self, boxes: Sequence[Sequence[Box]]) -> tuple[int, int]:
        """Return by how much boxes may hang over the board's edges: across it and along it, both edges together."""
        each = [
            (stand, box)
            for piece, theirs in zip(self._pieces, boxes, strict=True)
            for stand, box in zip(piece.stands, theirs, strict=True)
        ]
        left, front = max(-box.left for _, box in each), max(-box.front for _, box in each)
        right = max(box.right - stand.width for stand, box in each)
        back = max(box.back - stand.depth for stand, box in each)
        return max(0, left) + max(0, right), max(0, front) + max(0, back)

    def _varying(self, at: int, values: Sequence[int], base: Any = 0) -> Any:
        """Return what a piece has of something in the stand that it takes, above a base: simple where all are equal."""
        if len(set(values)) == 1:
            return base + values[0]
        least, most = (-_NO_LIMIT, 3 * _NO_LIMIT) if not isinstance(base, int) else (min(values), max(values))
        found = self._model.new_int_var(least, most, "")
        chosen = sum(value * pick for value, pick in zip(values, self._picks[at], strict=True))
        self._model.add(found == base + chosen)
        return found

    def _interval(self, start: Any, size: Any) -> Any:
        if isinstance(size, int):
            return self._model.new_fixed_size_interval_var(start, size, "")
        end = self._model.new_int_var(-_NO_LIMIT, 3 * _NO_LIMIT, "")
        return self._model.new_interval_var(start, size, end, "")

    def _feet(self, at: int) -> tuple[Any, Any, Any, Any] | None:
        """Return the four edges of a piece's row of footswitches on the board, if it has any."""
        stands = self._pieces[at].stands
        if stands[0].feet is None:
            return None
        return tuple(self._on_board(at, side) for side in Box._fields)

    def _on_board(self, at: int, side: str) -> Any:
        base = self._x[at] if side in ("left", "right") else self._y[at]
        offsets = [getattr(stand.feet, side) for stand in self._pieces[at].stands]
        return base + sum(offset * pick for offset, pick in zip(offsets, self._picks[at], strict=True))

    def _middle(self, at: int) -> Any:
        """Return twice the x of a piece's middle."""
        widths = [stand.width for stand in self._pieces[at].stands]
        return 2 * self._x[at] + sum(width * pick for width, pick in zip(widths, self._picks[at], strict=True))

    def _end(self, end: End, side: int) -> Any:
        """Return the x or y of a lead's end."""
        edge = (self._x, self._y)[side][end.piece]
        return edge + sum(at[side] * pick for at, pick in zip(end.at, self._picks[end.piece], strict=True))

    def _above(self, least: int, length: Any) -> Any:
        """Return a variable that is no less than a length."""
        found = self._model.new_int_var(least, 4 * _NO_LIMIT, "")
        self._model.add(found >= length)
        return found


def _grown(model: "cp_model.CpModel", board: Board, step: int) -> tuple[Any, Any]:
    """Return the board's two sides: numbers, or variables whose area is to be least."""
    if not step:
        return board.width, board.depth
    sides = []
    for side in board:
        steps = model.new_int_var(0, (_NO_LIMIT - side) // step, "")
        length = model.new_int_var(side, _NO_LIMIT, "")
        model.add(length == side + step * steps)
        sides.append(length)
    area = model.new_int_var(board.width * board.depth, _NO_LIMIT * _NO_LIMIT, "")
    model.add_multiplication_equality(area, sides)
    model.minimize(area)
    return sides[0], sides[1]
