"""Which evening a running gig belongs to: its journal beside the library, and the lock that keeps others away.

The folder is `NAME.stand` beside the library `NAME.scenebook`. An evening is one file, `GIG, DATE.jsonl`: all runs of
one gig that follow each other within 18 hours.
"""

import contextlib
import errno
import hashlib
import os
import re
import time
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Self

from scenebook.errors import BadValueError, OutputError
from scenebook.model.base import place_text
from scenebook.storage.journal import read_journal

__all__ = ["EVENING_S", "Evening", "GigLock", "evening_for", "evenings", "keys_file", "stand_folder"]

EVENING_S: Final = 18 * 60 * 60  # from a sound check in the afternoon to the last encore, and the drive home
_LONGEST: Final = 100  # of a name in a file's name, in bytes
_DONE: Final = frozenset({"step", "tonight", "learned", "line check"})  # what a player does
_BUSY: Final = (errno.EAGAIN, errno.EACCES, errno.EDEADLK)  # somebody else holds it


@dataclass(frozen=True)
class Evening:
    """One evening of a gig: its file and what is in it."""

    path: Path
    gig: str
    records: tuple[dict[str, Any], ...] = ()
    torn: int = 0

    @property
    def is_new(self) -> bool:
        """Whether nothing has happened yet."""
        return not self.records

    @property
    def is_begun(self) -> bool:
        """Whether the player has done anything yet."""
        return any(record["kind"] in _DONE for record in self.records)

    @property
    def is_closed(self) -> bool:
        """Whether its last run was ended by the player, not by a crash; a run in which nothing was done counts not."""
        runs: list[list[str]] = []
        for record in self.records:
            if record.get("copied") and record["kind"] not in _DONE:
                continue  # it tells of the other stand's runs
            if record["kind"] == "opened" or not runs:
                runs.append([])
            runs[-1].append(record["kind"])
        while len(runs) > 1 and not _DONE & set(runs[-1]):
            runs.pop()
        return bool(runs) and runs[-1][-1] == "closed"

    @property
    def began(self) -> float:
        """When it began, in seconds since the epoch."""
        return _moment(self.records[0]) if self.records else 0.0

    @property
    def ended(self) -> float:
        """When its last record was written."""
        return max(map(_moment, self.records), default=0.0)


def stand_folder(library: Path) -> Path:
    """Return the folder of a library's evenings; it need not be there."""
    return library.with_name(f"{library.stem}.stand")


def evenings(library: Path, gig: str) -> list[Evening]:
    """Return the evenings of a gig, the newest last.

    Raises:
        OutputError: one cannot be read.
    """
    found = []
    folder, name = stand_folder(library), _file_name(gig)
    for path in sorted(folder.glob("*.jsonl")):
        if not path.name.startswith(f"{name}, "):
            continue
        written = read_journal(path)
        named = next((record.get("gig") for record in written.records if record["kind"] == "opened"), None)
        if named == gig:
            found.append(Evening(path, gig, written.records, written.torn))
    return sorted(found, key=lambda evening: evening.ended)


def evening_for(library: Path, gig: str, now: float, *, afresh: bool = False) -> Evening:
    """Return the evening that a stand goes on with: the newest if it is younger than 18 hours, else a new one.

    `afresh` asks for a new one in any case. Nothing is written.
    """
    if not afresh:
        newest = evenings(library, gig)[-1:]
        if newest and abs(now - newest[0].ended) < EVENING_S:  # a clock may have been wrong
            return newest[0]
    folder, name = stand_folder(library), f"{_file_name(gig)}, {time.strftime('%Y-%m-%d', time.localtime(now))}"
    return Evening(next(path for path in _names(folder, name) if not path.exists()), gig)


def keys_file(evening: Evening) -> Path:
    """Return where the secret of an evening's page is kept."""
    return evening.path.with_suffix(".key")


class GigLock:
    """Held by the stand that runs a gig. The system takes it back from a process that ends, however it ends."""

    def __init__(self, library: Path, gig: str) -> None:
        """Take the lock.

        Raises:
            BadValueError: another stand on this machine runs the gig.
            OutputError: the folder cannot be written.
        """
        path = stand_folder(library) / f"gig {_file_name(gig)}.lock"
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._file = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
        except OSError as error:
            raise OutputError(f"the stand's folder cannot be written: {error.strerror}", where=str(path)) from error
        if not _locked(self._file):
            said = _said_in(self._file)
            os.close(self._file)
            raise BadValueError(
                f"another stand runs this gig already{f' ({said})' if said else ''}",
                where=place_text("gig", gig),
                remedy="Open its page, or end it with Ctrl-C; a second laptop follows with --follow ADDRESS",
            )
        self.say(f"process {os.getpid()}")

    def say(self, words: str) -> None:
        """Write beside the lock who holds it."""
        with contextlib.suppress(OSError):
            os.ftruncate(self._file, 0)
            os.lseek(self._file, 0, os.SEEK_SET)
            os.write(self._file, words.encode())

    def close(self) -> None:
        """Give it back."""
        if self._file >= 0:
            self.say("")
            os.close(self._file)
            self._file = -1

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _locked(file: int) -> bool:
    """Lock a file; where a file system knows no locks, say that it is ours."""
    try:
        if os.name == "posix":
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        else:  # pragma: no cover
            import msvcrt

            os.lseek(file, 1_000_000, os.SEEK_SET)  # beyond what is said in it, which others may read
            getattr(msvcrt, "locking")(file, getattr(msvcrt, "LK_NBLCK"), 1)  # noqa: B009 - not there elsewhere
    except OSError as error:
        return error.errno not in _BUSY
    return True


def _said_in(file: int) -> str:
    with contextlib.suppress(OSError):
        os.lseek(file, 0, os.SEEK_SET)
        return os.read(file, 400).decode(errors="replace").strip()
    return ""


def _file_name(name: str) -> str:
    """Return a name that every file system takes; one that had to be changed ends in a mark of its own."""
    plain = re.sub(r"[^\w ,()'+=#&!-]", "_", unicodedata.normalize("NFC", name)).strip(" ")
    short = plain.encode()[:_LONGEST].decode(errors="ignore").strip(" ")
    if short == name:
        return name
    return f"{short} {hashlib.sha256(name.encode()).hexdigest()[:6]}"


def _names(folder: Path, name: str) -> Iterator[Path]:
    yield folder / f"{name}.jsonl"
    number = 2
    while True:
        yield folder / f"{name} ({number}).jsonl"
        number += 1


def _moment(record: dict[str, Any]) -> float:
    at = record.get("at")
    return float(at) if isinstance(at, (int, float)) else 0.0
