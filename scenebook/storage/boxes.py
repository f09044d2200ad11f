"""What each physical copy of a unit was last told to hold, slot by slot, as the player noted it.

It is no part of what a library says: it is not exported, changes no revision, and goes with its unit.
"""

from collections.abc import Iterable
from typing import NamedTuple

from sqlalchemy import Connection, delete, insert, select

from scenebook.storage import tables as t
from scenebook.storage.marks import fold

__all__ = ["Box", "read_boxes", "write_boxes"]


class Box(NamedTuple):
    """One slot of one copy of a unit: what was stored as JSON, at which revision of the library, on which day (UTC)."""

    unit: str
    copy: str
    slot: str
    body: str
    revision: int
    at: str


def read_boxes(connection: Connection) -> list[Box]:
    """Return all that was noted, by unit, copy and slot."""
    c = t.box.c
    query = select(t.unit.c.name, c.copy, c.slot, c.body, c.revision, c.at).join(t.unit, t.unit.c.id == c.unit_id)
    return [Box(*row) for row in connection.execute(query.order_by(t.unit.c.fold, c.copy, c.slot))]


def write_boxes(connection: Connection, boxes: Iterable[Box]) -> None:
    """Note what slots hold; what was noted of other slots and copies stays. The units are there."""
    c = t.box.c
    for box in boxes:
        number = connection.execute(select(t.unit.c.id).where(t.unit.c.fold == fold(box.unit))).scalar_one()
        connection.execute(delete(t.box).where(c.unit_id == number, c.copy == box.copy, c.slot == box.slot))
        values = {**box._asdict(), "unit_id": number}
        del values["unit"]
        connection.execute(insert(t.box).values(**values))
