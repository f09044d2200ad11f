"""The store: an open library, what it holds as model objects, and changes to it, one transaction each.

Rows never leave it. Reading is of one moment; a change sees and keeps the library still until it commits.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple, Self, cast

from sqlalchemy import Connection, select

from scenebook.errors import LibraryError
from scenebook.model import Gig, Library, Rig, Settings, Song, Unit, find_name
from scenebook.storage import tables as t
from scenebook.storage.boxes import Box, read_boxes
from scenebook.storage.change import Change
from scenebook.storage.connecting import transaction
from scenebook.storage.mapping import Aggregate
from scenebook.storage.marks import Kind, fold
from scenebook.storage.reading import read_all, read_gig_slice, read_kind, read_one, read_settings, read_sources
from scenebook.storage.trouble import translated
from scenebook.storage.uses import users

__all__ = ["Before", "Store"]


class Before(NamedTuple):
    """What stood there before a change: `text` is the aggregate as JSON, nothing if it was new; `at` is UTC.

    Of the kind "box" it is what copies of the unit `name` were noted to hold.
    """

    revision: int
    at: str
    what: str
    kind: str
    name: str
    text: str | None
    source: str | None


class Store:
    """An open library. Make one with `open_library`, use it in a `with`, and close it by leaving that.

    Every method raises `LibraryError` where the file is damaged, locked or cannot be read, and `UnknownNameError` for a
    name that is not there. Names match without regard to case.
    """

    def __init__(self, connection: Connection, path: Path, *, read_only: bool) -> None:
        """Keep the connection; it is closed with the store."""
        self.path, self.read_only = path, read_only
        self._connection = connection

    def __enter__(self) -> Self:
        """Return the store."""
        return self

    def __exit__(self, *_: object) -> None:
        """Close it."""
        self.close()

    def close(self) -> None:
        """Let go of the file; an open change is rolled back."""
        self._connection.close()
        self._connection.engine.dispose()

    @property
    def revision(self) -> int:
        """How often the library was written to."""
        with self._reading() as connection:
            return int(connection.execute(select(t.library.c.revision)).scalar_one())

    def names(self, kind: Kind) -> tuple[str, ...]:
        """Return the names of all units, rigs, songs or gigs, in alphabetical order."""
        table = t.AGGREGATES[kind]
        with self._reading() as connection:
            return tuple(connection.execute(select(table.c.name).order_by(table.c.fold)).scalars())

    def find(self, kind: Kind, text: str) -> str:
        """Return the one name that `text` stands for, by unique beginning and without regard to case."""
        return find_name(text, self.names(kind), kind)

    def settings(self) -> Settings:
        """Return what holds for the whole library."""
        with self._reading() as connection:
            return read_settings(connection)

    def unit(self, name: str) -> Unit:
        """Return a unit."""
        return cast(Unit, self.aggregate("unit", name))

    def rig(self, name: str) -> Rig:
        """Return a rig."""
        return cast(Rig, self.aggregate("rig", name))

    def song(self, name: str) -> Song:
        """Return a song."""
        return cast(Song, self.aggregate("song", name))

    def gig(self, name: str) -> Gig:
        """Return a gig."""
        return cast(Gig, self.aggregate("gig", name))

    def aggregate(self, kind: Kind, name: str) -> Aggregate:
        """Return the unit, rig, song or gig of that name."""
        with self._reading() as connection:
            return cast(Aggregate, read_one(connection, kind, self._id(connection, kind, name)))

    def all(self, kind: Kind) -> dict[str, Any]:
        """Return every unit, rig, song or gig by name, in alphabetical order."""
        with self._reading() as connection:
            return read_kind(connection, kind)

    def library(self) -> Library:
        """Return the whole library."""
        with self._reading() as connection:
            return read_all(connection)

    def gig_slice(self, gig: str, rig: str | None = None) -> Library:
        """Return what a gig needs: it, its rig or the one given, its songs, the units that any of them names, settings.

        The number of queries is fixed, and the cost does not grow with the library.
        """
        with self._reading() as connection:
            carrier = None if rig is None else self._id(connection, "rig", rig)
            return read_gig_slice(connection, self._id(connection, "gig", gig), carrier)

    def songs_using(self, unit: str) -> list[tuple[str, str]]:
        """Return (song, scene) for every scene that names a unit, in alphabetical order of the songs."""
        query = (
            select(t.song.c.name, t.scene.c.name)
            .join(t.scene, t.scene.c.song_id == t.song.c.id)
            .join(t.scene_unit, t.scene_unit.c.scene_id == t.scene.c.id)
            .order_by(t.song.c.fold, t.scene.c.position)
        )
        with self._reading() as connection:
            rows = connection.execute(query.where(t.scene_unit.c.unit_id == self._id(connection, "unit", unit)))
            return [(song, scene) for song, scene in rows]

    def rigs_using(self, unit: str) -> list[str]:
        """Return the rigs that carry a unit or name it otherwise, in alphabetical order."""
        return self._users("unit", unit, "rig")

    def gigs_using(self, song: str) -> list[str]:
        """Return the gigs that have a song in a set, as a spare or as house sounds, in alphabetical order."""
        return self._users("song", song, "gig")

    def history(self, limit: int | None = 100, *, kind: str | None = None, since: int | None = None) -> list[Before]:
        """Return what stood there before the latest changes, the latest first.

        Only of one kind of thing if `kind` is given, only of changes after the revision `since`.
        """
        c = t.history.c
        query = select(c.revision, c.at, c.what, c.kind, c.name, c.before, c.source)
        query = query if kind is None else query.where(c.kind == kind)
        query = query if since is None else query.where(c.revision > since)
        with self._reading() as connection:
            rows = connection.execute(query.order_by(c.revision.desc(), c.position).limit(limit))
            return [Before(*row) for row in rows]

    def sources(self, kind: Kind) -> dict[str, tuple[str | None, str | None]]:
        """Return by name the file that each was last imported from, and its text."""
        with self._reading() as connection:
            return read_sources(connection, kind)

    def settings_source(self) -> str | None:
        """Return the text of the file that the settings were imported from."""
        with self._reading() as connection:
            return cast(str | None, connection.execute(select(t.library.c.source)).scalar_one())

    def boxes(self) -> list[Box]:
        """Return what the player noted that each copy of a unit holds, by unit, copy and slot."""
        with self._reading() as connection:
            return read_boxes(connection)

    def broken(self) -> list[str]:
        """Return what SQLite itself finds broken in the file, in words; an empty list means nothing."""
        with self._reading() as connection:
            found = [row for row in connection.exec_driver_sql("PRAGMA integrity_check").scalars() if row != "ok"]
            lost = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
        return [f"the file is damaged: {row}" for row in found] + [
            f"a row of {table!r} names one of {target!r} that is not there" for table, _, target, _ in lost
        ]

    @contextmanager
    def change(self, what: str, *, as_it_was: bool = False) -> Iterator[Change]:
        """Change the library in one transaction: checked and committed once at the end, rolled back on any exception.

        `what` says for the history what was done. From its beginning nobody else writes, so what is read inside is
        still so when it is written. What stands `as_it_was` once is not checked again.

        Raises:
            LibraryError: the library was opened for reading, another program is writing, or the disk is full.
            ScenebookError: what was put does not fit the rest of the library; the first fault is raised.
        """
        if self.read_only:
            raise LibraryError("the library is open for reading only", where=str(self.path))
        with translated(self.path), transaction(self._connection, write=True):
            change = Change(self._connection, what, as_it_was=as_it_was)
            yield change
            change.write()

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        if self._connection.in_transaction():
            yield self._connection
            return
        with translated(self.path), transaction(self._connection, write=False):
            yield self._connection

    def _id(self, connection: Connection, kind: Kind, name: str) -> int:
        table = t.AGGREGATES[kind]
        found = connection.execute(select(table.c.id).where(table.c.fold == fold(name))).scalar()
        if found is None:
            return self._id(connection, kind, find_name(name, self.names(kind), kind))
        return int(found)

    def _users(self, kind: Kind, name: str, by: Kind) -> list[str]:
        with self._reading() as connection:
            return sorted(users(connection, self._id(connection, kind, name), kind, by=by), key=fold)
