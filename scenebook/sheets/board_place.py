"""The board of a workshop drawing: outlines to scale, numbers and names inside them, room for plugs, dimensions.

Pure: a plan in, strokes out. Lengths on the board are its mm, coordinates mm of the paper.
"""

from collections.abc import Iterable, Iterator
from textwrap import wrap
from typing import NamedTuple

from scenebook.planning.board import BoardPlan
from scenebook.planning.outlines import Placed
from scenebook.sheets.strokes import arrow, box, circle, line, words

__all__ = ["PLUGS", "SCALES", "Place", "scale_of"]

SCALES = (1, 2, 2.5, 3, 4, 5, 7.5, 10, 15, 20)  # one to so many
PLUGS = "1.2 0.8"
_LEFT, _TOP = 36.0, 15.0  # of the room for the board
_ROOM_ACROSS, _ROOM_DOWN = 180.0, 134.0
_LABEL_APART = 3.4
_NAME, _LETTER, _LINE = 2.3, 0.6, 2.8  # a name inside an outline: its size, the share of it a letter is wide, its line
_RADII = (3.1, 2.5, 1.9)  # of the circle round a number, the largest that has room
_ARM = 2.2  # of the cross at the centre of a footswitch


def scale_of(plan: BoardPlan) -> float:
    """Return the scale as one to so many: the largest at which the board has room beside the parts list."""
    width, depth = plan.board
    fitting = (scale for scale in SCALES if width / scale <= _ROOM_ACROSS and depth / scale <= _ROOM_DOWN)
    return next(fitting, max(width / _ROOM_ACROSS, depth / _ROOM_DOWN))


class _Label(NamedTuple):
    """What stands inside an outline: a number in a circle, below it a name in lines; its middle once it has a place."""

    radius: float
    lines: tuple[str, ...] = ()
    x: float = 0.0
    y: float = 0.0

    @property
    def half(self) -> tuple[float, float]:
        """Half its size, across and down."""
        name = max((len(each) for each in self.lines), default=0) * _NAME * _LETTER
        return max(2 * self.radius, name) / 2, (2 * self.radius + _LINE * len(self.lines)) / 2


