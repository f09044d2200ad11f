"""Rectangles that are to be packed, and the board that is to hold them: lengths in whole mm, no unit and no rig.

x runs from the left edge, y from the front edge.
"""

from typing import NamedTuple

__all__ = ["Board", "Box", "Piece", "Spot", "Stand"]


class Box(NamedTuple):
    """A rectangle by its four edges, in mm; a row of footswitches is a box without an area."""

    left: int
    front: int
    right: int
    back: int


class Stand(NamedTuple):
    """How a piece may stand: its outer size with margins, and in it, from its left front corner, the rest."""

    width: int
    depth: int
    clear: Box | None = None  # what overlaps no other's either, wherever it hangs over; nothing more unless given
    feet: Box | None = None


class Piece(NamedTuple):
    """What is to be packed, in any one of its stands; the first is the one that is liked best."""

    stands: tuple[Stand, ...]


class Board(NamedTuple):
    """The rectangle that is to hold all pieces."""

    width: int
    depth: int


class Spot(NamedTuple):
    """Where a piece came to stand: its outer left front corner, and which of its stands it took."""

    x: int
    y: int
    stand: int
