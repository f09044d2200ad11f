"""The workshop drawing of a board as PDF: the drawing to scale on A4, then the parts list and the cut list."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from scenebook.planning.board import BoardPlan
from scenebook.sheets.as_pdf import set_pages
from scenebook.sheets.board_words import CUT_HEAD, PARTS_HEAD, cut_rows, cut_total, parts_rows, remarks
from scenebook.sheets.drawing import board_page

__all__ = ["board_pdf"]


def board_pdf(plan: BoardPlan, *, drawn: date | None = None, fonts: Sequence[Path] = ()) -> bytes:
    """Return the drawing and its lists as PDF, the same bytes from the same plan and day.

    Raises:
        OutputError: a character is in no font, or a font file cannot be read.
    """
    title = f"{plan.rig}: board {plan.board.width} × {plan.board.depth} mm"
    parts, cuts = parts_rows(plan), cut_rows(plan)
    said = {
        "title": title,
        "drawing": board_page(plan, drawn=drawn),
        "lists": [
            {"title": "Parts list (mm)", "head": PARTS_HEAD, "rows": parts, "widths": [1, 8, 3, 2.2, 2.2, 3, 4, 2]},
            {"title": "Cut list of leads", "head": CUT_HEAD, "rows": cuts, "widths": [1.3, 7, 10, 2, 1.9]},
        ],
        "total": f"To cut: {cut_total(plan)}." if cuts else "",
        "remarks": remarks(plan),
    }
    texts = [title, *(text for row in (*parts, *cuts) for text in row), *remarks(plan)]
    return set_pages("drawing.typ", said, texts, fonts=fonts)
