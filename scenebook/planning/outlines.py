"""How a unit stands on a board: its outline, the room for its plugs, its row of footswitches, its jacks.

Pure geometry in whole mm: x from the left edge, y from the front edge, where the player stands. Where in a side a
jack is, and where on a unit a footswitch is, no library says; what is taken instead is common practice, with no source:
jacks in the middle of their side, footswitches in a row near the front edge, a pedal's under the toe.
"""

from collections.abc import Callable
from math import ceil
from typing import Literal, NamedTuple

from scenebook.model import Unit
from scenebook.planning.pieces import Board, Box, Piece, Spot, Stand
from scenebook.planning.wishes import End

__all__ = ["FOOTSWITCH_INSET", "Outline", "Placed", "Side", "Turn", "end_of", "enters", "outlines", "piece_of"]
__all__ += ["placed_at"]

Side = Literal["left", "front", "right", "top"]
Turn = Literal[0, 90, 270]  # degrees clockwise, seen from above

FOOTSWITCH_INSET = 25  # mm from a unit's front edge to the centres of its footswitches: common practice
_SIDES: tuple[Side, ...] = ("left", "front", "right", "top")
_CLOCKWISE: dict[Side, Side] = {"top": "right", "right": "front", "front": "left", "left": "top"}


class Outline(NamedTuple):
    """A single way in which a unit can stand: its outline without margins, where its jacks face, its footswitches."""

    turned: Turn
    width: int
    depth: int
    jacks: frozenset[Side]
    feet: Box | None  # the row of footswitch centres
    in_row: int  # footswitches

    def point(self, side: Side, share: float = 0.5) -> tuple[int, int]:
        """Return a point on a side as the unit itself names it, from the left front corner of the outline."""
        width, depth = _unturned(self)
        x, y = {
            "left": (0.0, depth * share),
            "right": (float(width), depth * share),
            "front": (width * share, 0.0),
            "top": (width * share, float(depth)),
        }[side]
        turned = {0: (x, y), 90: (y, width - x), 270: (depth - y, x)}[self.turned]
        return round(turned[0]), round(turned[1])


class Placed(NamedTuple):
    """A unit in its place on the board; x and y are the left front corner of its outline."""

    number: int
    unit: str
    x: int
    y: int
    outline: Outline
    presses: int  # in the gigs that were counted

    @property
    def feet(self) -> Box | None:
        """The row of footswitch centres on the board."""
        feet = self.outline.feet
        if feet is None:
            return None
        return Box(feet.left + self.x, feet.front + self.y, feet.right + self.x, feet.back + self.y)

    @property
    def footswitches(self) -> tuple[tuple[float, float], ...]:
        """The centre of each footswitch on the board."""
        feet, count = self.feet, self.outline.in_row
        if feet is None:
            return ()
        steps = [index / (count - 1) if count > 1 else 0.0 for index in range(count)]
        across, along = feet.right - feet.left, feet.back - feet.front
        return tuple((feet.left + across * step, feet.front + along * step) for step in steps)

    def point(self, side: Side, share: float = 0.5) -> tuple[int, int]:
        """Return a point on a side as the unit itself names it: `share` of the way along it, from left or front."""
        x, y = self.outline.point(side, share)
        return self.x + x, self.y + y


def outlines(unit: Unit) -> tuple[Outline, ...]:
    """Return the ways in which a unit can stand, unturned first; none where its size is not known.

    Turned by 90 degrees only where its jacks stay usable: none comes to face the front, where a shoe meets the plug.
    A pedal, rocked heel to toe, is never turned; nor is a unit whose jacks are not known.
    """
    if unit.size is None:
        return ()
    straight = _straight(unit)
    rocked = any(control.pedal for control in unit.controls.values())
    turns = [] if rocked or not unit.jacks else [_clockwise(straight), _anticlockwise(straight)]
    return (straight, *(each for each in turns if "front" not in each.jacks))


def piece_of(unit: Unit, *, plug: int, gap: int) -> Piece:
    """Return a unit as what is packed: with room for plugs on each side with a jack, and a gap to others."""
    return Piece(tuple(_stand(outline, plug, gap) for outline in outlines(unit)))


