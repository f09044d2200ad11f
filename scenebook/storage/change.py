"""One change to a library: what to put and delete is collected, checked against the whole library, then written.

Everything happens inside the one write transaction that the store has begun and will commit or roll back.
"""

from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime
from typing import Any, NamedTuple

from pydantic import TypeAdapter, ValidationError
from sqlalchemy import Connection, select, update

from scenebook.errors import BadValueError, Path, ScenebookError, UnknownNameError
from scenebook.model import Gig, Library, Rig, Settings, Song, Unit
from scenebook.model.base import Name, did_you_mean, place_text
from scenebook.model.checks import check_gig, check_rig, check_song, check_unit
from scenebook.storage import tables as t
from scenebook.storage.boxes import Box, boxes_text, noted, read_boxes, replace_boxes
from scenebook.storage.mapping import MODELS, Aggregate, whole_json
from scenebook.storage.marks import KINDS, Kind, fold
from scenebook.storage.overlay import Overlay
from scenebook.storage.reading import read_named, read_settings, read_sources
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
    """What one command changes. It is handed out by `Store.change`, which writes it at the end.

    Afterwards `written` says what was really written: (kind, name, whether it was new).
    """

    def __init__(self, connection: Connection, what: str, *, as_it_was: bool = False) -> None:
        """Begin with nothing to change."""
        self._connection, self._what, self._as_it_was = connection, what, as_it_was
        self._puts: dict[Kind, dict[str, tuple[Aggregate, Source | None]]] = {kind: {} for kind in KINDS}
        self._deletes: dict[Kind, dict[str, None]] = {kind: {} for kind in KINDS}
        self._folds: dict[tuple[Kind, str], str] = {}
        self._faults: list[tuple[Kind, str, ScenebookError]] | None = None
        self.written: list[tuple[str, str, bool]] = []
        self._settings: tuple[Settings, str | None] | None = None
        self._boxes: dict[str, list[Box]] = {}

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
        self._faults = None

    def put_boxes(self, unit: str, boxes: Iterable[Box]) -> None:
        """Put what copies of a unit hold, as the player noted it, in place of all that was noted of them."""
        self._boxes[unit] = list(boxes)

    def note_boxes(self, boxes: Iterable[Box]) -> None:
        """Note what slots of copies of units hold now; what was noted of other slots and copies stays."""
        by_unit: dict[str, list[Box]] = {}
        for box in boxes:
            by_unit.setdefault(box.unit, []).append(box)
        for unit, now in by_unit.items():
            held = self._boxes.get(unit)
            self.put_boxes(unit, noted(read_boxes(self._connection, unit) if held is None else held, now))

    def delete(self, kind: Kind, name: str) -> None:
        """Take a unit, rig, song or gig away; history keeps it.

        Raises:
            UnknownNameError: there is none of that name.
            BadValueError: at the end of the change, if something still uses it.
        """
        found = self._name_there(kind, fold(name))
        if found is None:  # a beginning is enough to look at a thing, not to delete it
            names = self._connection.execute(select(t.AGGREGATES[kind].c.name)).scalars()
            raise UnknownNameError(f"no {kind} is called {name!r}", remedy=did_you_mean(name, names))
        self._deletes[kind][found] = None
        self._faults = None

    def delete_if_there(self, kind: Kind, name: str) -> None:
        """Take a unit, rig, song or gig away, unless it is gone already."""
        if self._name_there(kind, fold(name)) is not None:
            self.delete(kind, name)

    def faults(self) -> list[tuple[Kind, str, ScenebookError]]:
        """Return (kind, name, fault) for all that does not fit in what was put, and in what uses it."""
        if self._faults is None:
            self._faults = list(self._check())
        return self._faults

    def _check(self) -> Iterator[tuple[Kind, str, ScenebookError]]:
        wholes: dict[Kind, Overlay] = {kind: Overlay(self._connection, kind, self._after(kind)) for kind in KINDS}
        units = wholes["unit"]
        parts: dict[str, Any] = {f"{kind}s": whole for kind, whole in wholes.items()}
        library = Library.model_construct(**parts)
        checks: dict[Kind, Callable[[Any], Iterator[ScenebookError]]] = {
            "unit": check_unit,
            "rig": lambda rig: check_rig(rig, units),
            "song": lambda song: check_song(song, units),
            "gig": lambda gig: check_gig(gig, library),
        }
        for kind in KINDS:
            names = self._touched(kind)
            wholes[kind].read(names)
            for name in names:
                yield from ((kind, name, fault) for fault in checks[kind](wholes[kind][name]))

    def write(self) -> None:
        """Check everything and write it; a thing put that is already so is not written again.

        Raises:
            ScenebookError: the first fault.
        """
        if not self._as_it_was:  # what was taken in once is put back whatever is asked of new things since
            for kind, name, fault in self.faults():
                raise spoken(kind, name, fault)
        revision = self._connection.execute(select(t.library.c.revision)).scalar_one() + 1
        before = [entry for kind in KINDS for entry in self._write_puts(kind, revision)]
        before += self._write_boxes()
        before += [entry for kind in reversed(KINDS) for entry in self._write_deletes(kind)]
        before += self._write_settings()
        if before:
            self._connection.execute(update(t.library).values(revision=revision))
            self.written += [(kind, name, old is None) for kind, name, old, _ in before]
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
            held = boxes_text(read_boxes(self._connection, name)) if kind == "unit" else None
            delete_row(self._connection, kind, name)
            yield kind, name, old, source.text if source else None
            if held:
                yield "box", name, held, None

    def _write_boxes(self) -> Iterator[tuple[str, str, str | None, None]]:
        """Write what copies of units hold; of a unit that goes, or is gone, there is nothing to note."""
        for unit, boxes in self._boxes.items():
            old = read_boxes(self._connection, unit)
            is_here = unit not in self._deletes["unit"] and self._name_there("unit", fold(unit)) == unit
            if is_here and set(old) != set(boxes):
                replace_boxes(self._connection, unit, boxes)
                yield "box", unit, boxes_text(old), None

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

    def _touched(self, kind: Kind) -> list[str]:
        """Return what has to be checked: all that is put, and what uses a unit or song put anew."""
        names = dict.fromkeys(self._puts[kind])
        for used in _USED:
            for name in read_sources(self._connection, used, list(self._puts[used])):
                names.update(dict.fromkeys(users_of(self._connection, used, name, by=kind)))
        return [name for name in names if name not in self._deletes[kind]]