class Place:
    """Where things of the board stand on the paper."""

    def __init__(self, plan: BoardPlan) -> None:
        self._plan, self.scale = plan, scale_of(plan)
        across, down = self.size(*plan.board)
        self._left = _LEFT + (_ROOM_ACROSS - across) / 2
        self._bottom = _TOP + (_ROOM_DOWN - down) / 2 + down

    def x(self, mm: float) -> float:
        """Return where an x of the board is on the paper."""
        return self._left + mm / self.scale

    def y(self, mm: float) -> float:
        """Return where a y of the board is on the paper."""
        return self._bottom - mm / self.scale

    def size(self, width: float, depth: float) -> tuple[float, float]:
        """Return a size on the board as one on the paper."""
        return width / self.scale, depth / self.scale

    def board(self) -> str:
        """Draw the board's own edge."""
        return box(self.x(0), self.y(self._plan.board.depth), *self.size(*self._plan.board), width=0.7)

    def unit(self, each: Placed) -> list[str]:
        """Draw one unit: outline, room for its plugs, centres of its footswitches, number and name."""
        outline = each.outline
        across, down = self.size(outline.width, outline.depth)
        strokes = [*self._plug_room(each), box(self.x(each.x), self.y(each.y + outline.depth), across, down)]
        arm = self._arm(each)
        strokes += [stroke for point in each.footswitches for stroke in self._centre(*point, arm)]
        label = self._label(each, arm)
        top = label.y - label.half[1]
        middle = top + label.radius
        size = 3.4 * label.radius / _RADII[0]
        strokes.append(circle(label.x, middle, label.radius, white=True))
        strokes.append(words(label.x, middle + 0.36 * size, str(each.number), size=size, anchor="middle", bold=True))
        for at, text in enumerate(label.lines, 1):
            strokes.append(words(label.x, top + 2 * label.radius + at * _LINE - 0.5, text, size=_NAME, anchor="middle"))
        return strokes

    def _arm(self, each: Placed) -> float:
        """Return the arm of the crosses in a row: short enough that neighbours do not touch."""
        points = each.footswitches
        if len(points) < 2:
            return _ARM
        (x, y), (next_x, next_y) = points[:2]
        return min(_ARM, 0.42 * (abs(next_x - x) + abs(next_y - y)) / self.scale)

    def _label(self, each: Placed, arm: float) -> _Label:
        """Return the fullest label that has room inside an outline, with its place."""
        across, _ = self.size(each.outline.width, each.outline.depth)
        letters = int((across - 1.6) / (_NAME * _LETTER))
        lines = tuple(wrap(each.unit, letters, break_long_words=False)) if letters > 2 else ()
        named = len(lines) <= 3 and all(len(text) <= letters for text in lines)
        labels = [_Label(radius, lines) for radius in _RADII[:2] if lines and named]
        labels += [_Label(radius) for radius in _RADII]
        placed = (found for label in labels if (found := self._free(each, label, arm)) is not None)
        middle = self.x(each.x + each.outline.width / 2), self.y(each.y + each.outline.depth * 0.62)
        return next(placed, _Label(_RADII[-1], (), *middle))

    def _free(self, each: Placed, label: _Label, arm: float) -> _Label | None:
        """Return a label at a place inside an outline that covers no centre, as near its middle as can be."""
        outline, (half_x, half_y) = each.outline, label.half
        left, right = self.x(each.x) + half_x + 0.7, self.x(each.x + outline.width) - half_x - 0.7
        top, bottom = self.y(each.y + outline.depth) + half_y + 0.7, self.y(each.y) - half_y - 0.7
        if left > right or top > bottom:
            return None
        centres = [(self.x(x), self.y(y)) for x, y in each.footswitches]
        places = [
            (left + (right - left) * (0.5 + across / 12), top + (bottom - top) * (0.5 + down / 16))
            for down in sorted(range(-8, 9), key=abs)
            for across in sorted(range(-6, 7), key=abs)
        ]
        for x, y in places:
            if all(abs(x - cx) > half_x + arm or abs(y - cy) > half_y + arm for cx, cy in centres):
                return label._replace(x=x, y=y)
        return None

    def _plug_room(self, each: Placed) -> Iterable[str]:
        plug, outline = self._plan.plug_mm, each.outline
        for side in sorted(outline.jacks):
            wide = side in ("top", "front")
            x = each.x + (outline.width if side == "right" else -plug if side == "left" else 0)
            y = each.y + (outline.depth if side == "top" else -plug if side == "front" else 0)
            width, depth = (outline.width, plug) if wide else (plug, outline.depth)
            yield box(self.x(x), self.y(y + depth), *self.size(width, depth), width=0.13, dash=PLUGS)

    def _centre(self, x: float, y: float, arm: float) -> list[str]:
        at, down = self.x(x), self.y(y)
        return [
            circle(at, down, min(0.9, arm * 0.6), width=0.25),
            line(at - arm, down, at + arm, down, width=0.13),
            line(at, down - arm, at, down + arm, width=0.13),
        ]

    def jacks(self) -> Iterable[str]:
        """Mark the jacks to which leads go, each a short bar out of its side."""
        places = {each.unit: each for each in self._plan.placed}
        ends = {(end.unit, end.x, end.y) for lead in self._plan.leads for end in (lead.start, lead.stop) if end.side}
        for unit, x, y in sorted(ends):
            each = places[unit]
            outline = each.outline
            dx = -1 if x == each.x else 1 if x == each.x + outline.width else 0
            dy = 0 if dx else 1 if y == each.y else -1
            yield line(self.x(x), self.y(y), self.x(x) + 1.8 * dx, self.y(y) + 1.8 * dy, width=1.0)

    def runs(self) -> Iterator[str]:
        """Draw running dimensions from the left front corner: each unit's left and front edge."""
        lefts = sorted({each.x for each in self._plan.placed} - {0})
        fronts = sorted({each.y for each in self._plan.placed} - {0}, reverse=True)
        base, side = self.y(0), self.x(0)
        yield circle(side, base, 0.8, width=0.25)
        for value, label in zip(lefts, _spread([self.x(each) for each in lefts], least=side - 3), strict=True):
            x = self.x(value)
            yield line(x, base + 1, x, base + 3)
            yield line(x, base + 3, label, base + 5.5)
            yield line(label, base + 5.5, label, base + 6.3)
            yield words(label + 0.9, base + 13.4, str(value), size=2.6, upright=True)
        for value, label in zip(fronts, _spread([self.y(each) for each in fronts], most=base + 1), strict=True):
            y = self.y(value)
            yield line(side - 1, y, side - 3, y)
            yield line(side - 3, y, side - 5.5, label)
            yield line(side - 5.5, label, side - 6.5, label)
            yield words(side - 7, label + 0.9, str(value), size=2.6, anchor="end")

    def overall(self) -> list[str]:
        """Draw the board's two sides as dimensions, and where the front is."""
        width, depth = self._plan.board
        low, left = self.y(0) + 18.5, self.x(0) - 18
        right, top, base, side = self.x(width), self.y(depth), self.y(0), self.x(0)
        strokes = [line(x, base + 1, x, low + 1.5) for x in (side, right)]
        strokes += [line(side, low, right, low), arrow(side, low, -1, 0), arrow(right, low, 1, 0)]
        strokes.append(words((side + right) / 2, low - 0.9, str(width), size=3.2, anchor="middle"))
        strokes += [line(side - 1, y, left - 1.5, y) for y in (base, top)]
        strokes += [line(left, base, left, top), arrow(left, base, 0, 1), arrow(left, top, 0, -1)]
        strokes.append(words(left - 0.9, (base + top) / 2, str(depth), size=3.2, anchor="middle", upright=True))
        front = "front edge: the player stands on this side"
        strokes.append(words((side + right) / 2, low + 4.5, front, size=2.6, anchor="middle"))
        return strokes


def _spread(places: list[float], *, least: float = -1000.0, most: float = 1000.0) -> list[float]:
    """Return where labels stand: near their rising places, none nearer than a line to the next, all within the ends."""
    labels = list(places)
    for _ in range(200):
        for at in range(len(labels) - 1):
            lack = _LABEL_APART - (labels[at + 1] - labels[at])
            if lack > 0.001:
                labels[at] -= lack / 2
                labels[at + 1] += lack / 2
    for at in range(len(labels)):
        labels[at] = max(labels[at], least + at * _LABEL_APART)
    for at in range(len(labels)):
        labels[-1 - at] = min(labels[-1 - at], most - at * _LABEL_APART)
    return labels
