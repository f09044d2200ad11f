"""Lay the messages of one port out in ticks: each cue's settled on its bar line, with all its waits, in order."""

import math
from collections.abc import Iterable, Mapping, Sequence

from scenebook.cueing.bars import DIVISION, Place, TempoFrom
from scenebook.cueing.cues import Message, MessageKind
from scenebook.model.messages import wire_us

__all__ = ["Clock", "PortLane", "body", "lead_us"]


class Clock:
    """Turns ticks into time and back. Time is µs times `DIVISION`, so that it is a whole number at every tick."""

    def __init__(self, tempos: Sequence[TempoFrom]) -> None:
        """Follow these tempos, the first from tick 0."""
        self._pieces: list[tuple[int, int, int]] = []  # tick, time, time of one tick
        for tick, us_per_quarter in tempos:
            time = self.time(tick) if self._pieces else 0
            self._pieces.append((tick, time, us_per_quarter))

    def time(self, tick: int) -> int:
        """Return when a tick begins."""
        start, time, pace = next(piece for piece in reversed(self._pieces) if piece[0] <= tick)
        return time + (tick - start) * pace

    def tick(self, time: int) -> int:
        """Return the first tick that is not before `time`."""
        start, begun, pace = next(piece for piece in reversed(self._pieces) if piece[1] <= time)
        return start - (begun - time) // pace


class PortLane:
    """The messages of one port with their ticks, cue after cue."""

    def __init__(self, port: str, clock: Clock, settle_us: Mapping[str, int]) -> None:
        """Begin with nothing sent; `settle_us` says for each unit how long a recall takes to settle."""
        self.sent: list[tuple[int, Message]] = []
        self._port, self._clock, self._settle_us = port, clock, settle_us
        self._free = 0  # from here on nothing of an earlier cue is under way or settling
        self._line = 0  # the bar line of the cue before

    def home(self, messages: Sequence[Message]) -> None:
        """Send home from the very start."""
        self._free = self._lay(body(messages, self._port), 0)

    def cue(self, place: Place) -> int:
        """Send a cue; return by how many µs it comes too late for its bar line, 0 where it is in time.

        Nothing goes out before the bar line of the cue before, or before what that cue sent has settled.
        """
        messages = place.step.messages
        first, triggers = body(messages, self._port), _triggers(messages, self._port)
        line = self._clock.time(place.tick)
        # Each message may have to wait for the next tick, so there is a tick more for each.
        lead = lead_us(first, self._settle_us) * DIVISION + len(first) * place.before
        settled = self._lay(first, max(self._free, self._line, line - lead))
        ready = max(line, self._free, settled)
        self._line, self._free = line, self._lay(_fired(triggers), ready)
        done = ready if triggers else settled if first else line
        return math.ceil(max(0, done - line) / DIVISION)

    def _lay(self, messages: Sequence[Message], start: int) -> int:
        """Send from `start` on with at least the waits that the messages have; return when all is settled."""
        last_us, now, settled = 0, start, start
        for message in messages:
            tick = self._clock.tick(now + (message.at_us - last_us) * DIVISION)
            last_us, now = message.at_us, self._clock.time(tick)
            self.sent.append((tick, message))
            settled = max(settled, now + _done_us(message, self._settle_us) * DIVISION)
        return settled


def body(messages: Iterable[Message], port: str) -> list[Message]:
    """Return what a cue sends on one port, but its triggers."""
    return [message for message in messages if message.port == port and message.kind is not MessageKind.TRIGGER]


def lead_us(messages: Sequence[Message], settle_us: Mapping[str, int]) -> int:
    """Return the time from the cue's first byte until all is settled (C7)."""
    return max((message.at_us + _done_us(message, settle_us) for message in messages), default=0)


def _triggers(messages: Iterable[Message], port: str) -> list[Message]:
    return [message for message in messages if message.port == port and message.kind is MessageKind.TRIGGER]


def _fired(triggers: Sequence[Message]) -> list[Message]:
    """Return a cue's triggers one right after the other, each released as long after it as in the cue (C8)."""
    begun: dict[tuple[str, str], tuple[int, int]] = {}
    now, fired = 0, list[Message]()
    for message in triggers:
        old, new = begun.setdefault((message.unit, message.member), (message.at_us, now))
        now = max(now, new + message.at_us - old)
        fired.append(message._replace(at_us=now))
        now += wire_us(message.data)
    return fired


def _done_us(message: Message, settle_us: Mapping[str, int]) -> int:
    settle = settle_us.get(message.unit, 0) if message.kind is MessageKind.RECALL else 0
    return wire_us(message.data) + settle
