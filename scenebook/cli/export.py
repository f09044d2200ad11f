"""scenebook export: a gig's messages for other programs."""

from pathlib import Path
from typing import Annotated

import typer

from scenebook.cli.options import AsJson, Gig, LibraryPath, Rig, group, library_at
from scenebook.cli.plain import print_json, print_lines

__all__ = ["app"]

app = group("exporting", "Write a gig for other programs.")


@app.callback()
def _only_group() -> None:
    """Hold the command."""


@app.command("export")
def export_command(
    gig: Gig,
    to: Annotated[
        Path | None, typer.Option("--to", metavar="DIR", help="The folder to write to; it is made if need be.")
    ] = None,
    rig: Rig = None,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Write what a gig sends: Standard MIDI Files, one for each port and song, and the lists as CSV and JSON.

    Files of the same name are replaced.

    Example: scenebook export "Pell Quay" --to pell-quay
    """
    from scenebook.actions.exporting import export_gig

    if to is None:
        raise typer.BadParameter("name the folder to write to: --to DIR; it is made if need be")
    done = export_gig(library_at(library), gig, to, rig)
    if json:
        print_json(
            {
                "files": [str(path) for path in done.files],
                "older": [str(path) for path in done.older],
                "note": done.note,
            }
        )
        return
    print_lines(str(path) for path in done.files)
    print_lines([done.note] if done.note else [])
    if done.older:
        print_lines(["Still there from an earlier export, and not of this one:", *(f"  {path}" for path in done.older)])
