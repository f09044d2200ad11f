"""Say what SQLite complains about in a player's words: the boundary at which foreign errors become ours."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from scenebook.errors import LibraryError

__all__ = ["library_trouble", "translated"]

_SAYINGS = {
    sqlite3.SQLITE_FULL: ("the disk is full; nothing was changed", "Make room on it and try again"),
    sqlite3.SQLITE_IOERR: ("the disk does not read or write; nothing was changed", "Check the disk it lies on"),
    sqlite3.SQLITE_READONLY: ("the library cannot be written", "Make the file and its folder writable, or copy it"),
    sqlite3.SQLITE_BUSY: ("another program is writing to the library", "Try again when it has finished"),
    sqlite3.SQLITE_LOCKED: ("another program is writing to the library", "Try again when it has finished"),
    sqlite3.SQLITE_NOTADB: ("this is not a Scenebook library", "Give the file that `library create` made"),
    sqlite3.SQLITE_CORRUPT: ("the library file is damaged", "Go back to a backup of it"),
    sqlite3.SQLITE_CANTOPEN: ("the file cannot be opened", "Check that it and its folder may be read"),
}


def library_trouble(error: BaseException, path: Path) -> LibraryError:
    """Return what to tell a player about an error of SQLite, or of SQLAlchemy around it."""
    inner = getattr(error, "orig", None) or error
    code = getattr(inner, "sqlite_errorcode", None)
    found, remedy = _SAYINGS.get((code or 0) & 0xFF, (f"the library cannot be used: {inner}", ""))
    return LibraryError(found, where=str(path), remedy=remedy)


@contextmanager
def translated(path: Path) -> Iterator[None]:
    """Turn the errors of the database and of its driver into one `LibraryError`."""
    import sqlalchemy.exc  # late: whoever only looks at a file has not loaded it

    try:
        yield
    except (sqlalchemy.exc.DBAPIError, sqlite3.Error) as error:
        raise library_trouble(error, path) from error
