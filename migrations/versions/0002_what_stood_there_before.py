"""Keep what stood there before each change.

Revision 0002, after 0001.
"""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the history; what an older library changed before is not known."""
    op.create_table(
        "history",
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("before", sa.Text()),
        sa.Column("source", sa.Text()),
        sa.PrimaryKeyConstraint("revision", "position", name="pk_history"),
        sqlite_with_rowid=False,
    )
    op.create_index("ix_history_kind", "history", ["kind", "name"])
