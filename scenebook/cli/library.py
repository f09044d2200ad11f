"""scenebook library: make a library, fill it, write it out, check and copy it."""

from pathlib import Path
from typing import Annotated

import typer

from scenebook.cli.options import AsJson, LibraryPath, group, library_at
from scenebook.cli.plain import columns, counted, print_json, print_lines

__all__ = ["app"]

SHOWN = 12  # things of one change that are listed

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


@app.command("history")
def history_command(
    last: Annotated[int, typer.Option("--last", metavar="N", min=1, help="How many changes to list.")] = 20,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """List the last changes to the library, the latest first: revision, when, what was done, to what.

    Example: scenebook library history --last 5
    """
    from scenebook.actions.libraries import history

    found = history(library_at(library), last)
    if json:
        print_json([{**each._asdict(), "things": [_thing_json(*thing) for thing in each.things]} for each in found])
        return
    rows = ((f"{each.revision:>4}", _local(each.at), each.what, _things(each.things)) for each in found)
    print_lines(columns(rows) or ["Nothing has been changed yet."])
    if found:
        print("The last one is undone by: scenebook library undo")


@app.command("undo")
def undo_command(
    to: Annotated[
        int | None, typer.Option("--to", metavar="REVISION", help="Back over all changes after this revision.")
    ] = None,
    library: LibraryPath = None,
) -> None:
    """Put back what the last change replaced. This is a change itself: undone once more, it is as it was.

    To go back further, name a revision that library history lists: the library will be as it was then.

    Example: scenebook library undo
    """
    from scenebook.actions.libraries import undo

    revision, things = undo(library_at(library), to)
    print(f"The library is as it was at revision {revision}.")
    print_lines(
        f"  {_thing(kind, name)} is {'there no more' if gone else 'as it was'}" for kind, name, gone in things[:SHOWN]
    )
    if len(things) > SHOWN:
        print(f"  and {len(things) - SHOWN} more")
    print("To take this back: scenebook library undo")


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


def _local(at: str) -> str:
    """Return a moment of the history by the clock of this machine."""
    from datetime import datetime

    return f"{datetime.fromisoformat(at).astimezone():%Y-%m-%d %H:%M}"


def _things(things: tuple[tuple[str, str, bool], ...]) -> str:
    said = [_thing(kind, name) + (" (new)" if new else "") for kind, name, new in things[:3]]
    return "; ".join(said) + (f" and {len(things) - 3} more" if len(things) > 3 else "")


def _thing(kind: str, name: str) -> str:
    return f"the note of what {name!r} holds" if kind == "box" else f"{kind} {name!r}"


def _thing_json(kind: str, name: str, new: bool) -> dict[str, object]:
    return {"kind": kind, "name": name, "new": new}
