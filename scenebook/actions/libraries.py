"""Make, fill, write out, check and copy a library, and say what its files may hold."""

from pathlib import Path
from typing import Any, NamedTuple

from scenebook.errors import LibraryError, ScenebookError
from scenebook.model import Library
from scenebook.storage import Before, create_library, go_back, json_schema, open_library
from scenebook.storage import backup as backup_of
from scenebook.storage import check as check_file

__all__ = [
    "Checked",
    "Written",
    "back_up",
    "check",
    "create",
    "default_library",
    "export_to",
    "history",
    "import_from",
    "schema",
    "undo",
]


class Written(NamedTuple):
    """One change to a library: its revision, when it was made (UTC, ISO 8601), what was done, and to what.

    `things` are (kind, name, whether it was new).
    """

    revision: int
    at: str
    what: str
    things: tuple[tuple[str, str, bool], ...]


class Checked(NamedTuple):
    """What a library holds, and every fault that was found: (place, what)."""

    revision: int
    units: int
    rigs: int
    songs: int
    gigs: int
    faults: tuple[str, ...]


def default_library() -> Path:
    """Return where a player's library lies unless another is named."""
    from platformdirs import user_data_path  # late: not needed where a library is named

    return user_data_path("scenebook", appauthor=False) / "library.scenebook"


def create(path: Path) -> None:
    """Make an empty library; its folder is made as well.

    Raises:
        LibraryError: there is a file of that name, or the folder cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise LibraryError(f"the folder cannot be made: {error.strerror}", where=str(path.parent)) from error
    create_library(path)


def import_from(path: Path, folder: Path) -> "dict[str, tuple[int, int]]":
    """Take a folder into a library, in one transaction; return for each kind how many are new and how many replaced.

    Raises:
        FormatError: a file is not as it must be; nothing has been changed.
        ScenebookError: what a file says does not fit the rest; nothing has been changed.
    """
    from scenebook.storage.importing import import_folder

    with open_library(path) as store:
        done = import_folder(store, folder)
    return {str(kind): (done.new[kind], done.replaced[kind]) for kind in done.new}


def export_to(path: Path, folder: Path) -> int:
    """Write a library as a folder of the neutral format; return how many files it has.

    Raises:
        OutputError: the folder holds something that the library does not know, or cannot be written.
    """
    from scenebook.storage.exporting import export_folder

    with open_library(path, read_only=True) as store:
        return export_folder(store, folder)


def check(path: Path) -> Checked:
    """Ask SQLite whether the file is whole, read everything, hold each part against the others, compile each gig.

    Raises:
        LibraryError: the file is no library, or is damaged.
    """
    faults = check_file(path)
    with open_library(path, read_only=True) as store:
        counts = (len(store.names("unit")), len(store.names("rig")), len(store.names("song")), len(store.names("gig")))
        said = tuple(str(fault) for fault in faults) or tuple(_gig_faults(store.library()))
        return Checked(store.revision, *counts, said)


def history(path: Path, last: int = 20) -> tuple[Written, ...]:
    """Return the last changes to a library, the latest first."""
    with open_library(path, read_only=True) as store:
        entries = store.history(None, since=store.revision - last)
    by_revision: dict[int, list[Before]] = {}
    for entry in entries:
        by_revision.setdefault(entry.revision, []).append(entry)
    return tuple(
        Written(revision, each[0].at, each[0].what, tuple((e.kind, e.name, e.text is None) for e in each))
        for revision, each in by_revision.items()
    )


def undo(path: Path, to: int | None = None) -> tuple[int, tuple[tuple[str, str, bool], ...]]:
    """Put back what the last change replaced, or all changes after revision `to`; it is a change itself.

    Returns the revision that the library is like now, and (kind, name, whether it is there no more).

    Raises:
        BadValueError: there is no such revision, or nothing has been changed.
    """
    with open_library(path) as store:
        goal = store.revision - 1 if to is None else to
        back = go_back(store, to)
    return goal, tuple((each.kind, each.name, each.text is None) for each in back)


def back_up(path: Path) -> Path:
    """Copy a library beside itself, and return the copy.

    Raises:
        LibraryError: the file is no library, or the copy cannot be written.
    """
    return backup_of(path)


def schema() -> dict[str, Any]:
    """Return the JSON Schema of each kind of file in the neutral format, by where it lies."""
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "files": json_schema()}


def _gig_faults(library: Library) -> list[str]:
    from scenebook.cueing.compile import compile_gig

    faults = []
    for name, gig in library.gigs.items():
        if gig.rig is not None:
            try:
                compile_gig(library, name)
            except ScenebookError as error:
                faults.append(str(error.at(f"gig {name!r}")))
    return faults
