"""One of the rig's ports as a running gig sends to it: what waits for its time, what has gone, what never will.

The MIDI port behind it may vanish and come back; nothing here opens one or looks at a clock. Times are whole
microseconds on the gig's clock.
"""

from collections import deque
from collections.abc import Callable, Mapping, Sequence

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
        self._recalled = ""  # the unit of a Bank Select that has gone: its Program Change has to be next
        self._busy: Mapping[str, int] = {}  # units that are not ready again after the step before, and when they are

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
        """What has not gone yet, in order; releases that were kept from an earlier step are apart."""
        return tuple(self._queue)

    @property
    def is_idle(self) -> bool:
        """Whether all has gone that can go."""
        return self._out is None or not (self._queue or self._releases)

    def attach(self, out: OutPort) -> None:
        """Send to `out` from now on: first the releases of notes that were begun before, nothing else that waited."""
        self._out, self.fault = out, ""
        self.drop()

    def detach(self) -> OutPort | None:
        """Let go of the MIDI port, and return it so that somebody who has time closes it. What waited is dropped."""
        out, self._out = self._out, None
        self.drop()
        return out

    def drop(self, messages: Sequence[Message] = ()) -> tuple[Message, ...]:
        """Let go of what waits, since `messages` take its place; return what never goes.

        The release of a note that sounds is kept, for a note must not hang; unless its trigger fires once more.
        """
        if not (self._queue or self._releases):
            return ()
        again = {(each.unit, each.member) for each in messages if each.kind is MessageKind.TRIGGER}
        kept, lost = list[Message](), list[Message]()
        for each in (*self._releases, *self._queue):
            is_kept = is_release(each) and self._pacer.sounds(each) and (each.unit, each.member) not in again
            (kept if is_kept else lost).append(each)
        self._forget()
        self._releases.extend(kept)
        return tuple(lost)

    def begin(self, messages: Sequence[Message], now: int) -> None:
        """Send `messages` from now on, the first at once if nothing holds it up; what still waited never goes.

        Only the release of a note that sounds keeps its time, and goes between two messages. A unit that still settles
        after the step before holds up no other: messages to those go before its own, but for triggers.
        """
        self.drop(messages)
        self._queue.extend(messages)
        self._busy = self._pacer.busy(now)
        self.pump(now)

    def pump(self, now: int) -> None:
        """Send everything whose time has come."""
        while self._out is not None and not self.is_idle:
            row, at = self._next(now)
            message = row[at]
            if self._pacer.due(message, now) > now or not self._write(message.data):
                return
            self._went(message, now)
            del row[at]
            self._recalled = message.unit if is_bank_select(message) else ""

    def due(self, now: int) -> int | None:
        """Return when the next message may start, `now` where it may at once; None where nothing waits."""
        if self._out is None or self.is_idle:
            return None
        following = [self._queue[self._first(now)]] if self._queue else []
        if not (following and self._recalled):
            following += [row[0] for row in (self._queue, self._releases) if row]
        return min(self._pacer.due(message, now) for message in following)

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

    def _next(self, now: int) -> tuple[deque[Message], int]:
        """Return the row, and where in it the next message is: a release that is due, if no recall is half out."""
        if not self._queue:
            return self._releases, 0
        is_due = self._releases and not self._recalled and self._pacer.due(self._releases[0], now) <= now
        return (self._releases, 0) if is_due else (self._queue, self._first(now))

    def _first(self, now: int) -> int:
        """Return where in the queue the next message is: the first, unless its unit is busy and another's is not."""
        if self._recalled:
            return next((at for at, each in enumerate(self._queue) if each.unit == self._recalled), 0)
        if self._busy and self._busy.get(self._queue[0].unit, 0) > now:
            for at, each in enumerate(self._queue):
                if each.kind is MessageKind.TRIGGER:  # it fires when all else stands
                    break
                if self._busy.get(each.unit, 0) <= now:
                    return at
        return 0

    def _went(self, message: Message, now: int) -> None:
        self._pacer.gone(message, now)
        self.gone.append((now, message))
        self._told(message.data, now)

    def _forget(self) -> None:
        self._queue.clear()
        self._releases.clear()
        self._recalled = ""

    def _write(self, data: bytes) -> bool:
        assert self._out is not None
        try:
            self._out.send(data)
        except PortError as error:
            self.fault = str(error)
        except Exception as error:  # a fault of a library: the port is opened anew, the gig goes on
            self.fault = f"the port '{self.midi}' fails: {type(error).__name__}: {error}"
        return not self.fault
