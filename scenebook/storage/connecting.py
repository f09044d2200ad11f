"""Make the one connection of a store: SQLite's own, wrapped by SQLAlchemy, every transaction begun by name."""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

if TYPE_CHECKING:
    from sqlalchemy import Connection

__all__ = ["BUSY_S", "raw_connection", "transaction", "wrapped"]

BUSY_S = 10.0  # how long one process waits while another writes


def raw_connection(path: Path, *, read_only: bool, busy_s: float = BUSY_S) -> sqlite3.Connection:
    """Open an existing SQLite file; foreign keys are kept, and the driver begins no transaction by itself."""
    address = f"file:{quote(str(path.resolve()))}?mode={'ro' if read_only else 'rw'}"
    if read_only and not _can_share(path):
        address += "&immutable=1"  # on a read-only disk there is nobody to share with
    made = sqlite3.connect(address, uri=True, isolation_level=None, timeout=busy_s, check_same_thread=False)
    made.execute("PRAGMA foreign_keys = ON")
    return made


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
