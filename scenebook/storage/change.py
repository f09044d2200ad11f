"""One change to a library: what to put and delete is collected, checked against the whole library, then written.

Everything happens inside the one write transaction that the store has begun and will commit or roll back.
"""

from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, datetime
from typing import Any, NamedTuple

from pydantic import TypeAdapter, ValidationError
from sqlalchemy import Connection, select, update

from scenebook.errors import BadValueError, ScenebookError
from scenebook.model import Gig, Library, Rig, Settings, Song, Unit, find_name
from scenebook.model.base import Name, place_text
from scenebook.model.checks import check_gig, check_rig, check_song, check_unit
from scenebook.storage import tables as t
from scenebook.storage.mapping import MODELS, Aggregate, whole_json
from scenebook.storage.marks import KINDS, Kind, fold
from scenebook.storage.reading import read_named, read_settings
from scenebook.storage.uses import users_of
from scenebook.storage.writing import delete_row, write_aggregate, write_history

__all__ = ["Change", "Source", "spoken"]

_USED: tuple[Kind, ...] = ("unit", "song")
_NAME: TypeAdapter[str] = TypeAdapter(Name)


class Source(NamedTuple):
    """The file that an aggregate was read from: its name within its folder, and its text."""

    file: str
    text: str


class Change:
    """What one command changes. It is handed out by `Store.change`, which writes it at the end."""

    def __init__(self, connection: Connection, what: str) -> None:
        """Begin with nothing to change."""
        self._connection, self._what = connection, what
        self._puts: dict[Kind, dict[str, tuple[Aggregate, Source | None]]] = {kind: {} for kind in KINDS}
        self._deletes: dict[Kind, dict[str, None]] = {kind: {} for kind in KINDS}
        self._folds: dict[tuple[Kind, str], str] = {}
        self._settings: tuple[Settings, str | None] | None = None

    def put_settings(self, settings: Settings, source: str | None = None) -> None:
        """Put the library's settings in place of those that it has; `source` is the text of their file."""
        self._settings = settings, source

    def put_unit(self, name: str, unit: Unit, source: Source | None = None) -> None:
        """Put a unit, new or in place of the one of that name."""
        self.put("unit", name, unit, source)

    def put_rig(self, name: str, rig: Rig, source: Source | None = None) -> None:
        """Put a rig, new or in place of the one of that name."""
        self.put("rig", name, rig, source)

    def put_song(self, name: str, song: Song, source: Source | None = None) -> None:
        """Put a song, new or in place of the one of that name."""
        self.put("song", name, song, source)

    def put_gig(self, name: str, gig: Gig, source: Source | None = None) -> None:
        """Put a gig, new or in place of the one of that name."""
        self.put("gig", name, gig, source)

    def put(self, kind: Kind, name: str, aggregate: Aggregate, source: Source | None = None) -> None:
        """Put a unit, rig, song or gig. Without a source the text that it was once imported from is kept beside it.

        Raises:
            BadValueError: the name cannot be one, or differs from another only in capitals.
        """
        assert isinstance(aggregate, MODELS[kind])
        self._puts[kind][self._checked_name(kind, name)] = aggregate, source

    def delete(self, kind: Kind, name: str) -> None:
        """Take a unit, rig, song or gig away; history keeps it.

        Raises:
            UnknownNameError: there is none of that name.
            BadValueError: at the end of the change, if something still uses it.
        """
        table = t.AGGREGATES[kind]
        names = self._connection.execute(select(table.c.name)).scalars().all()
        self._deletes[kind][find_name(name, names, kind)] = None

    def faults(self) -> Iterator[tuple[Kind, str, ScenebookError]]:
        """Yield (kind, name, fault) for all that does not fit in what was put, and in what uses it."""
        units, songs, rigs, gigs = (
            _Overlay(self._connection, k, self._after(k)) for k in ("unit", "song", "rig", "gig")
        )
        library = Library.model_construct(units=units, rigs=rigs, songs=songs, gigs=gigs)  # type: ignore[arg-type]
        checks: dict[Kind, Callable[[Any], Iterator[ScenebookError]]] = {
            "unit": check_unit,
            "rig": lambda rig: check_rig(rig, units),
            "song": lambda song: check_song(song, units),
            "gig": lambda gig: check_gig(gig, library),
        }
        wholes: dict[Kind, _Overlay] = {"unit": units, "rig": rigs, "song": songs, "gig": gigs}
        for kind in KINDS:
            for name in self._touched(kind):
                yield from ((kind, name, fault) for fault in checks[kind](wholes[kind][name]))

    def write(self) -> None:
        """Check everything and write it; a thing put that is already so is not written again.

        Raises:
            ScenebookError: the first fault.
        """
        for kind, name, fault in self.faults():
            raise spoken(kind, name, fault)
        revision = self._connection.execute(select(t.library.c.revision)).scalar_one() + 1
        before = [entry for kind in KINDS for entry in self._write_puts(kind, revision)]
        before += [entry for kind in reversed(KINDS) for entry in self._write_deletes(kind)]
        before += self._write_settings()
        if before:
            self._connection.execute(update(t.library).values(revision=revision))
            write_history(self._connection, revision, _now(), self._what, before)

    def _write_puts(self, kind: Kind, revision: int) -> Iterator[tuple[str, str, str | None, str | None]]:
        stored = _stored(self._connection, kind, list(self._puts[kind]))
        for name, (aggregate, source) in self._puts[kind].items():
            text, (old, old_source) = whole_json(kind, aggregate), stored.get(name, (None, None))
            if text == old and (source is None or source == old_source):
                continue
            write_aggregate(self._connection, kind, name, aggregate, revision, source)
            yield kind, name, old, old_source.text if old_source else None

    def _write_deletes(self, kind: Kind) -> Iterator[tuple[str, str, str | None, str | None]]:
        stored = _stored(self._connection, kind, list(self._deletes[kind]))
        for name, (old, source) in stored.items():
            using = users_of(self._connection, kind, name)
            if using:
                more = f" and {len(using) - 3} more" if len(using) > 3 else ""
                raise BadValueError(
                    f"{kind} {name!r} is used by {', '.join(using[:3])}{more}", remedy="Take it out of these first"
                )
            delete_row(self._connection, kind, name)
            yield kind, name, old, source.text if source else None

    def _write_settings(self) -> list[tuple[str, str, str | None, str | None]]:
        if self._settings is None:
            return []
        settings, source = self._settings
        old = read_settings(self._connection).model_dump_json(exclude_defaults=True)
        old_source = self._connection.execute(select(t.library.c.source)).scalar_one()
        new = settings.model_dump_json(exclude_defaults=True)
        if new == old and (source is None or source == old_source):
            return []
        values = {"settings": new, **({} if source is None else {"source": source})}
        self._connection.execute(update(t.library).values(**values))
        return [("settings", "settings", old, old_source)]

    def _checked_name(self, kind: Kind, name: str) -> str:
        try:
            clean = _NAME.validate_python(name)
        except ValidationError:
            accepted = "1 to 80 characters on one line"
            raise BadValueError(f"{name!r} cannot be the name of a {kind}", accepted=accepted) from None
        other = self._name_there(kind, fold(clean))
        if other not in (None, clean):
            raise BadValueError(
                f"{kind} {clean!r} differs from {other!r} only in capitals", remedy=f"Write {other!r}, or another name"
            )
        self._folds[kind, fold(clean)] = clean
        return clean

    def _name_there(self, kind: Kind, key: str) -> str | None:
        table = t.AGGREGATES[kind]
        put: str | None = self._folds.get((kind, key))
        return put or self._connection.execute(select(table.c.name).where(table.c.fold == key)).scalar()

    def _after(self, kind: Kind) -> dict[str, Aggregate | None]:
        """Return what a kind will be like where it changes: the new aggregate, or nothing where one goes."""
        puts: dict[str, Aggregate | None] = {name: aggregate for name, (aggregate, _) in self._puts[kind].items()}
        return {**puts, **dict.fromkeys(self._deletes[kind])}

    def _touched(self, kind: Kind) -> dict[str, None]:
        """Return what has to be checked: all that is put, and what uses a unit or song put anew."""
        names = dict.fromkeys(self._puts[kind])
        for used in _USED:
            for name in _stored_names(self._connection, used) & self._puts[used].keys():
                names.update(dict.fromkeys(users_of(self._connection, used, name, by=kind)))
        return {name: None for name in names if name not in self._deletes[kind]}


