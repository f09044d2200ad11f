"""Read aggregates out of the rows: a fixed number of queries for any number of them, validated by the model."""

from collections import defaultdict
from json import dumps
from typing import Any

from sqlalchemy import Connection, select

from scenebook.model import Library, Settings
from scenebook.storage import tables as t
from scenebook.storage.mapping import (
    EntryRow,
    GigRows,
    SceneRows,
    SongRows,
    gig_json,
    library_of,
    models,
    settings_of,
    song_json,
)
from scenebook.storage.marks import KINDS, Kind
from scenebook.storage.selecting import Chosen, gig_sql, plain_sql, song_sql, source_sql

__all__ = ["read_all", "read_gig_slice", "read_kind", "read_named", "read_one", "read_settings", "read_sources"]

_Values = dict[str, Any]


def read_settings(connection: Connection) -> Settings:
    """Return the library's settings."""
    return settings_of(_rows(connection, "SELECT settings FROM library", {})[0][0])


def read_kind(connection: Connection, kind: Kind) -> dict[str, Any]:
    """Return every aggregate of a kind by name, in alphabetical order."""
    return models(kind, _texts(connection, kind, "all", {}))


def read_named(connection: Connection, kind: Kind, names: list[str]) -> dict[str, Any]:
    """Return those of the named aggregates that are there, by name."""
    return models(kind, _texts(connection, kind, "named", {"names": dumps(names)}))


def read_sources(
    connection: Connection, kind: Kind, names: list[str] | None = None
) -> dict[str, tuple[str | None, str | None]]:
    """Return by name the file that each (or each of the named) was last imported from, and its text."""
    chosen: Chosen = "all" if names is None else "named"
    return {
        name: (file, text) for name, file, text in _rows(connection, source_sql(kind, chosen), {"names": dumps(names)})
    }


def read_one(connection: Connection, kind: Kind, number: int) -> Any:
    """Return the aggregate with an id."""
    return next(iter(models(kind, _texts(connection, kind, "one", {"id": number})).values()))


def read_all(connection: Connection) -> Library:
    """Return the whole library."""
    return library_of(read_settings(connection), {str(kind): read_kind(connection, kind) for kind in KINDS})


def read_gig_slice(connection: Connection, gig: int, rig: int | None) -> Library:
    """Return a gig by its id, a rig (the gig's own unless given), their songs and units, and the settings."""
    if rig is None:
        rig = connection.execute(select(t.gig.c.rig_id).where(t.gig.c.id == gig)).scalar_one()
    values = {"gig": gig, "rig": rig}
    parts: dict[str, Any] = {kind: models(kind, _texts(connection, kind, "gig", values)) for kind in KINDS}
    return library_of(read_settings(connection), parts)


def _texts(connection: Connection, kind: Kind, chosen: Chosen, values: _Values) -> dict[str, str]:
    """Return the chosen aggregates as JSON texts by name."""
    if kind == "song":
        return _songs(connection, chosen, values)
    if kind == "gig":
        return _gigs(connection, chosen, values)
    return dict(_rows(connection, plain_sql(kind, chosen), values))


def _songs(connection: Connection, chosen: Chosen, values: _Values) -> dict[str, str]:
    songs, scenes, settings = song_sql(chosen)
    said: dict[int, list[tuple[str, str | None]]] = defaultdict(list)
    for scene, unit, setting in _rows(connection, settings, values):
        said[scene].append((unit, setting))
    by_song: dict[int, list[SceneRows]] = defaultdict(list)
    for song, scene, name, body in _rows(connection, scenes, values):
        by_song[song].append(SceneRows(name, body, said[scene]))
    return {name: song_json(SongRows(body, by_song[song])) for song, name, body in _rows(connection, songs, values)}


def _gigs(connection: Connection, chosen: Chosen, values: _Values) -> dict[str, str]:
    gigs, entries, units = gig_sql(chosen)
    placed: dict[int, list[EntryRow]] = defaultdict(list)
    for gig, index, song, body in _rows(connection, entries, values):
        placed[gig].append(EntryRow(index, song, body))
    named: dict[int, list[tuple[str, str | None]]] = defaultdict(list)
    for gig, unit, by in _rows(connection, units, values):
        named[gig].append((unit, by))
    return {
        name: gig_json(GigRows(body, rig, house, placed[gig], named[gig]))
        for gig, name, body, rig, house in _rows(connection, gigs, values)
    }


def _rows(connection: Connection, sql: str, values: _Values) -> list[Any]:
    """Run a query within the connection's transaction, on SQLite's own cursor."""
    own = connection.connection.dbapi_connection
    assert own is not None
    rows: list[Any] = own.cursor().execute(sql, values).fetchall()
    return rows
