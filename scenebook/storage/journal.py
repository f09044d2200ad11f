"""The journal of a running gig: a file of JSON lines that only grows, each line written at once.

A record is one `write` of the system to a file opened for appending: a process that is killed after it has not lost
it. Against a battery that falls out the file is synced by a thread of its own, so that a slow disk holds nobody up. A
process that is killed inside the call may leave half a line (Linux looks for SIGKILL between two pages of a write), and
so may a power cut or a full disk: every reader passes over it, and the next record begins on a line of its own.
"""

import contextlib
import json
import os
import threading
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final, NamedTuple, Self

from scenebook.errors import OutputError

__all__ = ["Journal", "Written", "read_journal"]

Record = Mapping[str, Any]

_MOST_HELD: Final = 10_000  # records kept while the disk takes none: more than an evening has
_BLOCK: Final = 65_536
_text: Final = json.JSONEncoder(separators=(",", ":")).encode  # making one for each record takes longer than writing


class Written(NamedTuple):
    """What a journal holds: its records in order, and how many lines of it say nothing any more."""

    records: tuple[dict[str, Any], ...]
    torn: int = 0


class Journal:
    """One evening's journal, open for writing; `live.facing` says how a gig uses it (Journal, Records).

    `write` belongs to one thread; reading is for any. A context manager that closes.
    """

    def __init__(self, path: Path) -> None:
        """Open the file, or make it.

        Raises:
            OutputError: it cannot be written.
        """
        self.path = path
        self._held: deque[bytes] = deque(maxlen=_MOST_HELD)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._file = os.open(path, os.O_RDWR | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o600)
            self._is_torn = _ends_torn(self._file)
        except OSError as error:
            raise _cannot(path, error) from error
        self._is_new, self._ended = threading.Event(), False
        self._syncing = threading.Thread(target=self._sync, name="journal", daemon=True)
        self._syncing.start()

    def write(self, record: Record) -> None:
        """Add one record; a process that is killed afterwards has not lost it.

        While the disk takes nothing, records are held and written as soon as it does.

        Raises:
            OutputError: it is not on disk yet.
        """
        self._held.append(_text(record).encode("ascii") + b"\n")
        try:
            while self._held:
                self._append(self._held[0])
                self._held.popleft()
        except OSError as error:
            raise _cannot(self.path, error) from error
        self._is_new.set()

    def read(self, after: int, count: int) -> tuple[Sequence[Record], int]:
        """Return up to `count` records from a cursor on, and the cursor after them; a cursor is a place in the file.

        One beyond the end belongs to another file, so reading begins anew; one inside a line, with that line.
        """
        found: list[Record] = []
        with contextlib.suppress(OSError), self.path.open("rb") as file:
            after = self._line_at(file.fileno(), after)
            file.seek(after)
            for line in file:
                if len(found) >= count or not line.endswith(b"\n"):
                    break
                after += len(line)
                record = _record(line)
                if record is not None:
                    found.append(record)
        return found, after

    def last(self, count: int) -> Sequence[Record]:
        """Return the newest records, the oldest of them first."""
        try:
            with self.path.open("rb") as file:
                lines = _last_lines(file.fileno(), count)
        except OSError:
            return []
        return [record for line in lines if (record := _record(line)) is not None][-count:] if count > 0 else []

    def close(self) -> None:
        """Put everything on disk and let go of the file."""
        if self._ended:
            return
        self._ended = True
        self._is_new.set()
        self._syncing.join()
        os.close(self._file)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _append(self, line: bytes) -> None:
        """Write a line whole; what was torn before is ended first, so that only that is lost."""
        if self._ended:
            raise OSError("the journal is closed")
        data = b"\n" + line if self._is_torn else line
        written = os.write(self._file, data)
        self._is_torn = written < len(data)
        if self._is_torn:
            raise OSError("no room is left on the disk")

    def _sync(self) -> None:
        while not self._ended:
            self._is_new.wait()
            self._is_new.clear()
            with contextlib.suppress(OSError):  # some file systems cannot; what was written stays written
                os.fsync(self._file)

    @staticmethod
    def _line_at(file: int, place: int) -> int:
        """Return where the line begins that a place is in."""
        size = os.fstat(file).st_size
        if not 0 < place <= size:
            return 0
        begin = max(0, place - _BLOCK)
        return begin + _pread(file, place - begin, begin).rfind(b"\n") + 1


def read_journal(path: Path) -> Written:
    """Return what a journal holds; a line that is torn, or says nothing that a record could, is only counted.

    Raises:
        OutputError: it cannot be read.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise OutputError(f"the journal cannot be read: {error.strerror}", where=str(path)) from error
    lines = [line for line in data.split(b"\n") if line]
    records = tuple(_records(lines))
    return Written(records, len(lines) - len(records))


def _records(lines: Sequence[bytes]) -> Iterator[dict[str, Any]]:
    return (record for line in lines if (record := _record(line)) is not None)


def _record(line: bytes) -> dict[str, Any] | None:
    try:
        found = json.loads(line)
    except (ValueError, RecursionError):
        return None
    return found if isinstance(found, dict) and isinstance(found.get("kind"), str) else None


def _last_lines(file: int, count: int) -> list[bytes]:
    """Return at least the last `count` whole lines, reading from the end."""
    begin, data = os.fstat(file).st_size, b""
    while begin > 0 and data.count(b"\n") <= count:
        step = min(_BLOCK, begin)
        begin -= step
        data = _pread(file, step, begin) + data
    whole = data[: data.rfind(b"\n") + 1]
    if begin > 0:
        whole = whole[whole.find(b"\n") + 1 :]
    return whole.split(b"\n")


def _pread(file: int, count: int, place: int) -> bytes:
    os.lseek(file, place, os.SEEK_SET)
    return os.read(file, count)


def _ends_torn(file: int) -> bool:
    size = os.fstat(file).st_size
    return size > 0 and _pread(file, 1, size - 1) != b"\n"


def _cannot(path: Path, error: OSError) -> OutputError:
    return OutputError(
        f"the journal cannot be written: {error.strerror or error}",
        where=str(path),
        remedy="Make room on the disk, or give yourself the folder",
    )
