"""Read a gig out of a large library, against SQLite alone and out of a small one; kill the writer.

The gig is that of the compiler's benchmark: 40 songs of 4 scenes, 20 units, 6 of them with 128 presets of 12 members.
Its songs lie spread among the others in the file.
"""

import sqlite3
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from scenebook.model import Library
from scenebook.storage import Store, create_library, open_library, reading
from tests.benchmarks.gigs import large_gig
from tests.benchmarks.table import Row, medians
from tests.storage.killing import kill_during

__all__ = ["run"]

_SONGS, _LARGE, _SMALL, _RUNS, _KILLS = 40, 10_000, 100, 41, 200


def run() -> list[Row]:
    """Return the two ratios of reading, and how many of 200 killed processes left neither before nor after."""
    with TemporaryDirectory() as name:
        folder, gig = Path(name), large_gig(4 * _SONGS)
        large, small = _library(folder, gig, _LARGE), _library(folder, gig, _SMALL)
        return [*_reading(large, small), *_killed(folder)]


def _library(folder: Path, gig: Library, songs: int) -> Path:
    path = folder / f"{songs}.scenebook"
    create_library(path)
    own = list(gig.songs.items())
    every = songs // len(own)
    with open_library(path) as store, store.change("fill") as change:
        for name, unit in gig.units.items():
            change.put_unit(name, unit)
        for name, rig in gig.rigs.items():
            change.put_rig(name, rig)
        for number in range(songs):
            at, left = divmod(number, every)
            name, song = own[at % len(own)]
            change.put_song(name if not left and at < len(own) else f"other {number}", song)
        for name, evening in gig.gigs.items():
            change.put_gig(name, evening)
    return path


def _reading(large: Path, small: Path) -> list[Row]:
    with open_library(large, read_only=True) as much, open_library(small, read_only=True) as little:
        ours, alone, ratio = medians(lambda: much.gig_slice("gig"), _sqlite_alone(much, large), runs=_RUNS)
        big, less, growth = medians(lambda: much.gig_slice("gig"), lambda: little.gig_slice("gig"), runs=_RUNS)
    return [
        Row(
            "read a 40-song gig out of 10,000 / sqlite3, same rows",
            ratio,
            6.0,
            f"{ours * 1e3:.1f} ms, {alone * 1e3:.1f}",
        ),
        Row("the same gig out of 10,000 songs / out of 100", growth, 1.2, f"{big * 1e3:.1f} ms, {less * 1e3:.1f}"),
    ]


def _sqlite_alone(store: Store, path: Path) -> Callable[[], object]:
    """Return a function that runs the same queries with sqlite3 alone and does nothing with the rows."""
    asked: list[tuple[str, dict[str, Any]]] = []
    rows_of = reading._rows

    def noted(connection: Any, sql: str, values: dict[str, Any]) -> list[Any]:
        asked.append((sql, values))
        return rows_of(connection, sql, values)

    reading._rows = noted
    try:
        store.gig_slice("gig")
    finally:
        reading._rows = rows_of
    alone = sqlite3.connect(path)
    return lambda: [alone.execute(sql, values).fetchall() for sql, values in asked]


def _killed(folder: Path) -> list[Row]:
    empty = folder / "empty.scenebook"
    create_library(empty)
    left = [one for work in ("import", "scene") for one in kill_during(work, _KILLS // 2, folder, empty)]
    broken = sum(one.state == "neither" or bool(one.faults) for one in left)
    states = [sum(one.state == state for one in left) for state in ("before", "after")]
    inside = sum(one.inside for one in left)
    note = f"{states[0]} as before, {states[1]} as after, {inside} killed inside the open transaction"
    return [Row(f"broken libraries of {len(left)} killed while writing", broken, 0, note)]
