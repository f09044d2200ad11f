"""The workshop drawing of a board: outlines to scale, numbers, a parts list beside them, dimensions; black on white.

Pure: a plan in, SVG out, the same bytes from the same plan and day. Lengths on the drawing are mm of the board,
coordinates in here mm of the paper: A4 on its side, below it in the SVG file the lists.
"""

from datetime import date

from scenebook.model.amounts import counted, number_words
from scenebook.planning.board import BoardPlan
from scenebook.planning.supply_leads import SupplyAt
from scenebook.sheets.board_place import PLUGS, SCALES, Place, scale_of
from scenebook.sheets.board_words import CUT_HEAD, PARTS_HEAD, cut_rows, cut_total, parts_rows, remarks
from scenebook.sheets.strokes import box, circle, line, page, words

__all__ = ["SCALES", "board_page", "board_svg", "scale_of"]

_ACROSS, _DOWN, _FRAME = 297.0, 210.0, 8.0
_BLOCK_DOWN, _BLOCK_ACROSS = 24.0, 118.0
_PARTS_ACROSS, _ROW = 66.0, 5.4  # of the parts list beside the board; the height of a row, less where there are many


def board_page(plan: BoardPlan, *, drawn: date | None = None) -> str:
    """Return the drawing alone: one page, A4 on its side, with the day on which it was drawn."""
    return page(_ACROSS, _DOWN, _drawn(plan, drawn))


def board_svg(plan: BoardPlan, *, drawn: date | None = None) -> bytes:
    """Return the drawing with the parts list, the cut list and what to know of them below it, as one SVG file."""
    lists, down = _lists(plan)
    return page(_ACROSS, down, [*_drawn(plan, drawn), *lists]).encode()


def _drawn(plan: BoardPlan, drawn: date | None) -> list[str]:
    place = Place(plan)
    strokes = [box(_FRAME, _FRAME, _ACROSS - 2 * _FRAME, _DOWN - 2 * _FRAME, width=0.5), place.board()]
    for each in plan.placed:
        strokes += place.unit(each)
    strokes += [*place.jacks(), *place.runs(), *place.overall()]
    return [*strokes, *_parts(plan), *_title(plan, place.scale, drawn), *_legend(), *_stopped(plan)]


def _parts(plan: BoardPlan) -> list[str]:
    """Return the parts list beside the board: number, name and size of each unit."""
    left, right, y = _ACROSS - _FRAME - _PARTS_ACROSS, _ACROSS - _FRAME, _FRAME + 6.0
    strokes = [line(left, _FRAME, left, _DOWN - _FRAME - _BLOCK_DOWN, width=0.25)]
    strokes += [words(left + 3, y, "Parts", size=3.2, bold=True), words(right - 3, y, "mm", size=2.6, anchor="end")]
    under = plan.supply.supply if plan.supply.at is SupplyAt.UNDER else None
    room = _DOWN - 2 * _FRAME - _BLOCK_DOWN - 8
    height = min(_ROW, room / (len(plan.placed) + 2 * bool(under) + 1))
    size = min(2.7, 0.6 * height)
    for each in plan.placed:
        strokes.append(line(left, y + 0.3 * height, right, y + 0.3 * height, width=0.13))
        y += height
        outline = f"{each.outline.width} × {each.outline.depth}"
        strokes.append(words(left + 7, y, str(each.number), size=size, bold=True, anchor="end"))
        strokes += _name(each.unit, left + 9, y, size, height)
        strokes.append(words(right - 3, y, outline, size=size, anchor="end", room=16))
    if under:
        strokes.append(
            words(left + 3, y + 1.5 * height, f"under the frame: {under}", size=size, room=_PARTS_ACROSS - 6)
        )
    return strokes


