"""Open and close MIDI ports where somebody has time: outside the gig's own thread, which never waits for one."""

import contextlib
import threading
from collections import deque
from collections.abc import Callable, Hashable
from functools import partial
from typing import Generic, TypeVar

from scenebook.errors import PortError
from scenebook.midi import InPort, OutPort

__all__ = ["Doors", "Worker", "aside"]

Port = TypeVar("Port", InPort, OutPort)
Worker = Callable[[Callable[[], None]], None]
"""Runs a piece of work elsewhere and returns at once; a test runs it on the spot."""


def aside(work: Callable[[], None]) -> None:
    """Run a piece of work in a thread of its own, since a port that never opens must not keep another from it."""
    threading.Thread(target=work, name="port", daemon=True).start()


class Doors(Generic[Port]):
    """Ports that are being opened, by a key of whoever asked; what has come of it is fetched later."""

    def __init__(self, work: Worker, told: Callable[[], None]) -> None:
        """`told` is called from wherever the work is done, when there is something to fetch."""
        self._work, self._told = work, told
        self._opening: set[Hashable] = set()
        self._opened: deque[tuple[Hashable, Port | PortError]] = deque()
        self._closing: deque[Port] = deque()

    def open(self, key: Hashable, call: Callable[[], Port]) -> None:
        """Begin to open a port, unless that is under way for the same key."""
        if key in self._opening:
            return
        self._opening.add(key)
        try:
            self._work(lambda: self._open(key, call))
        except Exception as error:  # no thread to be had
            self._opened.append((key, PortError(f"the port does not open: {error}")))

    def opened(self) -> tuple[Hashable, Port | PortError] | None:
        """Return a port that has been opened since the last look, or why it was not, with its key."""
        self._close_all()
        if not self._opened:
            return None
        found = self._opened.popleft()
        self._opening.discard(found[0])
        return found

    def close(self, port: Port | None) -> None:
        """Close a port, whatever comes of it; where there is no thread for it, at the next look."""
        if port is not None:
            self._closing.append(port)
            self._close_all()

    def _close_all(self) -> None:
        with contextlib.suppress(Exception):
            while self._closing:
                self._work(partial(_closed, self._closing[0]))
                self._closing.popleft()

    def _open(self, key: Hashable, call: Callable[[], Port]) -> None:
        try:
            self._opened.append((key, call()))
        except PortError as error:
            self._opened.append((key, error))
        except Exception as error:  # a fault of a library: the port is not there, the gig goes on
            self._opened.append((key, PortError(f"the port does not open: {error}")))
        self._told()


def _closed(port: InPort | OutPort) -> None:
    with contextlib.suppress(Exception):  # a port that cannot be closed is left
        port.close()
