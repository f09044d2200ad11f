"""The library as it will be after a change: what is put lies over what is stored, which is read only when asked for."""

from collections.abc import Iterator, Mapping
from functools import cached_property
from typing import Any

from sqlalchemy import Connection, select

from scenebook.storage import tables as t
from scenebook.storage.mapping import Aggregate
from scenebook.storage.marks import Kind
from scenebook.storage.reading import read_named

__all__ = ["Overlay"]


class Overlay(Mapping[str, Any]):
    """All aggregates of a kind by name. `after` says what will be where something changes; nothing: it goes."""

    def __init__(self, connection: Connection, kind: Kind, after: Mapping[str, Aggregate | None]) -> None:
        """Read nothing yet."""
        self._connection, self._kind = connection, kind
        self._whole = {name: aggregate for name, aggregate in after.items() if aggregate is not None}
        self._gone = after.keys() - self._whole.keys()

    def read(self, names: list[str]) -> None:
        """Read many at once, before they are asked for one by one."""
        missing = [name for name in names if name not in self._whole]
        self._whole.update(read_named(self._connection, self._kind, missing))

    def __getitem__(self, name: str) -> Any:
        if name not in self:
            raise KeyError(name)
        if name not in self._whole:
            self.read([name])
        return self._whole[name]

    def __contains__(self, name: object) -> bool:
        return name in self._names

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)

    @cached_property
    def _names(self) -> dict[str, None]:
        table = t.AGGREGATES[self._kind]
        stored = self._connection.execute(select(table.c.name).order_by(table.c.fold)).scalars()
        return {name: None for name in (*stored, *self._whole) if name not in self._gone}
