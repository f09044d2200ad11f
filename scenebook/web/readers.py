"""Pages that follow a stand: each gets the newest, and a slow one gets fewer; nothing is kept for anyone."""

import asyncio
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import Final

from scenebook.live.facing import Stand
from scenebook.live.snapshot import Snapshot
from scenebook.web.refusing import Refusal

__all__ = ["MOST_READERS", "Readers"]

MOST_READERS = 64
_AFTER_S: Final = 0.006  # a cue's first byte is through a MIDI system by then; no eye sees so little


class Readers:
    """All who follow, on one event loop. What waits for a reader is one flag: that there is something newer."""

    def __init__(self, stand: Stand, *, most: int = MOST_READERS) -> None:
        self._stand, self._most = stand, most
        self._flags: set[asyncio.Event] = set()
        self._stop: Callable[[], None] | None = None
        self._is_due, self.is_closed = False, False

    @property
    def snapshot(self) -> Snapshot:
        """The newest."""
        return self._stand.snapshot

    @contextmanager
    def entered(self) -> Iterator[asyncio.Event]:
        """Follow: the flag is set whenever there is something newer, or the end.

        Raises:
            Refusal: as many follow as may.
        """
        if len(self._flags) >= self._most:
            raise Refusal(503, f"{self._most} pages follow this stand already", remedy="Close one that nobody looks at")
        flag = asyncio.Event()
        self._flags.add(flag)
        self._begin(asyncio.get_running_loop())
        try:
            yield flag
        finally:
            self._flags.discard(flag)
            if not self._flags:
                self._end()

    def close(self) -> None:
        """Let every reader go; from the event loop's thread."""
        self.is_closed = True
        self._wake()

    def _begin(self, loop: asyncio.AbstractEventLoop) -> None:
        if self._stop is None:
            self._is_due = False
            self._stop = self._stand.watch(lambda _: self._told(loop))

    def _end(self) -> None:
        if self._stop is not None:
            self._stop()
            self._stop = None

    def _told(self, loop: asyncio.AbstractEventLoop) -> None:
        """In the gig's own thread: ask the event loop to look, once for any number of changes.

        A little later: drawing for many pages at once would take the machine from the cue that is on its way.
        """
        if not self._is_due:
            self._is_due = True
            with suppress(RuntimeError):  # the server has just ended
                loop.call_soon_threadsafe(loop.call_later, _AFTER_S, self._wake)

    def _wake(self) -> None:
        self._is_due = False
        for flag in self._flags:
            flag.set()
