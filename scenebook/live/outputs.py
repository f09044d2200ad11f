"""One of the rig's ports as a running gig sends to it: what waits for its time, what has gone, what never will.

The MIDI port behind it may vanish and come back; nothing here opens one or looks at a clock. Times are whole
microseconds on the gig's clock.
"""

from collections import deque
from collections.abc import Callable, Sequence

from scenebook.cueing.cues import Message, MessageKind
from scenebook.errors import PortError
from scenebook.live.pacing import Needs, Pacer, is_bank_select, is_release
from scenebook.midi import OutPort
from scenebook.model.on_stage import Wire
from scenebook.model.protocol import BYTE_US

__all__ = ["Output"]


class Output:
    """One port of the rig. Messages go in their order, each whole, none before its time."""

    def __init__(self, port: str, wire: Wire, needs: Needs, told: Callable[[bytes, int], None] | None = None) -> None:
        """Begin with no MIDI port behind it; `told` hears of each message that goes, with its moment."""
        self.port, self.wire = port, wire
        self.fault = ""  # why the last write failed; the port is then to be detached
        self.gone: list[tuple[int, Message]] = []  # since somebody last took it
        self._pacer = Pacer(needs, byte_us=BYTE_US if wire.plug == "5-pin" else 0)
        self._told = told or (lambda data, now: None)
        self._out: OutPort | None = None
        self._queue: deque[Message] = deque()
        self._releases: deque[Message] = deque()  # of notes that sound, kept from what was dropped
        self._in_recall = False

    @property
    def is_there(self) -> bool:
        """Whether a MIDI port is behind it."""
        return self._out is not None

    @property
    def midi(self) -> str:
        """The full name of the MIDI port behind it, or nothing."""
        return self._out.name if self._out else ""

    @property
    def waiting(self) -> tuple[Message, ...]:
        """What has not gone yet, in order; releases of notes that sound are apart, since they always go."""
        return tuple(self._queue)

    @property
    def is_idle(self) -> bool:
        """Whether all has gone."""
        return not self._queue and not self._releases

    def attach(self, out: OutPort) -> None:
        """Send to `out` from now on; nothing that waited before is sent."""
        self._out, self.fault = out, ""
        self._forget()

    def detach(self) -> OutPort | None:
        """Let go of the MIDI port, and return it so that somebody who has time closes it. What waited is forgotten."""
        out, self._out = self._out, None
        self._forget()
        return out

    def begin(self, messages: Sequence[Message], now: int) -> None:
        """Send `messages` from now on, the first at once if nothing holds it up; what still waited never goes.

        Only the release of a note that sounds keeps its time: a note must not hang. It goes between two messages.
        """
        if self._queue or self._releases:
            self._keep_releases(messages)
        self._queue = deque(messages)
        self._in_recall = False
        self.pump(now)

    def pump(self, now: int) -> None:
        """Send everything whose time has come."""
        while self._out is not None and not self.is_idle:
            row = self._next(now)
            message = row[0]
            if self._pacer.due(message, now) > now or not self._write(message.data):
                return
            self._went(message, now)
            del row[0]
            self._in_recall = is_bank_select(message)

    def due(self, now: int) -> int | None:
        """Return when the next message may start, `now` where it may at once; None where nothing waits."""
        if self._out is None or self.is_idle:
            return None
        rows = (self._queue,) if self._in_recall and self._queue else (self._queue, self._releases)
        return min(self._pacer.due(row[0], now) for row in rows if row)

    def real_time(self, byte: bytes, now: int) -> None:
        """Send a byte of clock, Start or Stop at once: it may stand between any two messages."""
        if self._out is not None and self._write(byte):
            self._pacer.real_time(now)

    def hush(self, now: int) -> tuple[Message, ...]:
        """Let go of every note that sounds, at once; return what never goes, since the gig ends."""
        lost = []
        for message in (*self._releases, *self._queue):
            if self._out is None or not (is_release(message) and self._pacer.sounds(message)):
                lost.append(message)
            elif self._write(message.data):
                self._went(message, now)
        self._forget()
        return tuple(lost)

    def _next(self, now: int) -> deque[Message]:
        """Return the row whose first message is next: a release that is due, if no recall is half out."""
        if not self._queue:
            return self._releases
        is_due = self._releases and not self._in_recall and self._pacer.due(self._releases[0], now) <= now
        return self._releases if is_due else self._queue

    def _went(self, message: Message, now: int) -> None:
        self._pacer.gone(message, now)
        self.gone.append((now, message))
        self._told(message.data, now)

    def _keep_releases(self, messages: Sequence[Message]) -> None:
        """Keep the releases of notes that sound, but for those of triggers that fire once more."""
        again = {(each.unit, each.member) for each in messages if each.kind is MessageKind.TRIGGER}
        kept = [each for each in (*self._releases, *self._queue) if is_release(each) and self._pacer.sounds(each)]
        self._releases = deque(each for each in kept if (each.unit, each.member) not in again)

    def _forget(self) -> None:
        self._queue.clear()
        self._releases.clear()
        self._in_recall = False

    def _write(self, data: bytes) -> bool:
        assert self._out is not None
        try:
            self._out.send(data)
        except PortError as error:
            self.fault = str(error)
        return not self.fault
