"""The workshop drawing of a board: outlines to scale, numbers, room for plugs, dimensions; black on white.

Pure: a plan in, SVG out, the same bytes from the same plan. Lengths on the drawing are mm of the board, coordinates in
here mm of the paper: A4 on its side, below it in the SVG file the lists.
"""

from collections.abc import Iterable
from math import hypot

from scenebook.planning.board import BoardPlan
from scenebook.planning.outlines import Placed
from scenebook.sheets.board_words import CUT_HEAD, PARTS_HEAD, cut_rows, cut_total, parts_rows, remarks
from scenebook.sheets.strokes import arrow, box, circle, line, page, words

__all__ = ["SCALES", "board_page", "board_svg", "scale_of"]

SCALES = (1, 2, 2.5, 3, 4, 5, 7.5, 10, 15, 20)  # one to so many
_ACROSS, _DOWN, _FRAME = 297.0, 210.0, 8.0
_LEFT, _TOP = 34.0, 16.0  # of the room for the board
_ROOM_ACROSS, _ROOM_DOWN = 247.0, 122.0
_BLOCK_DOWN, _BLOCK_ACROSS = 22.0, 118.0
_PLUGS, _CENTRE = "1.2 0.8", "2.2 0.5 0.5 0.5"
_LABEL_APART = 3.4


def scale_of(plan: BoardPlan) -> float:
    """Return the scale as one to so many: the largest at which the board has room on A4."""
    width, depth = plan.board
    fitting = (scale for scale in SCALES if width / scale <= _ROOM_ACROSS and depth / scale <= _ROOM_DOWN)
    return next(fitting, max(width / _ROOM_ACROSS, depth / _ROOM_DOWN))


def board_page(plan: BoardPlan) -> str:
    """Return the drawing alone: one page, A4 on its side."""
    return page(_ACROSS, _DOWN, _drawn(plan))


def board_svg(plan: BoardPlan) -> bytes:
    """Return the drawing with the parts list, the cut list and what to know of them below it, as one SVG file."""
    strokes = _drawn(plan)
    lists, down = _lists(plan)
    return page(_ACROSS, down, [*strokes, *lists]).encode()


def _drawn(plan: BoardPlan) -> list[str]:
    place = _Place(plan)
    strokes = [box(_FRAME, _FRAME, _ACROSS - 2 * _FRAME, _DOWN - 2 * _FRAME, width=0.5)]
    strokes.append(box(place.x(0), place.y(plan.board.depth), *place.size(*plan.board), width=0.7))
    for each in plan.placed:
        strokes += place.unit(each)
    strokes += [*place.jacks(), *place.runs(), *place.overall(), *_title(plan, place.scale), *_legend()]
    return strokes