class _Overlay(Mapping[str, Any]):
    """All aggregates of a kind as they will be after the change; the stored ones are read only when asked for."""

    def __init__(self, connection: Connection, kind: Kind, after: dict[str, Aggregate | None]) -> None:
        table = t.AGGREGATES[kind]
        stored = dict.fromkeys(connection.execute(select(table.c.name).order_by(table.c.fold)).scalars())
        self._connection, self._kind = connection, kind
        self._known: dict[str, Aggregate | None] = {**stored, **after}
        self._gone = {name for name, aggregate in after.items() if aggregate is None}

    def __getitem__(self, name: str) -> Any:
        if name not in self._known or name in self._gone:
            raise KeyError(name)
        if self._known[name] is None:
            self._known[name] = read_named(self._connection, self._kind, [name])[name]
        return self._known[name]

    def __contains__(self, name: object) -> bool:
        return name in self._known and name not in self._gone

    def __iter__(self) -> Iterator[str]:
        return (name for name in self._known if name not in self._gone)

    def __len__(self) -> int:
        return len(self._known) - len(self._gone)


def _stored_names(connection: Connection, kind: Kind) -> set[str]:
    return set(connection.execute(select(t.AGGREGATES[kind].c.name)).scalars())


def _stored(connection: Connection, kind: Kind, names: list[str]) -> dict[str, tuple[str, Source | None]]:
    """Return what stands there now, as JSON and with its source, in the order of `names`."""
    table, found = t.AGGREGATES[kind], read_named(connection, kind, names)
    rows = connection.execute(select(table.c.name, table.c.file, table.c.source)) if found else ()
    sources = {name: Source(file, source) if file is not None else None for name, file, source in rows}
    return {name: (whole_json(kind, found[name]), sources[name]) for name in names if name in found}


def spoken(kind: str, name: str, fault: ScenebookError) -> ScenebookError:
    """Return a fault with its place in words, counted as people do: the first of a list is number 1."""
    path = [f"number {key + 1}" if isinstance(key, int) else key for key in fault.path]
    return fault.at(place_text(kind, name, *path))


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
