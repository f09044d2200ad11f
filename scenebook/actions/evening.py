"""Tell an evening from its journal: when, which cue, by which trigger, what was sent where, faults, what was changed.

And keep what was changed, in the gig, where a player wants that. A song that has moved in the set since takes along
what was changed of it; of a form that is another now nothing is cut, so that keeping twice cuts once.
"""

import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from scenebook.actions.set_changes import moved
from scenebook.errors import UnknownNameError
from scenebook.live.keeping import kept
from scenebook.live.record_words import record_words
from scenebook.live.records import replayed
from scenebook.live.tonight import Tonight
from scenebook.model import Gig, Library
from scenebook.model.base import listed, place_text
from scenebook.storage import open_library
from scenebook.storage.evenings import Evening, evenings

__all__ = ["EveningTold", "Happening", "Kept", "evening_told", "keep_evening"]

Record = Mapping[str, Any]


@dataclass(frozen=True)
class Happening:
    """One thing that happened: when (seconds since the epoch), its kind in the journal, and in words.

    Of a step, `sent` are the messages that went out for it, by port of the rig, as hexadecimal bytes; `dropped` are
    those that did not, since a newer step came or the port was gone.
    """

    at: float
    kind: str
    words: str
    sent: Mapping[str, Sequence[str]] = field(default_factory=dict)
    dropped: Mapping[str, Sequence[str]] = field(default_factory=dict)


@dataclass(frozen=True)
class EveningTold:
    """An evening: its gig and file, everything that happened, and the dates of the gig's other evenings."""

    gig: str
    path: Path
    happenings: tuple[Happening, ...]
    torn: int
    others: tuple[str, ...]

    @property
    def date(self) -> str:
        """The day on which it began."""
        return _day(self.happenings[0].at) if self.happenings else ""


@dataclass(frozen=True)
class Kept:
    """The gig before and after what was changed tonight was kept; equal where nothing was."""

    name: str
    before: Gig
    gig: Gig


def evening_told(path: Path, gig: str, date: str = "") -> EveningTold:
    """Return the newest evening of a gig, or that which began on a date such as 2027-05-14.

    Raises:
        UnknownNameError: no gig of that name; it was never run, or not on that date.
        OutputError: a journal cannot be read.
    """
    with open_library(path, read_only=True) as store:
        name = store.find("gig", gig)
    known, evening = _evening(path, name, date)
    others = tuple(dict.fromkeys(_day(each.began) for each in known if each is not evening))
    return EveningTold(name, evening.path, tuple(_happenings(evening.records)), evening.torn, others)


def keep_evening(path: Path, gig: str, date: str = "") -> Kept:
    """Write what was changed on an evening into its gig: one change, which `library undo` takes back.

    Raises:
        UnknownNameError: as `evening_told`.
        ScenebookError: the library has become another since, so that what was changed does not fit it.
    """
    with open_library(path) as store, store.change(f"gig log {gig} --keep") as change:
        name = store.find("gig", gig)
        _, evening = _evening(path, name, date)
        before = store.gig(name)
        library = store.gig_slice(name)
        tonight = _tonight(evening, library)
        after = before if tonight is None else kept(library, name, tonight)
        if after != before:
            change.put_gig(name, after)
    return Kept(name, before, after)


def _evening(path: Path, gig: str, date: str) -> tuple[list[Evening], Evening]:
    known = evenings(path, gig)
    if not known:
        raise UnknownNameError(
            "there is no evening of this gig", where=place_text("gig", gig), remedy=f'Run it: scenebook stand "{gig}"'
        )
    fitting = [each for each in known if not date or _day(each.began) == date]
    if not fitting:
        dates = listed(dict.fromkeys(_day(each.began) for each in known))
        raise UnknownNameError(f"no evening began on {date!r}", where=place_text("gig", gig), accepted=dates)
    return known, fitting[-1]


def _tonight(evening: Evening, library: Library) -> Tonight | None:
    """Return what was different when the evening ended, if anything ever was, in the gig as it is now."""
    standing = replayed(evening.records)
    if standing is None or not any(record["kind"] == "tonight" for record in evening.records):
        return None
    return moved(standing, evening.records, library, evening.gig)[0].tonight


def _happenings(records: Iterable[Record]) -> Iterator[Happening]:
    """Yield what happened. What was sent is put to the step that it was sent for."""
    waiting: Happening | None = None
    is_cut_off = False
    for record in records:
        kind = record["kind"]
        if kind in ("sent", "dropped"):
            waiting = _with_messages(waiting, kind, record)
            continue
        words = record_words(record, is_cut_off=is_cut_off)
        if words is None:
            continue
        is_cut_off = kind != "closed" if not record.get("copied") else is_cut_off
        if waiting is not None:
            yield waiting
        waiting = Happening(_at(record), kind, words)
    if waiting is not None:
        yield waiting


def _with_messages(step: Happening | None, kind: str, record: Record) -> Happening:
    """Return a happening with messages that went out, or never did, after it."""
    step = step or Happening(_at(record), kind, "")
    port, messages = str(record.get("port", "")), [str(each) for each in _list(record.get("bytes"))]
    there = getattr(step, kind)
    parts = {"sent": step.sent, "dropped": step.dropped} | {kind: {**there, port: (*there.get(port, ()), *messages)}}
    return Happening(step.at, step.kind, step.words, **parts)


def _list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


def _at(record: Record) -> float:
    at = record.get("at")
    return float(at) if isinstance(at, (int, float)) else 0.0


def _day(moment: float) -> str:
    return time.strftime("%Y-%m-%d", time.localtime(moment))
