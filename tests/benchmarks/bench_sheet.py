"""How long the demo gig's sheet takes to set, against the setter alone with as many pages of a plain table."""

import re

import typst

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import CueList
from scenebook.model import Library
from scenebook.resources import demo_library_folder
from scenebook.sheets import pdf, view_of
from scenebook.sheets.faces import FONTS
from scenebook.storage.folder import read_folder
from tests.benchmarks.table import Row, medians

__all__ = ["run"]

GIG = "Pell Quay hall"
ROWS_A_PAGE = 38  # of one line each, in the sheet's smaller size

_PLAIN = """#set page(paper: "a4", margin: 20mm)
#set text(font: "DejaVu Sans", size: 12.7pt, stretch: 75%)
#table(columns: 4, ..range({cells}).map(number => [cell {sign}number of the table]))
"""


def run() -> list[Row]:
    """Return the ratio of the whole of `pdf` to the setter's time for a plain table of the same number of pages."""
    view = view_of(*_compiled(), revision=1)
    pages = _pages(pdf(view))
    rows = _rows_for(pages)
    ours, plain, ratio = medians(lambda: pdf(view), lambda: _plain_table(rows), runs=7)
    note = f"{pages} pages: {ours * 1000:.0f} ms against {plain * 1000:.0f} ms"
    return [Row("the demo gig's sheet against a plain table of as many pages", ratio, 2.0, note)]


def _compiled() -> tuple[Library, CueList]:
    library, _ = read_folder(demo_library_folder())
    return library, compile_gig(library, GIG)


def _rows_for(pages: int) -> int:
    """Return how many rows fill exactly so many pages."""
    rows = pages * ROWS_A_PAGE
    while _pages(_plain_table(rows)) > pages:
        rows -= ROWS_A_PAGE // 2
    while _pages(_plain_table(rows)) < pages:
        rows += ROWS_A_PAGE // 2
    return rows


def _plain_table(rows: int) -> bytes:
    fonts = typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[FONTS])
    source = _PLAIN.format(cells=rows * 4, sign="#").encode()
    return typst.compile(source, format="pdf", font_paths=fonts, ignore_system_fonts=True)


def _pages(data: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", data))
