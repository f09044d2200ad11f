"""Create, open and copy library files; older ones are upgraded after a backup, newer ones refused.

The look at the file is plain SQLite; SQLAlchemy is loaded once the file is known to be good, alembic only to upgrade.
"""

import os
import secrets
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from itertools import chain, count
from pathlib import Path
from typing import TYPE_CHECKING

from scenebook.errors import LibraryError
from scenebook.storage.connecting import BUSY_S, raw_connection, wrapped, writable
from scenebook.storage.marks import APPLICATION_ID, HEAD
from scenebook.storage.trouble import library_trouble

if TYPE_CHECKING:
    from scenebook.storage.store import Store

__all__ = ["backup", "create_library", "open_library"]


def create_library(path: Path) -> None:
    """Make an empty library file.

    Raises:
        LibraryError: there is something of that name already, or the folder cannot be written.
    """
    if path.exists():
        raise LibraryError("there is a file of that name already", where=str(path), remedy="Choose another name")
    with _part(path) as part, _our_words(path):
        part.touch(exist_ok=False)
        _upgrade(part)
        _move_without_overwriting(part, path)


def open_library(path: Path, *, read_only: bool = False, busy_s: float = BUSY_S) -> "Store":
    """Open a library; one made by an older version is backed up beside itself and then upgraded.

    `busy_s` is how long to wait while another program writes.

    Raises:
        LibraryError: the file is not there, is no library, is newer, damaged, locked, or may only be read and
            `read_only` is not given. It has not been changed.
    """
    _check_place(path, read_only=read_only)
    with _our_words(path):
        connection = raw_connection(path, read_only=read_only, busy_s=busy_s)
        try:
            revision = _revision(connection, path)
            if revision < HEAD:
                connection.close()
                _check_place(path, read_only=False)
                backup(path)
                _upgrade(path)
                connection = raw_connection(path, read_only=read_only, busy_s=busy_s)
        except BaseException:
            connection.close()
            raise
    from scenebook.storage.store import Store  # late: a file that is refused costs no more than a look

    return Store(wrapped(connection), path, read_only=read_only)


def backup(path: Path) -> Path:
    """Copy a library beside itself, whole even while others use it, and return the copy's path.

    It is named after the day and the revision of the content: `library-2026-05-01-r12.scenebook`.

    Raises:
        LibraryError: the file is no library, or the copy cannot be written.
    """
    _check_place(path, read_only=True)
    with _our_words(path), closing(raw_connection(path, read_only=True)) as source:
        _revision(source, path)
        day, revision = source.execute("SELECT date('now'), revision FROM library").fetchone()
        with _part(path) as part:
            with closing(sqlite3.connect(part)) as copy:
                source.backup(copy)
            return _moved_to_free_name(part, path, f"{path.stem}-{day}-r{revision}")


def _check_place(path: Path, *, read_only: bool) -> None:
    if not path.exists():
        raise LibraryError(
            "there is no library here", where=str(path), remedy="Make one with: scenebook library create"
        )
    if not path.is_file():
        raise LibraryError("this is a folder, not a library file", where=str(path))
    if not read_only and not writable(path):
        raise LibraryError("the library is read-only", where=str(path), remedy="Make the file writable, or copy it")


def _revision(connection: sqlite3.Connection, path: Path) -> str:
    """Return the revision of a library's tables.

    Raises:
        LibraryError: the file is no library, or was made by a newer version.
    """
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise LibraryError(
            "this is not a Scenebook library",
            where=str(path),
            remedy="Give the file that `scenebook library create` made",
        )
    row = connection.execute("SELECT version_num, (SELECT count(*) FROM library) FROM alembic_version").fetchone()
    if row is None or row[1] != 1:
        raise LibraryError("the library file is damaged", where=str(path), remedy="Go back to a backup of it")
    revision = str(row[0])
    if revision > HEAD:
        raise LibraryError(
            f"the library was made by a newer version (tables {revision}, known up to {HEAD})",
            where=str(path),
            remedy="Install the newer version of scenebook",
        )
    return revision


def _upgrade(path: Path) -> None:
    """Bring the tables to this version's, wholly or not at all."""
    from scenebook.storage.upgrading import upgrade  # late: alembic is slow to load and seldom needed

    made = raw_connection(path, read_only=False)
    made.execute("PRAGMA journal_mode = WAL")
    made.execute("PRAGMA foreign_keys = OFF")  # a table may be made anew under its references; checked at the end
    connection = wrapped(made)
    try:
        upgrade(connection)
    finally:
        connection.close()


@contextmanager
def _part(path: Path) -> Iterator[Path]:
    """Give a name beside `path` to write to, to be moved once it is whole; nothing half-written stays behind."""
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        yield part
    except OSError as error:
        raise LibraryError(f"cannot be written: {error.strerror or error}", where=str(path)) from error
    finally:
        for left in (part, *(part.with_name(part.name + end) for end in ("-wal", "-shm", "-journal"))):
            left.unlink(missing_ok=True)


def _move_without_overwriting(part: Path, path: Path) -> None:
    try:
        os.link(part, path)
    except FileExistsError:
        raise
    except OSError:  # a disk without links: claim the name, then move onto the claim
        path.touch(exist_ok=False)
        part.replace(path)


def _moved_to_free_name(part: Path, path: Path, stem: str) -> Path:
    """Move a file beside `path`, to the first name that nobody has taken, not even while this looks."""
    for ending in chain([""], (f"-{number}" for number in count(2))):  # pragma: no branch
        target = path.with_name(f"{stem}{ending}{path.suffix}")
        with suppress(FileExistsError):
            _move_without_overwriting(part, target)
            break
    return target


@contextmanager
def _our_words(path: Path) -> Iterator[None]:
    try:
        yield
    except sqlite3.Error as error:
        raise library_trouble(error, path) from error
