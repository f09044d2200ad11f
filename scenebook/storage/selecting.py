"""The queries that read aggregates, as SQLAlchemy writes them, each made once for a process.

Reading a gig is what a player waits for, so the text of a query is kept and SQLite's own cursor runs it: no statement
is built and no row object made while reading. Which aggregates are read is a query of ids, with named parameters.
"""

from collections.abc import Callable
from functools import cache
from typing import Any, Literal

from sqlalchemy import bindparam, func, select
from sqlalchemy.dialects.sqlite.pysqlite import SQLiteDialect_pysqlite

from scenebook.storage import tables as t
from scenebook.storage.marks import Kind

__all__ = ["Chosen", "gig_sql", "plain_sql", "song_sql", "source_sql"]

Chosen = Literal["all", "one", "named", "gig"]
"""Which: all of a kind; that of `:id`; those in the JSON list `:names`; what the gig `:gig` needs with `:rig`."""


@cache
def plain_sql(kind: Kind, chosen: Chosen) -> str:
    """Return the query of units or rigs: name, body."""
    table = t.AGGREGATES[kind]
    return _text(select(table.c.name, table.c.body).where(table.c.id.in_(_ids(kind, chosen))).order_by(table.c.fold))


@cache
def source_sql(kind: Kind, chosen: Chosen) -> str:
    """Return the query of where aggregates came from: name, file, text."""
    own = t.AGGREGATES[kind].c
    return _text(select(own.name, own.file, own.source).where(own.id.in_(_ids(kind, chosen))).order_by(own.fold))


@cache
def song_sql(chosen: Chosen) -> tuple[str, str, str]:
    """Return three queries: songs (id, name, body), scenes (song, id, name, body), settings (scene, unit, setting)."""
    ids, song, scene, said = _ids("song", chosen), t.song.c, t.scene.c, t.scene_unit.c
    songs = select(song.id, song.name, song.body).where(song.id.in_(ids)).order_by(song.fold)
    scenes = select(scene.song_id, scene.id, scene.name, scene.body).where(scene.song_id.in_(ids))
    settings = (
        select(said.scene_id, t.unit.c.name, said.setting)
        .join(t.unit, t.unit.c.id == said.unit_id)
        .where(said.scene_id.in_(select(scene.id).where(scene.song_id.in_(ids))), said.setting.is_not(None))
    )
    return (
        _text(songs),
        _text(scenes.order_by(scene.song_id, scene.position)),
        _text(settings.order_by(said.scene_id, said.position)),
    )


@cache
def gig_sql(chosen: Chosen) -> tuple[str, str, str]:
    """Return three queries: gigs (id, name, body, rig, house), entries (gig, set, song, body), units."""
    ids, house, by = _ids("gig", chosen), t.song.alias(), t.unit.alias()
    gig, entry, part = t.gig.c, t.gig_entry.c, t.gig_unit.c
    gigs = (
        select(gig.id, gig.name, gig.body, t.rig.c.name, house.c.name)
        .join(t.rig, t.rig.c.id == gig.rig_id, isouter=True)
        .join(house, house.c.id == gig.house_id, isouter=True)
        .where(gig.id.in_(ids))
    )
    entries = (
        select(entry.gig_id, entry.set_index, t.song.c.name, entry.body)
        .join(t.song, t.song.c.id == entry.song_id)
        .where(entry.gig_id.in_(ids))
    )
    units = (
        select(part.gig_id, t.unit.c.name, by.c.name)
        .join(t.unit, t.unit.c.id == part.unit_id)
        .join(by, by.c.id == part.by_id, isouter=True)
        .where(part.gig_id.in_(ids))
    )
    return (
        _text(gigs.order_by(gig.fold)),
        _text(entries.order_by(entry.gig_id, entry.position)),
        _text(units.order_by(part.gig_id, part.position)),
    )


def _ids(kind: Kind, chosen: Chosen) -> Any:
    """Return the query of the ids of what is chosen."""
    own = t.AGGREGATES[kind].c
    if chosen == "all":
        return select(own.id)
    if chosen == "one":
        return select(own.id).where(own.id == bindparam("id"))
    if chosen == "named":
        return select(own.id).where(
            own.name.in_(select(func.json_each(bindparam("names")).table_valued("value").c.value))
        )
    return _OF_GIG[kind]()


def _gig_songs() -> Any:
    entries = select(t.gig_entry.c.song_id).where(t.gig_entry.c.gig_id == bindparam("gig"))
    return entries.union(select(t.gig.c.house_id).where(t.gig.c.id == bindparam("gig")))


def _gig_units() -> Any:
    """Return the ids of the units that the rig, the songs' scenes or the gig itself name."""
    said, part = t.scene_unit.c, t.gig_unit.c
    scenes = select(t.scene.c.id).where(t.scene.c.song_id.in_(_gig_songs()))
    return (
        select(said.unit_id)
        .where(said.scene_id.in_(scenes))
        .union(
            select(t.rig_unit.c.unit_id).where(t.rig_unit.c.rig_id == bindparam("rig")),
            select(part.unit_id).where(part.gig_id == bindparam("gig")),
            select(part.by_id).where(part.gig_id == bindparam("gig")),
        )
    )


_OF_GIG: dict[Kind, Callable[[], Any]] = {
    "unit": _gig_units,
    "rig": lambda: select(t.rig.c.id).where(t.rig.c.id == bindparam("rig")),
    "song": _gig_songs,
    "gig": lambda: select(t.gig.c.id).where(t.gig.c.id == bindparam("gig")),
}


def _text(query: Any) -> str:
    return str(query.compile(dialect=SQLiteDialect_pysqlite(paramstyle="named")))