class _Place:
    """Where things of the board stand on the paper."""

    def __init__(self, plan: BoardPlan) -> None:
        self._plan, self.scale = plan, scale_of(plan)
        across, down = self.size(*plan.board)
        self._left = _LEFT + (_ROOM_ACROSS - across) / 2
        self._bottom = _TOP + (_ROOM_DOWN - down) / 2 + down

    def x(self, mm: float) -> float:
        return self._left + mm / self.scale

    def y(self, mm: float) -> float:
        return self._bottom - mm / self.scale

    def size(self, width: float, depth: float) -> tuple[float, float]:
        return width / self.scale, depth / self.scale

    def unit(self, each: Placed) -> list[str]:
        """Draw one unit: outline, room for its plugs, centres of its footswitches, number and size."""
        outline = each.outline
        across, down = self.size(outline.width, outline.depth)
        left, top = self.x(each.x), self.y(each.y + outline.depth)
        strokes = [*self._plug_room(each), box(left, top, across, down)]
        strokes += [stroke for point in each.footswitches for stroke in self._centre(*point)]
        x, y = self._number_at(each)
        strokes += [
            circle(x, y, 3.1, white=True),
            words(x, y + 1.2, str(each.number), size=3.4, anchor="middle", bold=True),
        ]
        size, below = f"{outline.width} × {outline.depth}", y + 6.2
        room = 2 * min(x - left, left + across - x) - 1
        clear = all(abs(self.y(front) - below + 1) > 3.2 for _, front in each.footswitches)
        if clear and below < top + down - 1 and room > 1.3 * len(size):  # the parts list has every size
            strokes.append(words(x, below, size, size=2.4, anchor="middle", room=room))
        return strokes

    def _number_at(self, each: Placed) -> tuple[float, float]:
        """Return where a unit's number stands: in the middle, or near it where it covers no centre of a footswitch."""
        outline, centres = each.outline, [(self.x(x), self.y(y)) for x, y in each.footswitches]
        places = [
            (self.x(each.x + outline.width * right), self.y(each.y + outline.depth * back))
            for right in (0.5, 0.35, 0.65, 0.25, 0.75)
            for back in (0.55, 0.65, 0.45, 0.75)
        ]

        def free(place: tuple[float, float]) -> float:
            return min((hypot(place[0] - x, place[1] - y) for x, y in centres), default=9.0)

        return next((place for place in places if free(place) > 5.4), max(places, key=free))

    def _plug_room(self, each: Placed) -> Iterable[str]:
        plug, outline = self._plan.plug_mm, each.outline
        for side in sorted(outline.jacks):
            wide = side in ("top", "front")
            x = each.x + (outline.width if side == "right" else -plug if side == "left" else 0)
            y = each.y + (outline.depth if side == "top" else -plug if side == "front" else 0)
            width, depth = (outline.width, plug) if wide else (plug, outline.depth)
            yield box(self.x(x), self.y(y + depth), *self.size(width, depth), width=0.13, dash=_PLUGS)

    def _centre(self, x: float, y: float) -> list[str]:
        at, down, arm = self.x(x), self.y(y), 2.2
        return [
            circle(at, down, 0.9, width=0.25),
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

    def runs(self) -> list[str]:
        """Draw running dimensions from the left front corner: each unit's left and front edge."""
        lefts = sorted({each.x for each in self._plan.placed} - {0})
        fronts = sorted({each.y for each in self._plan.placed} - {0})
        base, side = self.y(0), self.x(0)
        strokes = [circle(side, base, 0.8, width=0.25)]
        for value, label in _spread(lefts, [self.x(each) for each in lefts]):
            x = self.x(value)
            strokes += [line(x, base + 1, x, base + 3), line(x, base + 3, label, base + 5.5)]
            strokes += [
                line(label, base + 5.5, label, base + 6.5),
                words(label + 0.9, base + 13, str(value), size=2.6, upright=True),
            ]
        for value, label in _spread(fronts, [self.y(each) for each in fronts]):
            y = self.y(value)
            strokes += [line(side - 1, y, side - 3, y), line(side - 3, y, side - 5.5, label)]
            strokes += [
                line(side - 5.5, label, side - 6.5, label),
                words(side - 7, label + 0.9, str(value), size=2.6, anchor="end"),
            ]
        return strokes

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


def _spread(values: list[int], places: list[float]) -> list[tuple[int, float]]:
    """Return each value with a place for its label: near its own, and none nearer than a line to the next."""
    order = sorted(range(len(values)), key=lambda at: places[at])
    labels = [places[at] for at in order]
    for _ in range(200):
        for at in range(len(labels) - 1):
            lack = _LABEL_APART - (labels[at + 1] - labels[at])
            if lack > 0.001:
                labels[at] -= lack / 2
                labels[at + 1] += lack / 2
    return [(values[at], label) for at, label in zip(order, labels, strict=True)]


def _title(plan: BoardPlan, scale: float) -> list[str]:
    left, top = _ACROSS - _FRAME - _BLOCK_ACROSS, _DOWN - _FRAME - _BLOCK_DOWN
    strokes = [box(left, top, _BLOCK_ACROSS, _BLOCK_DOWN, width=0.5)]
    strokes += [
        line(left, top + 9, left + _BLOCK_ACROSS, top + 9),
        line(left + 70, top + 9, left + 70, top + _BLOCK_DOWN),
    ]
    strokes.append(words(left + 3, top + 6.4, plan.rig, size=4.6, bold=True, room=_BLOCK_ACROSS - 6))
    size = f"board {plan.board.width} × {plan.board.depth} mm"
    strokes += [
        words(left + 3, top + 14, size, size=3.2),
        words(left + 3, top + 19.5, f"{len(plan.placed)} units; lengths in mm", size=2.8),
    ]
    strokes.append(words(left + 73, top + 14, f"scale 1 : {scale:.4g}", size=3.2))
    length = next(each for each in (100, 50, 20, 10) if each / scale < 38)
    bar, start = length / scale, left + 73
    strokes.append(line(start, top + 19.5, start + bar, top + 19.5, width=0.35))
    strokes += [line(start + at, top + 18.5, start + at, top + 20.5, width=0.25) for at in (0, bar)]
    return [*strokes, words(start + bar + 1, top + 20.3, str(length), size=2.4)]


def _legend() -> list[str]:
    left, top = _FRAME + 4, _DOWN - _FRAME - _BLOCK_DOWN + 4
    middle, foot = left + 3, top + 10
    strokes = [
        circle(middle, top, 1.8, white=True),
        box(left, top + 3.7, 6, 2.6, width=0.13, dash=_PLUGS),
        circle(middle, foot, 0.9),
        line(middle - 2.2, foot, middle + 2.2, foot, width=0.13),
        line(middle, foot - 2.2, middle, foot + 2.2, width=0.13),
        line(middle, top + 14, middle, top + 15.8, width=1.0),
    ]
    texts = (
        (9, 0, "number in the parts list"),
        (9, 5, "room for plugs"),
        (9, 10, "centre of a footswitch"),
        (9, 15, "jack that a lead of the cut list goes to"),
        (74, 0, "numbers at the edges: mm from the corner with the small"),
        (74, 4.2, "circle to the left and front edges of the units"),
    )
    return [*strokes, *(words(left + across, top + 0.9 + down, text, size=2.6) for across, down, text in texts)]


_PARTS_AT = (0, 10, 118, 150, 172, 196, 224, 262)
_CUT_AT = (0, 16, 126, 236, 262)


def _lists(plan: BoardPlan) -> tuple[list[str], float]:
    """Return the lists below the drawing, and where the page then ends."""
    y = _DOWN + 6
    strokes: list[str] = []
    for title, head, rows, at in (
        ("Parts list (mm)", PARTS_HEAD, parts_rows(plan), _PARTS_AT),
        ("Cut list of leads", CUT_HEAD, cut_rows(plan), _CUT_AT),
    ):
        if rows:
            table, y = _table(title, head, rows, at, y)
            strokes += table
    for text in [f"To cut: {cut_total(plan)}" if plan.leads else "", *remarks(plan)]:
        for part in _wrapped(text, 165) if text else []:
            strokes.append(words(_FRAME + 2, y, part, size=2.6))
            y += 4.2
    return strokes, y + 4


def _table(
    title: str, head: tuple[str, ...], rows: list[tuple[str, ...]], at: tuple[int, ...], y: float
) -> tuple[list[str], float]:
    left, right = _FRAME + 2, _ACROSS - _FRAME
    ends = [*at[1:], int(right - left)]
    strokes = [words(left, y, title, size=3.4, bold=True)]
    for number, row in enumerate((head, *rows)):
        y += 5
        for text, start, end in zip(row, at, ends, strict=True):
            strokes.append(words(left + start, y, text, size=2.6, bold=number == 0, room=end - start - 2))
        strokes.append(line(left, y + 1.4, right, y + 1.4, width=0.35 if number == 0 else 0.13))
    return strokes, y + 9


def _wrapped(text: str, most: int) -> list[str]:
    from textwrap import wrap  # late: only a drawing needs it

    return wrap(text, most)
