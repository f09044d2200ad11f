"""Find by index what uses a unit, a rig or a song."""

from sqlalchemy import Connection, Select, select

from scenebook.model.base import place_text
from scenebook.storage import tables as t
from scenebook.storage.marks import Kind, fold

__all__ = ["users", "users_of"]


def users_of(connection: Connection, kind: Kind, name: str, *, by: Kind | None = None) -> list[str]:
    """Return what names the aggregate of that name, as `users` does; nothing if there is none of that name."""
    own = t.AGGREGATES[kind]
    number = connection.execute(select(own.c.id).where(own.c.fold == fold(name))).scalar()
    return [] if number is None else users(connection, number, kind, by=by)


def users(connection: Connection, number: int, kind: Kind, *, by: Kind | None = None) -> list[str]:
    """Return what names the aggregate with an id: the names of one kind of user (`by`), or all in words."""
    found: dict[str, None] = {}
    for user, queries in _queries(kind, number).items():
        if by in (None, user):
            names = [row for query in queries for row in connection.execute(query).scalars()]
            found.update(dict.fromkeys(names if by else [place_text(user, row) for row in names]))
    return list(found)


def _queries(kind: Kind, number: int) -> dict[Kind, list[Select[str]]]:
    if kind == "unit":
        scene, said, in_gig = t.scene.c, t.scene_unit.c, t.gig_unit.c
        songs = select(t.song.c.name).join(t.scene, scene.song_id == t.song.c.id)
        gigs = select(t.gig.c.name).join(t.gig_unit, in_gig.gig_id == t.gig.c.id)
        rigs = select(t.rig.c.name).join(t.rig_unit, t.rig_unit.c.rig_id == t.rig.c.id)
        return {
            "rig": [rigs.where(t.rig_unit.c.unit_id == number)],
            "song": [songs.join(t.scene_unit, said.scene_id == scene.id).where(said.unit_id == number)],
            "gig": [gigs.where(in_gig.unit_id == number), gigs.where(in_gig.by_id == number)],
        }
    if kind == "song":
        entries = select(t.gig.c.name).join(t.gig_entry, t.gig_entry.c.gig_id == t.gig.c.id)
        house = select(t.gig.c.name).where(t.gig.c.house_id == number)
        return {"gig": [entries.where(t.gig_entry.c.song_id == number), house]}
    if kind == "rig":
        return {"gig": [select(t.gig.c.name).where(t.gig.c.rig_id == number)]}
    return {}
