"""scenebook compile: the cues of a gig."""

from typing import Annotated

import typer

from scenebook.cli.options import AsJson, Full, Gig, LibraryPath, Rig, group, library_at
from scenebook.cli.plain import print_json

__all__ = ["app"]

app = group("compiling", "Work out the cues of a gig.")


@app.callback()
def _only_group() -> None:
    """Hold the command."""


@app.command("compile")
def compile_command(
    gig: Gig,
    rig: Rig = None,
    full: Full = False,
    csv: Annotated[bool, typer.Option("--csv", help="Print CSV, a row for each move.")] = False,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Work out the cues of a gig: what is sent, pressed and turned, in order, and what to know of it.

    The list is lean, only what changes, unless --full.

    Example: scenebook compile "Pell Quay"
    """
    from scenebook.actions.compiling import compiled
    from scenebook.sheets.lists import cue_list_json, cue_rows_csv, plain_cues

    cue_list = compiled(library_at(library), gig, rig, full=full)
    if json:
        print_json(cue_list_json(cue_list))
    else:
        print(cue_rows_csv(cue_list) if csv else plain_cues(cue_list), end="")
