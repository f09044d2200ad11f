"""The tables of a library. Rows own identity, order and references; the model owns meaning and validity.

`body` is the rest of an aggregate, or of a part of one, as JSON in the model's own form. `file` and `source` are the
name and text of the file that an aggregate was imported from, kept for the comments in it. Rows never leave this room.
"""

from sqlalchemy import Boolean, Column, ForeignKey, Index, Integer, MetaData, Table, Text, UniqueConstraint

__all__ = ["AGGREGATES", "box", "gig", "gig_entry", "gig_unit", "history", "library", "metadata"]
__all__ += ["rig", "rig_unit", "scene", "scene_unit", "song", "unit"]

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _aggregate(kind: str, *more: Column[int]) -> Table:
    return Table(
        kind,
        metadata,
        Column("id", Integer, primary_key=True),
        Column("name", Text, nullable=False),
        Column("fold", Text, nullable=False, unique=True),
        *more,
        Column("revision", Integer, nullable=False),
        Column("body", Text, nullable=False),
        Column("file", Text),
        Column("source", Text),
    )


def _owner(kind: str) -> Column[int]:
    """Return the column by which a part belongs to its aggregate and goes with it."""
    return Column(f"{kind}_id", Integer, ForeignKey(f"{kind}.id", ondelete="CASCADE"), primary_key=True)


def _uses(kind: str, name: str = "", *, nullable: bool = False) -> Column[int]:
    """Return a reference to another aggregate, which cannot be deleted while it is used."""
    key = ForeignKey(f"{kind}.id", ondelete="RESTRICT")
    return Column(name or f"{kind}_id", Integer, key, nullable=nullable, index=True)


library = Table(
    "library",
    metadata,
    Column("id", Integer, primary_key=True),  # always 1
    Column("revision", Integer, nullable=False),
    Column("settings", Text, nullable=False),
    Column("source", Text),
)

unit = _aggregate("unit")

# What each physical copy of a unit was last told to hold, as the player noted it; no part of what the library says.
box = Table(
    "box",
    metadata,
    _owner("unit"),
    Column("copy", Text, primary_key=True),
    Column("slot", Text, primary_key=True),
    Column("body", Text, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("at", Text, nullable=False),
    sqlite_with_rowid=False,
)

rig = _aggregate("rig")
# Every unit that a rig's body names, in the rig's order; `carried` tells those that travel from those that do not.
rig_unit = Table(
    "rig_unit",
    metadata,
    _owner("rig"),
    Column("position", Integer, primary_key=True),
    _uses("unit"),
    Column("carried", Boolean, nullable=False),
    sqlite_with_rowid=False,
)

song = _aggregate("song")
scene = Table(
    "scene",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("song_id", Integer, ForeignKey("song.id", ondelete="CASCADE"), nullable=False),
    Column("position", Integer, nullable=False),
    Column("name", Text, nullable=False),
    Column("body", Text, nullable=False),
    UniqueConstraint("song_id", "position"),
)
# What a scene says of each unit, in its order; a unit of which it fires only a trigger has no setting.
scene_unit = Table(
    "scene_unit",
    metadata,
    _owner("scene"),
    Column("position", Integer, primary_key=True),
    _uses("unit"),
    Column("setting", Text),
    sqlite_with_rowid=False,
)

gig = _aggregate("gig", _uses("rig", nullable=True), _uses("song", "house_id", nullable=True))
# The songs of all sets, in order, then the spares, which have no set.
gig_entry = Table(
    "gig_entry",
    metadata,
    _owner("gig"),
    Column("position", Integer, primary_key=True),
    Column("set_index", Integer),
    _uses("song"),
    Column("body", Text, nullable=False),
    sqlite_with_rowid=False,
)
# A unit that is out tonight, or that another plays (`by_id`).
gig_unit = Table(
    "gig_unit",
    metadata,
    _owner("gig"),
    Column("position", Integer, primary_key=True),
    _uses("unit"),
    _uses("unit", "by_id", nullable=True),
    sqlite_with_rowid=False,
)

# What stood there before each change, so that nothing a player entered is ever lost; no `before`: it was new.
history = Table(
    "history",
    metadata,
    Column("revision", Integer, primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("at", Text, nullable=False),
    Column("what", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("before", Text),
    Column("source", Text),
    Index("ix_history_kind", "kind", "name"),
    sqlite_with_rowid=False,
)

AGGREGATES = {"unit": unit, "rig": rig, "song": song, "gig": gig}
