"""Make the one connection of a store: SQLite's own, wrapped by SQLAlchemy, every transaction begun by name."""

import os
import sqlite3
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

if TYPE_CHECKING:
    from sqlalchemy import Connection

__all__ = ["BUSY_S", "raw_connection", "transaction", "wrapped", "writable"]

BUSY_S = 10.0  # how long one process waits while another writes


def raw_connection(path: Path, *, read_only: bool, busy_s: float = BUSY_S) -> sqlite3.Connection:
    """Open an existing SQLite file; foreign keys are kept, and the driver begins no transaction by itself."""
    # A reader that could write tidies up the files beside the library when it leaves; query_only keeps it a reader.
    mode = "mode=ro" if read_only and not writable(path) else "mode=rw"
    if read_only and not _can_share(path):
        mode = "mode=ro&immutable=1"  # on a read-only disk there is nobody to share with
    address = f"file:{quote(os.fsencode(path.resolve()))}?{mode}"  # as bytes: a name may be in any encoding
    made = sqlite3.connect(address, uri=True, isolation_level=None, timeout=busy_s, check_same_thread=False)
    made.execute("PRAGMA foreign_keys = ON")
    made.execute(f"PRAGMA query_only = {'ON' if read_only else 'OFF'}")
    return made


def writable(path: Path) -> bool:
    """Tell whether a file may be written. Permission bits count even for a superuser: who took them away meant it."""
    return os.access(path, os.W_OK) and bool(path.stat().st_mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH))


def wrapped(made: sqlite3.Connection) -> "Connection":
    """Return SQLAlchemy's connection over SQLite's; closing it closes both."""
    from sqlalchemy import create_engine, event  # late: a file that is refused needs none of it
    from sqlalchemy.pool import NullPool

    engine = create_engine("sqlite://", creator=lambda: made, poolclass=NullPool)
    event.listen(engine, "begin", lambda own: own.exec_driver_sql(own.info.get("begin", "BEGIN")))
    return engine.connect()


@contextmanager
def transaction(connection: "Connection", *, write: bool) -> Iterator[None]:
    """Commit at the end, roll back on any exception. One that writes holds the right to write from its beginning."""
    connection.info["begin"] = "BEGIN IMMEDIATE" if write else "BEGIN"
    with connection.begin():
        yield


def _can_share(path: Path) -> bool:
    """Tell whether the files beside a library, by which readers and writers share it, are there or can be made."""
    return os.access(path.parent, os.W_OK) or Path(f"{path}-wal").exists()
