"""Keep units, rigs, songs and gigs.

Revision 0001, the first. Frozen: it makes the tables as they were then, whatever the tables are today.
"""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

_NUMBER, _TEXT = sa.Integer(), sa.Text()


def upgrade() -> None:
    """Make the tables of the library, the four aggregates and their parts."""
    op.create_table(
        "library",
        sa.Column("id", _NUMBER, nullable=False),
        sa.Column("revision", _NUMBER, nullable=False),
        sa.Column("settings", _TEXT, nullable=False),
        sa.Column("source", _TEXT),
        sa.PrimaryKeyConstraint("id", name="pk_library"),
    )
    _aggregate("unit")
    _aggregate("rig")
    _part("rig", "unit", [sa.Column("carried", sa.Boolean(), nullable=False)], [("unit_id", "unit", False)])
    _aggregate("song")
    _scenes()
    _part("scene", "unit", [sa.Column("setting", _TEXT)], [("unit_id", "unit", False)])
    _aggregate("gig", ("rig_id", "rig", True), ("house_id", "song", True))
    entry = [sa.Column("set_index", _NUMBER), sa.Column("body", _TEXT, nullable=False)]
    _part("gig", "entry", entry, [("song_id", "song", False)])
    _part("gig", "unit", [], [("unit_id", "unit", False), ("by_id", "unit", True)])
    op.execute("INSERT INTO library (id, revision, settings) VALUES (1, 0, '{}')")


def _aggregate(kind: str, *uses: tuple[str, str, bool]) -> None:
    op.create_table(
        kind,
        sa.Column("id", _NUMBER, nullable=False),
        sa.Column("name", _TEXT, nullable=False),
        sa.Column("fold", _TEXT, nullable=False),
        *_references(kind, uses),
        sa.Column("revision", _NUMBER, nullable=False),
        sa.Column("body", _TEXT, nullable=False),
        sa.Column("file", _TEXT),
        sa.Column("source", _TEXT),
        sa.PrimaryKeyConstraint("id", name=f"pk_{kind}"),
        sa.UniqueConstraint("fold", name=f"uq_{kind}_fold"),
    )
    _indexes(kind, uses)


def _part(owner: str, what: str, columns: list[sa.Column], uses: list[tuple[str, str, bool]]) -> None:
    table = f"{owner}_{what}"
    op.create_table(
        table,
        sa.Column(f"{owner}_id", _NUMBER, nullable=False),
        sa.Column("position", _NUMBER, nullable=False),
        *_references(table, uses),
        *columns,
        sa.ForeignKeyConstraint([f"{owner}_id"], [f"{owner}.id"], name=f"fk_{table}_{owner}_id", ondelete="CASCADE"),
        sa.PrimaryKeyConstraint(f"{owner}_id", "position", name=f"pk_{table}"),
        sqlite_with_rowid=False,
    )
    _indexes(table, uses)


def _scenes() -> None:
    op.create_table(
        "scene",
        sa.Column("id", _NUMBER, nullable=False),
        sa.Column("song_id", _NUMBER, nullable=False),
        sa.Column("position", _NUMBER, nullable=False),
        sa.Column("name", _TEXT, nullable=False),
        sa.Column("body", _TEXT, nullable=False),
        sa.ForeignKeyConstraint(["song_id"], ["song.id"], name="fk_scene_song_id", ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name="pk_scene"),
        sa.UniqueConstraint("song_id", "position", name="uq_scene_song_id"),
    )


def _references(table: str, uses: tuple[tuple[str, str, bool], ...] | list[tuple[str, str, bool]]) -> list[sa.Column]:
    return [
        sa.Column(
            column,
            _NUMBER,
            sa.ForeignKey(f"{target}.id", name=f"fk_{table}_{column}", ondelete="RESTRICT"),
            nullable=nullable,
        )
        for column, target, nullable in uses
    ]


def _indexes(table: str, uses: tuple[tuple[str, str, bool], ...] | list[tuple[str, str, bool]]) -> None:
    for column, _, _ in uses:
        op.create_index(f"ix_{table}_{column}", table, [column])
