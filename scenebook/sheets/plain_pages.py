"""Pages of words and tables, decided once and set as PDF or as text: what is packed, set up, stored and ticked off.

Black on white, fonts embedded; the words go to the setter as data and are never read as markup.
"""

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from scenebook.sheets.as_pdf import NEAR_MM, set_pages
from scenebook.sheets.breaking import softened
from scenebook.sheets.faces import point_size
from scenebook.sheets.view import Paper, texts_of

__all__ = ["TICK", "Block", "Boxed", "Grid", "Page", "PlainPages", "Words", "pages_pdf", "pages_text"]

TICK = "□"  # a box to tick with a pen
_COLUMNS = 100  # characters a line as text
_CELL = 16  # the longest word, in characters, that stands whole in any cell


@dataclass(frozen=True, slots=True)
class Words:
    """A paragraph; `head` stands before it in bold."""

    text: str
    head: str = ""


@dataclass(frozen=True, slots=True)
class Boxed:
    """Lines in a frame, under a title: what to take care of."""

    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Grid:
    """A table. `widths` shares the width among the columns; `ruled` are the rows under which a thick line stands.

    The first cell of a row whose column has no heading is a box to tick.
    """

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[float, ...]
    closing: str = ""
    ruled: frozenset[int] = frozenset()


Block = Words | Boxed | Grid


@dataclass(frozen=True, slots=True)
class Page:
    """What begins on a new page under its own title, and goes on overleaf where it must.

    With `follows` it goes on where the part before it ends, and stays whole where that takes no page more.
    """

    title: str
    blocks: tuple[Block, ...]
    follows: bool = False


@dataclass(frozen=True, slots=True)
class PlainPages:
    """Pages that bear the same line: what they are of, for which rig, of which revision."""

    bearing: tuple[str, ...]
    pages: tuple[Page, ...]
    paper: Paper = Paper.A4


def pages_pdf(pages: PlainPages, *, fonts: Sequence[Path] = ()) -> bytes:
    """Return the pages as PDF; capitals are seen under at least 16 minutes of arc from 0.7 m (ISO 9241-3).

    Raises:
        OutputError: a character is in no font, or a font file cannot be read.
    """
    said = {
        "paper": pages.paper,
        "bearing": softened(pages.bearing),
        "size": point_size(NEAR_MM),
        "pages": [_page_said(page) for page in pages.pages],
    }
    return set_pages("plain_pages.typ", said, texts_of((pages.bearing, *map(_all, pages.pages))), fonts=fonts)


def _page_said(page: Page) -> dict[str, Any]:
    blocks = [_said(block) for block in page.blocks]
    return {"title": softened(page.title), "follows": page.follows, "blocks": blocks}


def _all(page: Page) -> Any:
    return (page.title, *page.blocks)


def _said(block: Block) -> dict[str, Any]:
    if isinstance(block, Grid):
        cells = {"columns": softened(block.columns, _CELL, 1), "rows": softened(block.rows, _CELL, 1)}
        plain = {"title": softened(block.title), "closing": softened(block.closing)}
        return {"kind": "grid", **cells, **plain, "widths": list(block.widths), "ruled": sorted(block.ruled)}
    return {"kind": type(block).__name__.lower(), **softened(block)}


def pages_text(pages: PlainPages) -> str:
    """Return the pages as plain text, lines of at most 100 characters, tables aligned."""
    lines = [" · ".join(pages.bearing)]
    for page in pages.pages:
        lines += ["", "", page.title, "=" * len(page.title)]
        for block in page.blocks:
            lines += ["", *_lines(block)]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _lines(block: Block) -> Iterator[str]:
    if isinstance(block, Words):
        yield from textwrap.wrap(f"{block.head} {block.text}".strip(), _COLUMNS)
    elif isinstance(block, Boxed):
        yield block.title
        for line in block.lines:
            yield from textwrap.wrap(line, _COLUMNS, initial_indent="- ", subsequent_indent="  ")
    else:
        yield from [block.title] if block.title else []
        yield from _table(block)
        yield from textwrap.wrap(block.closing, _COLUMNS)


def _table(grid: Grid) -> Iterator[str]:
    """Yield a table's lines: as wide as its cells, and where that is too much, the widest column wrapped."""
    cells = [grid.columns, *grid.rows] if grid.rows else []
    widths = [max(len(row[at]) for row in cells) for at in range(len(grid.columns))] if cells else []
    while sum(widths) + 2 * len(widths) > _COLUMNS and max(widths) > _CELL:
        widths[widths.index(max(widths))] -= 1
    for row in cells:
        wrapped = [textwrap.wrap(cell, width) if cell else [""] for cell, width in zip(row, widths, strict=True)]
        for number in range(max(map(len, wrapped))):
            parts = [lines[number] if number < len(lines) else "" for lines in wrapped]
            yield "  ".join(part.ljust(width) for part, width in zip(parts, widths, strict=True))
