"""What is liked of an arrangement, as one whole number that is to be least.

Pure. What the wishes are worth against each other is common practice, with no source: feet first, then the signal's
way from right to left, then short leads.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from scenebook.planning.pieces import Piece, Spot

__all__ = ["BACKWARDS", "GATHERED", "LENGTH", "End", "Near", "Wishes", "cost", "front_of", "middle_of"]

FRONT = 1000  # for each mm of all feet away from the front, shared out by the presses
BACKWARDS = 50  # for each half mm that the signal runs from left to right
LENGTH = 4  # for each mm of a signal lead
GATHERED = 1  # for each mm that a piece stands away from the front, pressed or not
TURNING = 3000  # for each piece that is turned
SIDEWAYS = 5_000_000  # for each piece that feet press and that is turned: more than all else that is liked comes to


class End(NamedTuple):
    """One end of a lead: the piece, and where on it the jack is in each of its stands, from its outer corner."""

    piece: int
    at: tuple[tuple[int, int], ...]


class Near(NamedTuple):
    """Two ends that are liked near each other, and what a mm between them counts."""

    one: End
    other: End
    weight: int = LENGTH


@dataclass(frozen=True, slots=True)
class Wishes:
    """What is liked, where there is room to choose: never a condition.

    `front` gives the share (0 to 1) with which a piece's feet are drawn to the front; of each pair in `order` the
    first is liked to the right of the second; `near` are the leads, liked short; `pressed` are pieces that feet press,
    turned only where they do not fit otherwise.
    """

    front: Sequence[float] = ()
    order: Sequence[tuple[int, int]] = ()
    near: Sequence[Near] = ()
    pressed: Collection[int] = ()

    def pull(self, piece: int) -> int:
        """Return what a mm between a piece's feet and the front edge counts."""
        return round(FRONT * self.front[piece]) if piece < len(self.front) else 0

    def turning(self, piece: int) -> int:
        """Return what it counts to turn a piece."""
        return SIDEWAYS if piece in self.pressed else TURNING


def cost(pieces: Sequence[Piece], spots: Sequence[Spot], wishes: Wishes) -> int:
    """Return how far an arrangement is from what is liked; less is better."""
    total = 0
    for at, (piece, spot) in enumerate(zip(pieces, spots, strict=True)):
        total += GATHERED * spot.y + wishes.turning(at) * (spot.stand > 0)
        total += wishes.pull(at) * (spot.y + front_of(piece, spot))
    for first, then in wishes.order:
        total += BACKWARDS * max(0, _middle(pieces, spots, then) - _middle(pieces, spots, first))
    for one, other, weight in wishes.near:
        (x, y), (far_x, far_y) = _place(one, spots), _place(other, spots)
        total += weight * (abs(x - far_x) + abs(y - far_y))
    return total


def front_of(piece: Piece, spot: Spot) -> int:
    """Return how far behind its outer front edge a piece's feet are; 0 where it has none."""
    feet = piece.stands[spot.stand].feet
    return feet.front if feet else 0


def middle_of(piece: Piece, stand: int) -> int:
    """Return twice the x of a piece's middle, from its outer left edge."""
    return piece.stands[stand].width


def _middle(pieces: Sequence[Piece], spots: Sequence[Spot], at: int) -> int:
    return 2 * spots[at].x + middle_of(pieces[at], spots[at].stand)


def _place(end: End, spots: Sequence[Spot]) -> tuple[int, int]:
    spot = spots[end.piece]
    x, y = end.at[spot.stand]
    return spot.x + x, spot.y + y
