"""Write aggregates into the rows. An aggregate keeps its row; its parts are written anew."""

from typing import TYPE_CHECKING, Any, cast

from sqlalchemy import Connection, Table, delete, insert, select, update

from scenebook.model import Gig, Rig, Song, Unit
from scenebook.storage import tables as t
from scenebook.storage.mapping import Aggregate, gig_rows, rig_rows, song_rows, unit_body
from scenebook.storage.marks import Kind, fold

if TYPE_CHECKING:
    from scenebook.storage.change import Source

__all__ = ["delete_row", "write_aggregate", "write_history"]


def write_aggregate(
    connection: Connection, kind: Kind, name: str, aggregate: Aggregate, revision: int, source: "Source | None"
) -> None:
    """Write one aggregate, new or in the place of its older state; without a source the older source stays."""
    values: dict[str, Any] = {"name": name, "fold": fold(name), "revision": revision}
    if source is not None:
        values.update(file=source.file, source=source.text)
    if kind == "unit":
        _row(connection, t.unit, {**values, "body": unit_body(cast(Unit, aggregate))})
    elif kind == "rig":
        _write_rig(connection, values, cast(Rig, aggregate))
    elif kind == "song":
        _write_song(connection, values, cast(Song, aggregate))
    else:
        _write_gig(connection, values, cast(Gig, aggregate))


def delete_row(connection: Connection, kind: Kind, name: str) -> None:
    """Delete an aggregate; its parts go with it."""
    table = t.AGGREGATES[kind]
    connection.execute(delete(table).where(table.c.name == name))


def write_history(
    connection: Connection, revision: int, at: str, what: str, before: list[tuple[str, str, str | None, str | None]]
) -> None:
    """Keep what stood there before a change: (kind, name, JSON, source) of each thing that it changed."""
    keys = ("kind", "name", "before", "source")
    _insert(
        connection,
        t.history,
        [
            {"revision": revision, "position": position, "at": at, "what": what, **dict(zip(keys, entry, strict=True))}
            for position, entry in enumerate(before)
        ],
    )


def _write_rig(connection: Connection, values: dict[str, Any], rig: Rig) -> None:
    rows = rig_rows(rig)
    number = _row(connection, t.rig, {**values, "body": rows.body})
    ids = _ids(connection, t.unit, [name for name, _ in rows.units])
    parts = [{"unit_id": ids[name], "carried": carried} for name, carried in rows.units]
    _replace_parts(connection, t.rig_unit, "rig_id", number, parts)


def _write_song(connection: Connection, values: dict[str, Any], song: Song) -> None:
    rows = song_rows(song)
    number = _row(connection, t.song, {**values, "body": rows.body})
    ids = _ids(connection, t.unit, [name for scene in rows.scenes for name, _ in scene.units])
    _replace_parts(
        connection, t.scene, "song_id", number, [{"name": scene.name, "body": scene.body} for scene in rows.scenes]
    )
    numbers = connection.execute(select(t.scene.c.id).where(t.scene.c.song_id == number).order_by(t.scene.c.position))
    _insert(
        connection,
        t.scene_unit,
        [
            {"scene_id": scene_id, "position": position, "unit_id": ids[name], "setting": setting}
            for scene_id, scene in zip(numbers.scalars().all(), rows.scenes, strict=True)
            for position, (name, setting) in enumerate(scene.units)
        ],
    )


def _write_gig(connection: Connection, values: dict[str, Any], gig: Gig) -> None:
    rows = gig_rows(gig)
    songs = _ids(connection, t.song, [entry.song for entry in rows.entries] + ([rows.house] if rows.house else []))
    rig = _ids(connection, t.rig, [rows.rig])[rows.rig] if rows.rig else None
    house = songs[rows.house] if rows.house else None
    number = _row(connection, t.gig, {**values, "body": rows.body, "rig_id": rig, "house_id": house})
    entries = [{"set_index": e.set_index, "song_id": songs[e.song], "body": e.body} for e in rows.entries]
    _replace_parts(connection, t.gig_entry, "gig_id", number, entries)
    units = _ids(connection, t.unit, [name for pair in rows.units for name in pair if name])
    parts = [{"unit_id": units[name], "by_id": units[by] if by else None} for name, by in rows.units]
    _replace_parts(connection, t.gig_unit, "gig_id", number, parts)


def _row(connection: Connection, table: Table, values: dict[str, Any]) -> int:
    """Write an aggregate's own row and return its id, which stays the same for life."""
    number = connection.execute(select(table.c.id).where(table.c.fold == values["fold"])).scalar()
    if number is not None:
        connection.execute(update(table).where(table.c.id == number).values(**values))
        return int(number)
    made = connection.execute(insert(table).values(**values)).inserted_primary_key
    assert made is not None
    return int(made[0])


def _replace_parts(connection: Connection, table: Table, owner: str, number: int, parts: list[dict[str, Any]]) -> None:
    connection.execute(delete(table).where(table.c[owner] == number))
    _insert(connection, table, [{owner: number, "position": place, **part} for place, part in enumerate(parts)])


def _insert(connection: Connection, table: Table, rows: list[dict[str, Any]]) -> None:
    if rows:
        connection.execute(insert(table), rows)


def _ids(connection: Connection, table: Table, names: list[str]) -> dict[str, int]:
    """Return the ids of names; that each is there has been checked before."""
    wanted = list(dict.fromkeys(names))
    rows = connection.execute(select(table.c.name, table.c.id).where(table.c.name.in_(wanted)))
    return {name: number for name, number in rows}  # noqa: C416 - rows are not pairs to the type checker
