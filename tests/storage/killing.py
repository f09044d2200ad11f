"""Kill a process with SIGKILL while it writes to a library, at chosen moments, and say what it left behind."""

import multiprocessing
import os
import shutil
import signal
import sqlite3
import time
from collections.abc import Callable, Iterator
from multiprocessing.connection import Connection
from pathlib import Path
from typing import NamedTuple

from scenebook.model import Scene
from scenebook.resources import demo_library_folder
from scenebook.storage import Store, check, import_folder, open_library
from tests.storage.filling import text

__all__ = ["Left", "kill_during"]

_PATIENCE_S = 120.0
_PROCESSES = multiprocessing.get_context("forkserver")
_PROCESSES.set_forkserver_preload(["tests.storage.killing", "scenebook.storage.store", "scenebook.storage.exporting"])


class Left(NamedTuple):
    """What a killed process left: as before, as after, or neither; whether it was inside; faults that a check finds."""

    state: str
    inside: bool
    faults: list[str]


def _import(store: Store) -> None:
    import_folder(store, demo_library_folder())


def _set_scene(store: Store) -> None:
    song = store.song("Chalk line")
    scenes = {**song.scenes, "pulse": Scene(notes="quite another"), "new": Scene(units={"octave down": {"main": "on"}})}
    with store.change("scene set") as change:
        change.put_song("Chalk line", song.model_copy(update={"scenes": scenes}))


_WORK: dict[str, Callable[[Store], None]] = {"import": _import, "scene": _set_scene}


def kill_during(work: str, moments: int, folder: Path, empty: Path) -> Iterator[Left]:
    """Do some work (`import` or `scene`) in `moments` processes, each killed at another moment of it.

    A quarter of them kill themselves inside the open write transaction, at a statement that writes; the others are
    killed from outside, at moments spread evenly over the time that the work takes from begin to end.
    """
    begin = _beginning(work, folder, empty)
    before = _state(begin)
    done = _copy(begin, folder)
    started = time.monotonic()
    statements = _run(done, work, 0, _PATIENCE_S)
    seconds, after = time.monotonic() - started, _state(done)
    inside = moments // 4
    for number in range(inside):
        path = _copy(begin, folder)
        _run(path, work, 1 + number * (statements - 1) // max(1, inside - 1), _PATIENCE_S)
        yield _left(path, before, after, inside=True)
    for number in range(moments - inside):
        path = _copy(begin, folder)
        _run(path, work, 0, seconds * number / (moments - inside))
        yield _left(path, before, after, inside=False)


def _beginning(work: str, folder: Path, empty: Path) -> Path:
    path = folder / f"{work}.scenebook"
    shutil.copy(empty, path)
    if work == "scene":
        with open_library(path) as store:
            _import(store)
    return path


def _copy(path: Path, folder: Path) -> Path:
    copy = folder / "copy.scenebook"
    for old in folder.glob("copy.scenebook*"):
        old.unlink()
    shutil.copy(path, copy)
    return copy


def _state(path: Path) -> tuple[int, str]:
    with open_library(path) as store:
        return store.revision, text(store.library())


def _left(path: Path, before: tuple[int, str], after: tuple[int, str], *, inside: bool) -> Left:
    state = _state(path)
    name = "before" if state == before else "after" if state == after else "neither"
    return Left(name, inside, [str(fault) for fault in check(path)])


def _run(path: Path, work: str, kill_at: int, patience_s: float) -> int:
    """Run a process until it ends, kills itself, or is killed; return how many statements it wrote, if it told."""
    here, there = _PROCESSES.Pipe()
    process = _PROCESSES.Process(target=_child, args=(there, path, work, kill_at))
    process.start()
    there.close()
    assert here.recv() == "begin"
    wrote = 0
    if here.poll(patience_s):
        try:
            wrote = here.recv()
        except EOFError:  # it killed itself
            assert kill_at
    process.kill()
    process.join()
    process.close()
    here.close()
    return wrote


def _child(there: Connection, path: Path, work: str, kill_at: int) -> None:
    count = 0

    def see(statement: str) -> None:
        nonlocal count
        if statement.startswith(("INSERT", "UPDATE", "DELETE")):
            count += 1
            if count == kill_at:
                os.kill(os.getpid(), signal.SIGKILL)

    with open_library(path) as store:
        own = store._connection.connection.dbapi_connection
        assert isinstance(own, sqlite3.Connection)
        own.set_trace_callback(see)
        there.send("begin")
        _WORK[work](store)
    there.send(count)
