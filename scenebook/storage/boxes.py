"""What each physical copy of a unit was last told to hold, slot by slot, as the player noted it.

It is no part of what a library says: it is not exported, and goes with its unit. To note it is a change all the same,
which history keeps and going back takes back.
"""

import json
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from sqlalchemy import Connection, delete, insert, select

from scenebook.storage import tables as t
from scenebook.storage.marks import fold

__all__ = ["Box", "boxes_of", "boxes_text", "noted", "read_boxes", "replace_boxes"]


class Box(NamedTuple):
    """One slot of one copy of a unit: what was stored as JSON, at which revision of the library, on which day (UTC)."""

    unit: str
    copy: str
    slot: str
    body: str
    revision: int
    at: str


def read_boxes(connection: Connection, unit: str | None = None) -> list[Box]:
    """Return all that was noted, or was of one unit, by unit, copy and slot."""
    c = t.box.c
    query = select(t.unit.c.name, c.copy, c.slot, c.body, c.revision, c.at).join(t.unit, t.unit.c.id == c.unit_id)
    query = query if unit is None else query.where(t.unit.c.name == unit)
    return [Box(*row) for row in connection.execute(query.order_by(t.unit.c.fold, c.copy, c.slot))]


def noted(held: Iterable[Box], now: Iterable[Box]) -> list[Box]:
    """Return what copies hold once more is noted: what was noted of other slots and copies stays."""
    return list({(box.unit, box.copy, box.slot): box for box in (*held, *now)}.values())


def replace_boxes(connection: Connection, unit: str, boxes: Iterable[Box]) -> None:
    """Note what the copies of a unit hold, all of it. The unit is there."""
    number = connection.execute(select(t.unit.c.id).where(t.unit.c.fold == fold(unit))).scalar_one()
    connection.execute(delete(t.box).where(t.box.c.unit_id == number))
    for box in boxes:
        values = {**box._asdict(), "unit_id": number}
        del values["unit"]
        connection.execute(insert(t.box).values(**values))


def boxes_text(boxes: Sequence[Box]) -> str | None:
    """Return what the copies of one unit hold as history keeps it; nothing where nothing was noted."""
    return json.dumps([box[1:] for box in boxes], ensure_ascii=False) if boxes else None


def boxes_of(unit: str, text: str | None) -> list[Box]:
    """Return what the copies of a unit held, as history kept it."""
    return [Box(unit, *each) for each in json.loads(text or "[]")]
