"""Keep what each physical copy of a unit was last told to hold.

Revision 0003, after 0002.
"""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the boxes; what was stored in them before nobody has noted."""
    op.create_table(
        "box",
        sa.Column("unit_id", sa.Integer(), nullable=False),
        sa.Column("copy", sa.Text(), nullable=False),
        sa.Column("slot", sa.Text(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["unit_id"], ["unit.id"], name="fk_box_unit_id", ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("unit_id", "copy", "slot", name="pk_box"),
        sqlite_with_rowid=False,
    )
