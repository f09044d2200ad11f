"""Better an arrangement that is known: take a few pieces out, and put each where it is liked best.

Pure, and the same on every machine: the number of tries is fixed, and chance comes from a seed. Every arrangement that
is returned keeps the conditions of the packing; none is proved the best. Ruin and recreate: G. Schrimpf, J. Schneider,
H. Stamm-Wilbrandt, G. Dueck, "Record breaking optimization results using the ruin and recreate principle", Journal of
Computational Physics 159 (2000), with a threshold that falls (threshold accepting).
"""

import random
from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple

from scenebook.planning.pieces import Board, Box, Piece, Spot, Stand
from scenebook.planning.wishes import BACKWARDS, GATHERED, Wishes, cost, front_of, middle_of

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

    Line = NDArray[numpy.int64]
    Grid = NDArray[numpy.bool_]

__all__ = ["arranged", "laid"]

SEED = 1
LOOSE = (
    0.1  # the share of its cost by which an arrangement may be worse than the last at first and still be gone on from
)
FEW = (1, 2, 2, 3, 3, 4, 5)  # pieces taken out at a time
_TELL = 10  # tries between two times that progress is told
_TOO_MUCH = 1 << 60

Told = Callable[[int | None], bool]


def _go_on(least: int | None) -> bool:
    return True


def arranged(
    pieces: Sequence[Piece],
    board: Board,
    spots: Sequence[Spot],
    wishes: Wishes,
    *,
    apart: int,
    tries: int,
    told: Told = _go_on,
) -> tuple[Spot, ...]:
    """Return an arrangement that is liked no less than `spots`, after so many tries.

    Args:
        pieces: what is packed.
        board: what holds them.
        spots: an arrangement that keeps all conditions.
        wishes: what is liked.
        apart: mm between the footswitches of two pieces, at least.
        tries: how often a few pieces are taken out and put back.
        told: told what the best so far costs; where it says not to go on, that is returned.
    """
    arranger = _Arranger(pieces, board, wishes, apart)
    return arranger.run(tuple(spots), tries, told)


def laid(
    pieces: Sequence[Piece], board: Board, wishes: Wishes, *, apart: int, told: Told = _go_on
) -> tuple[Spot, ...] | None:
    """Return the best of a few arrangements laid piece by piece from nothing; nothing where none of them fits.

    That proves nothing: a board on which none fits may still hold the pieces. `told` as in `arranged`.
    """
    return _Arranger(pieces, board, wishes, apart).begin(told)


class _Lead(NamedTuple):
    """A lead as one of its two pieces sees it."""

    mine: tuple[tuple[int, int], ...]
    other: int
    theirs: tuple[tuple[int, int], ...]
    weight: int