def _stored(connection: Connection, kind: Kind, names: list[str]) -> dict[str, tuple[str, Source | None]]:
    """Return what stands there now, as JSON and with its source, in the order of `names`."""
    found, sources = read_named(connection, kind, names), read_sources(connection, kind, names)
    return {name: (whole_json(kind, found[name]), _source(*sources[name])) for name in names if name in found}


def _source(file: str | None, text: str | None) -> Source | None:
    return None if file is None or text is None else Source(file, text)


def spoken(kind: str, name: str, fault: ScenebookError) -> ScenebookError:
    """Return a fault with its place in words: names in quotes, and counted as people do: the first is number 1."""
    words = list(_place_words(fault.path))
    if fault.where and words and words[-1].rpartition(" ")[2] == fault.where.rpartition(" ")[2]:
        words.pop()  # "control 'sub'" is said already
    return fault.at(", ".join([place_text(kind, name), *words]))


# What holds things by name or number, and what one of these is called.
_ONE_OF = {
    "controls": "control", "out": "unit", "outlets": "outlet", "played_by": "player of unit", "presets": "preset",
    "scenes": "scene", "sends": "send of unit", "songs": "song", "spares": "spare song", "switches": "switch",
    "triggers": "trigger", "units": "unit",
    "home": "home, unit", "loops": "loop of unit", "sets": "set", "form": "form", "variants": "variant",
    "colours": "colour", "stand_ins": "stand-in", "leads": "lead",
}  # fmt: skip


def _place_words(path: Path) -> Iterator[str]:
    """Yield a path from an aggregate's keys and indexes in a player's words: scene 'verse', unit 'octave', 'sub'."""
    holder = ""
    for number, key in enumerate(path):
        if key == "stores":  # what a preset stores is its members
            continue
        if not holder and key in _ONE_OF and number + 1 < len(path):
            holder = _ONE_OF[str(key)]
            continue
        said = f"number {key + 1}" if isinstance(key, int) else repr(key) if holder or number > 1 else str(key)
        yield f"{holder} {said}".strip()
        holder = ""


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
