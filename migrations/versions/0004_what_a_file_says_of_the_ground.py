"""Keep it said that a unit's ground is not the positive pole, where the file that it was imported from says so.

Revision 0004, after 0003. Until then false stood for nothing said as well, and was not stored; now nothing said is
nothing known, and such a unit gets an isolated outlet for itself. The tables stay as they are.
"""

import json

import sqlalchemy as sa
import yaml
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

_SOME = "source LIKE '%positive_ground%'"
_UNITS = (
    f"SELECT id, body AS said, source FROM unit WHERE {_SOME}",
    "UPDATE unit SET body = :said WHERE id = :id",
)
_HISTORY = (
    f"SELECT revision, position, \"before\" AS said, source FROM history WHERE kind = 'unit' AND {_SOME}",
    'UPDATE history SET "before" = :said WHERE revision = :revision AND position = :position',
)


def upgrade() -> None:
    """Say it of every unit whose file does, and of those that history keeps."""
    connection = op.get_bind()
    for find, keep in (_UNITS, _HISTORY):
        for row in connection.execute(sa.text(find)).mappings().all():
            if row["said"] and _is_told(row["source"]):
                connection.execute(sa.text(keep), {**row, "said": _with_ground(row["said"])})


def _is_told(source: str) -> bool:
    """Whether a unit's file says anything of its ground; what was not stored of that was false."""
    try:
        told = yaml.load(source.removeprefix("\ufeff"), Loader=yaml.CBaseLoader)
    except yaml.YAMLError:
        return False
    supply = told.get("supply") if isinstance(told, dict) else None
    return isinstance(supply, dict) and supply.get("positive_ground", "") not in ("", "~", "null")


def _with_ground(body: str) -> str:
    unit = json.loads(body)
    if "supply" in unit:
        unit["supply"].setdefault("positive_ground", False)
    return json.dumps(unit, ensure_ascii=False, separators=(",", ":"))
