"""What is asked of a running gig, and how what takes time is worked out outside its own thread, one after the other."""

import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

from scenebook.live.acts import Act
from scenebook.live.caller import SLOW
from scenebook.live.doors import Worker
from scenebook.live.plans import Asked, Ready
from scenebook.live.snapshot import Snapshot

__all__ = ["Aside", "Asking"]

_SLOW_RECORDS: Final = frozenset({"tonight", "opened"})


@dataclass(slots=True)
class Asking:
    """Something asked, and who waits for the snapshot after it."""

    asked: Asked | Ready
    answered: threading.Event = field(default_factory=threading.Event)
    snapshot: Snapshot | None = None

    def answer(self, snapshot: Snapshot) -> None:
        """Let whoever waits go on."""
        self.snapshot = snapshot
        self.answered.set()


class Aside:
    """The row of what is being worked out. Only the gig's own thread calls it."""

    def __init__(self, prepare: Callable[[Asked], Ready], work: Worker, back: Callable[[Asking], None]) -> None:
        """`back` is called from anywhere with what is ready, in the order in which it was taken."""
        self._prepare, self._work, self._back = prepare, work, back
        self._row: deque[tuple[Asking, Asked]] = deque()

    def takes(self, asking: Asking) -> bool:
        """Take something if it takes time, or must wait for what does."""
        asked = asking.asked
        if isinstance(asked, Ready) or not self._is_slow(asked):
            return False
        self._row.append((asking, asked))
        if len(self._row) == 1:
            self._begin()
        return True

    def done(self) -> None:
        """Go on with the next: what came back is done."""
        self._row.popleft()
        if self._row:
            self._begin()

    def _is_slow(self, asked: Asked) -> bool:
        if isinstance(asked, Act):
            return asked.verb in SLOW
        return bool(self._row) or asked.get("kind") in _SLOW_RECORDS

    def _begin(self) -> None:
        asking, asked = self._row[0]
        try:
            self._work(lambda: self._worked_out(asking, asked))
        except Exception as error:  # no thread to be had: it is refused, so that the next one has its turn
            self._ready(asking, _refused(asked, error))

    def _worked_out(self, asking: Asking, asked: Asked) -> None:
        """Outside the gig's thread: compile anew, and come back with it."""
        try:
            ready = self._prepare(asked)
        except Exception as error:
            ready = _refused(asked, error)
        self._ready(asking, ready)

    def _ready(self, asking: Asking, ready: Ready) -> None:
        asking.asked = ready
        self._back(asking)


def _refused(asked: Asked, error: Exception) -> Ready:
    return Ready(asked, refused=f"It could not be worked out: {error}")
