"""Cut a stream of MIDI bytes into whole messages, by the rules a receiver follows.

MIDI 1.0 Detailed Specification 4.2.1, Data Types: running status is written out; a real-time byte may stand
inside another message and comes before it; any status byte but real-time ends an exclusive message; data
bytes with no status, undefined statuses and messages that another status breaks off are ignored.
Pure: it reads bytes and nothing else.
"""

from typing import NamedTuple

from scenebook.model.protocol import (
    REAL_TIME_FIRST,
    STATUS_FIRST,
    SYSEX_END,
    SYSEX_START,
    SYSTEM_FIRST,
    facts_of,
)

__all__ = ["Heard", "heard", "split"]


class Heard(NamedTuple):
    """One whole message in a stream; `start` and `end` are the places of its first byte and after its last.

    With running status the first byte is a data byte; `message` has the status all the same.
    """

    start: int
    end: int
    message: bytes


def split(data: bytes) -> tuple[bytes, ...]:
    """Return the whole messages in `data`, in the order in which a receiver has them complete.

    Nothing is raised: what a receiver ignores is left out. An exclusive message cut short by another status
    ends there, as the specification says, and is given with its end byte; one with no end at all is left out.
    """
    return tuple(item.message for item in heard(data))


def heard(data: bytes) -> tuple[Heard, ...]:
    """Return the whole messages in `data` with their places, so that their times on the wire can be worked out."""
    reader = _Reader()
    for place, byte in enumerate(data):
        reader.take(place, byte)
    return tuple(reader.found)


class _Reader:
    """What a receiver keeps between two bytes: the status in force and what has come of the message so far."""

    def __init__(self) -> None:
        self.found: list[Heard] = []
        self._status: int | None = None  # None: data bytes belong to nothing
        self._wanted: int | None = 0  # data bytes of a whole message; None while in an exclusive message
        self._so_far = bytearray()
        self._start = 0

    def take(self, place: int, byte: int) -> None:
        if byte >= REAL_TIME_FIRST:
            self._take_real_time(place, byte)
        elif byte >= STATUS_FIRST:
            self._take_status(place, byte)
        elif self._status is not None:
            self._take_data(place, byte)

    def _take_real_time(self, place: int, byte: int) -> None:
        if facts_of(byte) is not None:
            self.found.append(Heard(place, place + 1, bytes((byte,))))

    def _take_status(self, place: int, byte: int) -> None:
        if self._status == SYSEX_START:
            # The end byte is part of the message; another status ends it too, and stands in the next one.
            end = place + 1 if byte == SYSEX_END else place
            self.found.append(Heard(self._start, end, bytes((SYSEX_START, *self._so_far, SYSEX_END))))
        facts = None if byte == SYSEX_END else facts_of(byte)
        self._status = None if facts is None else byte
        self._wanted = None if facts is None else facts.data_bytes
        self._so_far.clear()
        self._start = place
        self._finish_if_whole(place)

    def _take_data(self, place: int, byte: int) -> None:
        if not self._so_far and self._start < 0:
            self._start = place  # running status: the message begins with its first data byte
        self._so_far.append(byte)
        self._finish_if_whole(place)

    def _finish_if_whole(self, place: int) -> None:
        status = self._status
        if status is None or self._wanted is None or len(self._so_far) < self._wanted:
            return
        self.found.append(Heard(self._start, place + 1, bytes((status, *self._so_far))))
        self._so_far.clear()
        self._start = -1
        if status >= SYSTEM_FIRST:
            self._status = None  # running status is for channel messages only
