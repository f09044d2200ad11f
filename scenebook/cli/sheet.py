"""scenebook sheet: what hands and feet do, on paper."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from scenebook.cli.options import Gig, LibraryPath, Rig, group, library_at

__all__ = ["Paper", "app"]

app = group("printing", "Print a gig.")


class Paper(StrEnum):
    """The page."""

    a4 = "a4"
    letter = "letter"


@app.callback()
def _only_group() -> None:
    """Hold the command."""


@app.command("sheet")
def sheet_command(
    gig: Gig,
    out: Annotated[Path, typer.Option("--out", "-o", metavar="FILE", help="The file: .pdf, .html or .txt.")],
    rig: Rig = None,
    paper: Annotated[Paper, typer.Option("--paper", metavar="a4|letter", help="The page.")] = Paper.a4,
    font: Annotated[
        list[Path] | None, typer.Option("--font", metavar="FILE", help="A font for a script that ours lacks (PDF).")
    ] = None,
    library: LibraryPath = None,
) -> None:
    """Print the switching sheet of a gig: floor page, set-up, and every song with what to press, turn and prepare.

    Example: scenebook sheet "Pell Quay" -o pell-quay.pdf
    """
    from scenebook.actions.sheet import sheet

    print(f"Wrote {sheet(library_at(library), gig, out, rig, paper=paper.value, fonts=tuple(font or ()))}")