def end_of(at: int, unit: Unit, jack: Callable[[Outline], tuple[int, int]], *, plug: int) -> End:
    """Return where a jack of a piece is in each of its stands; `jack` says where it is on an outline."""
    points = []
    for outline in outlines(unit):
        (x, y), margin = jack(outline), _margins(outline, plug)
        points.append((x + margin.left, y + margin.front))
    return End(at, tuple(points))


def placed_at(number: int, name: str, unit: Unit, spot: Spot, *, plug: int, presses: int) -> Placed:
    """Return a unit where the packing put it."""
    outline = outlines(unit)[spot.stand]
    margin = _margins(outline, plug)
    return Placed(number, name, spot.x + margin.left, spot.y + margin.front, outline, presses)


def enters(unit: Unit, board: Board) -> bool:
    """Whether a unit's bare outline, in one of its ways to stand, is no larger than the board."""
    return any(each.width <= board.width and each.depth <= board.depth for each in outlines(unit))


def _straight(unit: Unit) -> Outline:
    assert unit.size is not None
    width, depth = ceil(unit.size.width), ceil(unit.size.depth)
    count = _footswitches(unit)
    if not count:
        return Outline(0, width, depth, frozenset(unit.jacks), None, 0)
    inset = min(FOOTSWITCH_INSET, depth // 2)
    rocked = any(control.pedal for control in unit.controls.values())
    y, first = depth - inset if rocked else inset, width // (2 * count)
    row = Box(first, y, width - first if count > 1 else first, y)
    return Outline(0, width, depth, frozenset(unit.jacks), row, count)


def _footswitches(unit: Unit) -> int:
    """Return how many footswitches a unit has: one for each switch that a foot works, one for recalls alone."""
    switches = sum(switch.foot for switch in unit.switches.values())
    others = [
        unit.programs is not None and unit.programs.foot,
        any(trigger.foot for trigger in unit.triggers.values()),
        any(variant.foot for preset in unit.presets for variant in preset.variants.values()),
    ]
    return switches or int(any(others))


def _clockwise(straight: Outline) -> Outline:
    feet = straight.feet
    width = straight.width
    turned = feet and Box(feet.front, width - feet.right, feet.back, width - feet.left)
    jacks = frozenset(_CLOCKWISE[side] for side in straight.jacks)
    return Outline(90, straight.depth, width, jacks, turned, straight.in_row)


def _anticlockwise(straight: Outline) -> Outline:
    feet, depth = straight.feet, straight.depth
    turned = feet and Box(depth - feet.back, feet.left, depth - feet.front, feet.right)
    back = {to: side for side, to in _CLOCKWISE.items()}
    return Outline(
        270, depth, straight.width, frozenset(back[side] for side in straight.jacks), turned, straight.in_row
    )


def _unturned(outline: Outline) -> tuple[int, int]:
    size = outline.width, outline.depth
    return size if outline.turned == 0 else (size[1], size[0])


def _margins(outline: Outline, plug: int) -> Box:
    return Box(*(plug if side in outline.jacks else 0 for side in _SIDES))


def _stand(outline: Outline, plug: int, gap: int) -> Stand:
    """Return an outline with the room for its plugs, and its share of the gap to others.

    Two bare sides that face each other add up to the gap, a jack's side and a bare one to the room for a plug.
    """
    margin, feet = _margins(outline, plug), outline.feet
    width, depth = outline.width + margin.left + margin.right, outline.depth + margin.front + margin.back
    low, high = gap // 2, gap - gap // 2
    wide = max(plug, gap)
    clear = Box(
        margin.left - (wide - high if "left" in outline.jacks else low),
        margin.front - (wide - high if "front" in outline.jacks else low),
        margin.left + outline.width + (wide - low if "right" in outline.jacks else high),
        margin.front + outline.depth + (wide - low if "top" in outline.jacks else high),
    )
    return Stand(width, depth, clear, feet and _moved(feet, margin))


def _moved(box: Box, by: Box) -> Box:
    return Box(box.left + by.left, box.front + by.front, box.right + by.left, box.back + by.front)