def _name(name: str, x: float, y: float, size: float, height: float) -> list[str]:
    """Return a name on its line; one that has no room there in two smaller lines."""
    room = _PARTS_ACROSS - 9 - 20
    if len(name) * size * 0.62 <= room:
        return [words(x, y, name, size=size)]
    lines = _wrapped(name, max(-(-len(name) // 2) + 4, 24))[:2]
    small, up = min(0.75 * size, 0.42 * height), 0.36 * height
    return [words(x, y + up * (at - 0.7), text, size=small, room=room) for at, text in enumerate(lines)]


def _title(plan: BoardPlan, scale: float, drawn: date | None) -> list[str]:
    left, top = _ACROSS - _FRAME - _BLOCK_ACROSS, _DOWN - _FRAME - _BLOCK_DOWN
    right, second, third = left + _BLOCK_ACROSS, left + 56, left + 86
    strokes = [box(left, top, _BLOCK_ACROSS, _BLOCK_DOWN, width=0.5), line(left, top + 9, right, top + 9)]
    strokes += [line(x, top + (9 if x == second else 0), x, top + _BLOCK_DOWN) for x in (second, third)]
    strokes.append(line(left, top + 16.5, third, top + 16.5))
    day = f"date {drawn.isoformat()}" if drawn else "date"
    said = (
        (left, 6.4, plan.rig, 4.4, 80),
        (third, 4.2, "board of the rig", 2.6, 28),
        (third, 7.6, "sheet 1: the board", 2.6, 28),
        (left, 14, f"board {plan.board.width} × {plan.board.depth} mm", 3.2, 50),
        (left, 21.5, f"{_count(plan)}; all lengths in mm", 2.8, 50),
        (second, 14, f"scale 1 : {number_words(scale, 2)}", 3.2, 26),
        (second, 21.5, day, 2.8, 26),
    )
    strokes += [words(x + 3, top + y, text, size=size, room=room, bold=size > 4) for x, y, text, size, room in said]
    length = next(each for each in (100, 50, 20, 10) if each / scale < 20)
    bar, start, low = length / scale, third + 3, top + 17.5
    strokes.append(line(start, low, start + bar, low, width=0.35))
    strokes += [line(start + at, low - 1, start + at, low + 1, width=0.25) for at in (0, bar)]
    return [*strokes, words(start + bar + 1, low + 0.8, str(length), size=2.4)]


def _stopped(plan: BoardPlan) -> list[str]:
    """Return the note that the arrangement is no more than the best so far, where the search was stopped."""
    if not plan.stopped:
        return []
    left, low = _FRAME + 78, _DOWN - _FRAME - 4.1
    return [words(left, low, "stopped early: best arrangement so far", size=3.0, bold=True, room=79)]


def _count(plan: BoardPlan) -> str:
    """Return how many units stand on the board; the supply counts apart."""
    units = [each.unit for each in plan.placed if each.unit != plan.supply.supply]
    supply = " and a supply" if len(units) < len(plan.placed) else ""
    return counted(len(units), "unit") + supply


def _legend() -> list[str]:
    left, top = _FRAME + 4, _DOWN - _FRAME - _BLOCK_DOWN + 5
    middle, foot = left + 3, top + 10
    strokes = [
        circle(middle, top, 1.8, white=True),
        box(left, top + 3.7, 6, 2.6, width=0.13, dash=PLUGS),
        circle(middle, foot, 0.9),
        line(middle - 2.2, foot, middle + 2.2, foot, width=0.13),
        line(middle, foot - 2.2, middle, foot + 2.2, width=0.13),
        line(middle, top + 14, middle, top + 15.8, width=1.0),
    ]
    texts = (
        (9, 0, "number in the parts list"),
        (9, 5, "room for plugs"),
        (9, 10, "footswitch centre, taken evenly spaced"),
        (9, 15, "jack that a lead of the cut list goes to"),
        (74, 0, "numbers at the edges: mm from the"),
        (74, 4.2, "corner with the small circle to the left"),
        (74, 8.4, "and front edges of the units"),
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
