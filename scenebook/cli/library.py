"""scenebook library: make a library, fill it, write it out, check and copy it."""

from pathlib import Path
from typing import Annotated

import typer

from scenebook.cli.options import AsJson, LibraryPath, group, library_at
from scenebook.cli.plain import columns, counted, print_json, print_lines

__all__ = ["app"]

app = group("library", "The library: one file that holds units, rigs, songs and gigs.")
Folder = Annotated[Path, typer.Argument(metavar="DIR", help="A folder of the neutral format.")]


@app.command("create")
def create_command(library: LibraryPath = None) -> None:
    """Make an empty library.

    Example: scenebook library create --library tour.scenebook
    """
    from scenebook.actions.libraries import create

    path = library_at(library)
    create(path)
    print(f"Made an empty library: {path}")


@app.command("import")
def import_command(folder: Folder, library: LibraryPath = None, json: AsJson = False) -> None:
    """Take in a folder: all of it, or, where anything is wrong, nothing. What has the same name is replaced.

    What stood there before stays in the library's history.

    Example: scenebook library import my-songs
    """
    from scenebook.actions.libraries import import_from

    done = import_from(library_at(library), folder)
    if json:
        print_json({kind: {"new": new, "replaced": replaced} for kind, (new, replaced) in done.items()})
    else:
        print(f"Took in {folder}:")
        rows = ((counted(new, kind) + " new", f"{replaced} replaced") for kind, (new, replaced) in done.items())
        print_lines(columns(rows, indent=2))
        if not any(new or replaced for new, replaced in done.values()):
            print("All of it was there already.")


@app.command("export")
def export_command(folder: Folder, library: LibraryPath = None) -> None:
    """Write the library as a folder of text files; what was imported comes back as it was, comments included.

    Example: scenebook library export my-songs
    """
    from scenebook.actions.libraries import export_to

    count = export_to(library_at(library), folder)
    print(f"Wrote {counted(count, 'file')} to {folder}")


@app.command("check")
def check_command(library: LibraryPath = None, json: AsJson = False) -> None:
    """Read everything in the library, and see that it fits together and that every gig can be played on its rig.

    Exit code 1 if anything is wrong.

    Example: scenebook library check
    """
    from scenebook.actions.libraries import check

    found = check(library_at(library))
    if json:
        print_json(found._asdict())
    else:
        parts = [counted(getattr(found, f"{kind}s"), kind) for kind in ("unit", "rig", "song", "gig")]
        print(f"Revision {found.revision}: {', '.join(parts)}.")
        print_lines(found.faults or ["Nothing is wrong."])
    raise typer.Exit(1 if found.faults else 0)


@app.command("backup")
def backup_command(library: LibraryPath = None) -> None:
    """Copy the library beside itself, whole even while others use it.

    Example: scenebook library backup
    """
    from scenebook.actions.libraries import back_up

    print(f"Copied to {back_up(library_at(library))}")


@app.command("schema")
def schema_command() -> None:
    """Print the JSON Schema of the text files that import reads and export writes.

    Example: scenebook library schema > schema.json
    """
    from scenebook.actions.libraries import schema

    print_json(schema())
