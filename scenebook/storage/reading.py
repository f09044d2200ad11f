"""Read aggregates out of the rows: a fixed number of queries for any number of them, validated by the model."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
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

__all__ = ["aggregate_texts", "all_parts", "read_all", "read_gig_slice", "read_settings"]


def read_settings(connection: Connection) -> Settings:
    """Return the library's settings."""
    return settings_of(connection.execute(select(t.library.c.settings)).scalar_one())


def all_parts(connection: Connection, kind: Kind) -> dict[str, Any]:
    """Return every aggregate of a kind by name, in the order of the names."""
    table = t.AGGREGATES[kind]
    return models(kind, aggregate_texts(connection, kind, select(table.c.id)))


def read_all(connection: Connection) -> Library:
    """Return the whole library."""
    return library_of(read_settings(connection), {str(kind): all_parts(connection, kind) for kind in KINDS})


def read_gig_slice(connection: Connection, gig: int, rig: int | None) -> Library:
    """Return a gig by its id, a rig (the gig's own unless given), their songs and units, and the settings."""
    carrier = (
        select(t.gig.c.rig_id).where(t.gig.c.id == gig) if rig is None else select(t.rig.c.id).where(t.rig.c.id == rig)
    )
    entries = select(t.gig_entry.c.song_id).where(t.gig_entry.c.gig_id == gig)
    songs = entries.union(select(t.gig.c.house_id).where(t.gig.c.id == gig))
    scenes = select(t.scene.c.id).where(t.scene.c.song_id.in_(songs))
    units = (
        select(t.scene_unit.c.unit_id)
        .where(t.scene_unit.c.scene_id.in_(scenes))
        .union(
            select(t.rig_unit.c.unit_id).where(t.rig_unit.c.rig_id.in_(carrier)),
            select(t.gig_unit.c.unit_id).where(t.gig_unit.c.gig_id == gig),
            select(t.gig_unit.c.by_id).where(t.gig_unit.c.gig_id == gig),
        )
    )
    wanted: dict[Kind, Any] = {
        "unit": units,
        "rig": carrier,
        "song": songs,
        "gig": select(t.gig.c.id).where(t.gig.c.id == gig),
    }
    parts: dict[str, Any] = {kind: models(kind, aggregate_texts(connection, kind, ids)) for kind, ids in wanted.items()}
    return library_of(read_settings(connection), parts)


def aggregate_texts(connection: Connection, kind: Kind, ids: Any) -> dict[str, str]:
    """Return the aggregates that a query of ids names, as JSON texts by name."""
    if kind == "song":
        return _songs(connection, ids)
    if kind == "gig":
        return _gigs(connection, ids)
    table = t.AGGREGATES[kind]
    chosen = select(table.c.name, table.c.body).where(table.c.id.in_(ids)).order_by(table.c.fold)
    return dict(_rows(connection, chosen))


def _songs(connection: Connection, ids: Any) -> dict[str, str]:
    songs = select(t.song.c.id, t.song.c.name, t.song.c.body).where(t.song.c.id.in_(ids)).order_by(t.song.c.fold)
    scenes = (
        select(t.scene.c.song_id, t.scene.c.id, t.scene.c.name, t.scene.c.body)
        .where(t.scene.c.song_id.in_(ids))
        .order_by(t.scene.c.song_id, t.scene.c.position)
    )
    said = (
        select(t.scene_unit.c.scene_id, t.unit.c.name, t.scene_unit.c.setting)
        .join(t.scene, t.scene.c.id == t.scene_unit.c.scene_id)
        .join(t.unit, t.unit.c.id == t.scene_unit.c.unit_id)
        .where(t.scene.c.song_id.in_(ids))
        .order_by(t.scene_unit.c.scene_id, t.scene_unit.c.position)
    )
    by_scene = _grouped(_rows(connection, said))
    by_song: dict[int, list[SceneRows]] = defaultdict(list)
    for song, scene, name, body in _rows(connection, scenes):
        by_song[song].append(SceneRows(name, body, by_scene[scene]))
    return {name: song_json(SongRows(body, by_song[song])) for song, name, body in _rows(connection, songs)}


def _gigs(connection: Connection, ids: Any) -> dict[str, str]:
    house, by = t.song.alias(), t.unit.alias()
    gigs = (
        select(t.gig.c.id, t.gig.c.name, t.gig.c.body, t.rig.c.name, house.c.name)
        .join(t.rig, t.rig.c.id == t.gig.c.rig_id, isouter=True)
        .join(house, house.c.id == t.gig.c.house_id, isouter=True)
        .where(t.gig.c.id.in_(ids))
        .order_by(t.gig.c.fold)
    )
    entries = (
        select(t.gig_entry.c.gig_id, t.gig_entry.c.set_index, t.song.c.name, t.gig_entry.c.body)
        .join(t.song, t.song.c.id == t.gig_entry.c.song_id)
        .where(t.gig_entry.c.gig_id.in_(ids))
        .order_by(t.gig_entry.c.gig_id, t.gig_entry.c.position)
    )
    units = (
        select(t.gig_unit.c.gig_id, t.unit.c.name, by.c.name)
        .join(t.unit, t.unit.c.id == t.gig_unit.c.unit_id)
        .join(by, by.c.id == t.gig_unit.c.by_id, isouter=True)
        .where(t.gig_unit.c.gig_id.in_(ids))
        .order_by(t.gig_unit.c.gig_id, t.gig_unit.c.position)
    )
    by_gig, unit_rows = _grouped(_rows(connection, entries)), _grouped(_rows(connection, units))
    return {
        name: gig_json(GigRows(body, rig, song, [EntryRow(*row) for row in by_gig[gig]], unit_rows[gig]))
        for gig, name, body, rig, song in _rows(connection, gigs)
    }


def _rows(connection: Connection, query: Any) -> Sequence[Any]:
    """Return plain tuples: SQLAlchemy makes and caches the statement, SQLite's own cursor fetches."""
    return connection.execute(query).fetchall()


def _grouped(rows: Iterable[Any]) -> dict[int, list[Any]]:
    """Return what follows the first column of each row, by that column, in order."""
    groups: dict[int, list[Any]] = defaultdict(list)
    for key, *rest in rows:
        groups[key].append(tuple(rest))
    return groups