class _Arranger:
    """Takes pieces out and puts them back."""

    def __init__(self, pieces: Sequence[Piece], board: Board, wishes: Wishes, apart: int) -> None:
        self._pieces, self._board, self._wishes, self._apart = pieces, board, wishes, apart
        self._leads: list[list[_Lead]] = [[] for _ in pieces]
        for one, other, weight in wishes.near:
            self._leads[one.piece].append(_Lead(one.at, other.piece, other.at, weight))
            self._leads[other.piece].append(_Lead(other.at, one.piece, one.at, weight))
        self._order: list[list[tuple[int, int]]] = [
            [] for _ in pieces
        ]  # the other, and 1 where it is liked on the left
        for first, then in wishes.order:
            self._order[first].append((then, 1))
            self._order[then].append((first, -1))
        self._chance = random.Random(SEED)

    def begin(self, told: Told) -> tuple[Spot, ...] | None:
        """Return the best arrangement of all that are laid from nothing."""
        nowhere = [Spot(0, 0, 0)] * len(self._pieces)
        best: tuple[Spot, ...] | None = None
        least = _TOO_MUCH
        for order, right in self._beginnings():
            if not told(None if best is None else least):
                break
            found = self._put_back(list(nowhere), order, rightmost=right)
            if found is not None and (worth := cost(self._pieces, found, self._wishes)) < least:
                best, least = found, worth
        return best

    def run(self, spots: tuple[Spot, ...], tries: int, told: Told) -> tuple[Spot, ...]:
        """Return the best of all that is come by."""
        best, least = spots, cost(self._pieces, spots, self._wishes)
        now, here = best, least
        for turn in range(tries):
            if turn % _TELL == 0 and not told(least):
                break
            taken = self._taken()
            self._chance.shuffle(taken)
            found = self._put_back(list(now), taken)
            if found is None:
                continue
            worth = cost(self._pieces, found, self._wishes)
            if worth <= here + LOOSE * least * (1 - turn / tries) ** 3:
                now, here = found, worth
            if worth < least:
                best, least = found, worth
        return best

    def _beginnings(self) -> Iterator[tuple[list[int], bool]]:
        """Yield orders in which all pieces are laid from nothing, and whether from the right edge.

        Those that are drawn to the front most go first, so many of them, along the chain or against it: a packing that
        only fits is a poor beginning.
        """
        pieces = range(len(self._pieces))
        drawn = sorted(pieces, key=self._wishes.pull, reverse=True)
        for count in range(1, len(pieces) + 1):
            front = set(drawn[:count])
            along = sorted(pieces, key=lambda at: (at not in front, at))
            against = sorted(pieces, key=lambda at: (at not in front, -at))
            yield along, True
            yield against, False

    def _taken(self) -> list[int]:
        """Return which pieces are taken out: at random, or one and those that it is joined to."""
        count = min(self._chance.choice(FEW), len(self._pieces))
        if self._chance.random() < 0.5:
            return self._chance.sample(range(len(self._pieces)), count)
        taken = [self._chance.randrange(len(self._pieces))]
        while len(taken) < count:
            joined = sorted({lead.other for at in taken for lead in self._leads[at]} - set(taken))
            rest = joined or [at for at in range(len(self._pieces)) if at not in taken]
            taken.append(self._chance.choice(rest))
        return taken

    def _put_back(self, spots: list[Spot], taken: list[int], *, rightmost: bool = False) -> tuple[Spot, ...] | None:
        """Return the arrangement with these pieces put back, each at its best place; nothing where one has none."""
        there = [at for at in range(len(spots)) if at not in taken]
        for at in taken:
            found = self._best(at, spots, there, rightmost=rightmost)
            if found is None:
                return None
            spots[at] = found
            there.append(at)
        return tuple(spots)

    def _best(self, at: int, spots: list[Spot], there: list[int], *, rightmost: bool) -> Spot | None:
        import numpy as np  # late: only an arrangement needs it

        best, least = None, _TOO_MUCH
        for number, stand in enumerate(self._pieces[at].stands):
            if stand.width > self._board.width or stand.depth > self._board.depth:
                continue
            around = _Around(self._pieces, spots, there)
            xs = self._places(at, number, stand, around, spots, 0)[:: -1 if rightmost else 1]  # the first of equals
            ys = self._places(at, number, stand, around, spots, 1)
            costs = self._across(at, number, xs, spots, there)[:, None] + self._along(at, number, ys, spots, there)
            costs[around.blocked(stand, xs, ys, self._apart)] = _TOO_MUCH
            place = int(np.argmin(costs))
            worth = int(costs.flat[place])
            if worth < least:
                least = worth
                best = Spot(int(xs[place // len(ys)]), int(ys[place % len(ys)]), number)
        return best

    def _places(self, at: int, number: int, stand: Stand, around: "_Around", spots: list[Spot], side: int) -> "Line":
        """Return where along one side a piece may best stand: against the edges, against others, jack facing jack."""
        import numpy as np

        most = self._board[side] - (stand.width, stand.depth)[side]
        facing = [
            spots[lead.other][side] + lead.theirs[spots[lead.other].stand][side] - lead.mine[number][side]
            for lead in self._leads[at]
            if lead.other in around.there
        ]
        places = np.concatenate([[0, most, *facing], *around.against(stand, side, self._apart)])
        return np.unique(places[(places >= 0) & (places <= most)].astype(np.int64))

    def _across(self, at: int, number: int, xs: "Line", spots: list[Spot], there: list[int]) -> "Line":
        import numpy as np

        costs = np.full(len(xs), self._wishes.turning(at) * (number > 0), dtype=np.int64)
        mine = 2 * xs + middle_of(self._pieces[at], number)
        for other, sign in self._order[at]:
            if other in there:
                middle = 2 * spots[other].x + middle_of(self._pieces[other], spots[other].stand)
                costs += BACKWARDS * np.maximum(0, sign * (middle - mine))
        return costs + self._length(at, number, xs, spots, there, 0)

    def _along(self, at: int, number: int, ys: "Line", spots: list[Spot], there: list[int]) -> "Line":
        feet = ys + front_of(self._pieces[at], Spot(0, 0, number))
        return GATHERED * ys + self._wishes.pull(at) * feet + self._length(at, number, ys, spots, there, 1)

    def _length(self, at: int, number: int, places: "Line", spots: list[Spot], there: list[int], side: int) -> "Line":
        import numpy as np

        total = np.zeros(len(places), dtype=np.int64)
        for mine, other, theirs, weight in self._leads[at]:
            if other in there:
                spot = spots[other]
                total += weight * np.abs(places + (mine[number][side] - spot[side] - theirs[spot.stand][side]))
        return total


class _Around:
    """The pieces that stand already: their outer edges, their clearances, their feet, as columns."""

    def __init__(self, pieces: Sequence[Piece], spots: Sequence[Spot], there: Sequence[int]) -> None:
        import numpy as np

        self.there = frozenset(there)
        stands = [(pieces[at].stands[spots[at].stand], spots[at]) for at in there]
        outer = [_moved(_outer(stand), spot) for stand, spot in stands]
        clear = [_moved(stand.clear or _outer(stand), spot) for stand, spot in stands]
        feet = [_moved(stand.feet, spot) for stand, spot in stands if stand.feet]
        self._outer, self._clear, self._feet = (
            np.array(boxes, dtype=np.int64).reshape(-1, 4) for boxes in (outer, clear, feet)
        )

    def against(self, stand: Stand, side: int, apart: int) -> "list[Line]":
        """Return the places along one side at which a piece touches another, before it and behind it."""
        import numpy as np

        low, high, size = side, side + 2, (stand.width, stand.depth)[side]
        clear = stand.clear or _outer(stand)
        found = [
            np.maximum(self._outer[:, high], self._clear[:, high] - clear[low]),
            np.minimum(self._outer[:, low] - size, self._clear[:, low] - clear[high]),
        ]
        if stand.feet:
            found += [self._feet[:, high] + apart - stand.feet[low], self._feet[:, low] - apart - stand.feet[high]]
        return found

    def blocked(self, stand: Stand, xs: "Line", ys: "Line", apart: int) -> "Grid":
        """Return which of the places, x by y, another piece stands in the way of."""
        import numpy as np

        taken: Grid = np.zeros((len(xs), len(ys)), dtype=np.bool_)
        for box, others in ((_outer(stand), self._outer), (stand.clear or _outer(stand), self._clear)):
            across, along = _overlaps(xs, box, others, 0), _overlaps(ys, box, others, 1)
            taken |= (across.T @ along) > 0
        if stand.feet and len(self._feet):
            beside, behind = _gaps(xs, stand.feet, self._feet, 0), _gaps(ys, stand.feet, self._feet, 1)
            near = beside[:, :, None] ** 2 + behind[:, None, :] ** 2 < apart**2
            taken |= near.any(axis=0)
        return taken


def _outer(stand: Stand) -> Box:
    return Box(0, 0, stand.width, stand.depth)


def _moved(box: Box, spot: Spot) -> Box:
    return Box(box.left + spot.x, box.front + spot.y, box.right + spot.x, box.back + spot.y)


def _overlaps(places: "Line", box: Box, others: "Line", side: int) -> "NDArray[numpy.float32]":
    """Return 1 where a box at a place overlaps another along one side, a row for each other."""
    import numpy as np

    low, high = places + box[side], places + box[side + 2]
    return ((low < others[:, side + 2, None]) & (high > others[:, side, None])).astype(np.float32)


def _gaps(places: "Line", box: Box, others: "Line", side: int) -> "Line":
    """Return the mm between a box at a place and each other along one side; 0 where they overlap."""
    import numpy as np

    behind = places + box[side] - others[:, side + 2, None]
    before = others[:, side, None] - places - box[side + 2]
    gaps: Line = np.maximum(0, np.maximum(behind, before))
    return gaps
