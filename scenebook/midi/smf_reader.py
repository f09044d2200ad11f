"""Read Standard MIDI Files of format 0 and 1 back into the values that `smf` writes.

Our own reader, since that of mido 1.3 takes the events behind F7 (system common and real-time messages) for
exclusive ones and refuses them, and drops the delta time of a meta event of a kind it does not know.
Source: Standard MIDI Files 1.0 (MMA RP-001, revised February 1996).
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Final

from scenebook.errors import FormatError
from scenebook.midi.smf import END_OF_TRACK, TRACK_NAME, SmfEvent, SmfFile, SmfMeta, SmfTrack
from scenebook.model.messages import split
from scenebook.model.protocol import STATUS_FIRST, SYSEX_END, SYSEX_START, SYSTEM_FIRST, facts_of

__all__ = ["read_smf", "smf_from_bytes"]

_META: Final = 0xFF
_ESCAPE: Final = 0xF7
_LARGEST: Final = 50_000_000  # bytes; a gig has some ten thousand


def read_smf(path: Path) -> SmfFile:
    """Return what the file at `path` holds.

    A track's name is its first event, if that is one. Chunks of unknown kinds are skipped, as the document asks.

    Raises:
        FormatError: it cannot be opened, or is no Standard MIDI File of format 0 or 1 with ticks per quarter note.
    """
    try:
        if path.stat().st_size > _LARGEST:
            raise FormatError("the file is far larger than any gig", where=str(path), accepted="up to 50 MB")
        data = path.read_bytes()
    except OSError as error:
        raise FormatError(f"the file cannot be read: {error.strerror or error}", where=str(path)) from error
    try:
        return smf_from_bytes(data)
    except FormatError as error:
        raise error.at(str(path)) from None


def smf_from_bytes(data: bytes) -> SmfFile:
    """Return what the bytes of a whole file hold.

    Raises:
        FormatError: they are no Standard MIDI File of format 0 or 1 with ticks per quarter note.
    """
    chunks = list(_chunks(data))
    if not chunks or chunks[0][0] != b"MThd" or len(chunks[0][1]) < 6:
        raise _error("it does not begin as a Standard MIDI File does", "MThd and six bytes or more")
    header = chunks[0][1]
    kind, division = int.from_bytes(header[0:2], "big"), int.from_bytes(header[4:6], "big")
    tracks = tuple(_track(body) for name, body in chunks[1:] if name == b"MTrk")
    try:
        return SmfFile(division, tracks, format=kind)
    except ValueError as error:
        raise _error(str(error), "format 0 or 1, with ticks per quarter note") from None


def _chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    at = 0
    while at + 8 <= len(data):
        length = int.from_bytes(data[at + 4 : at + 8], "big")
        body = data[at + 8 : at + 8 + length]
        if len(body) < length:
            raise _error("it ends in the middle of a chunk", f"{length} bytes after byte {at + 8}")
        yield data[at : at + 4], body
        at += 8 + length


def _track(body: bytes) -> SmfTrack:
    try:
        events, end = _Track(body).read()
    except IndexError:
        raise _error("a track ends in the middle of an event", "whole events") from None
    except ValueError as error:
        raise _error(str(error), "whole events") from None
    name = _name(events[0]) if events else ""
    return SmfTrack(name, tuple(events[bool(name) :]), _end(events, end))


def _name(first: SmfEvent) -> str:
    """Return the name that `first` gives its track: "" where it is none, or one that would be written differently."""
    if first.tick or not isinstance(first.data, SmfMeta) or first.data.kind != TRACK_NAME:
        return ""
    name = first.data.text
    return name if name.encode() == first.data.data else ""


def _end(events: list[SmfEvent], end: int) -> int | None:
    """Return the end of a track as it would be written: None where it is the last event's tick."""
    return None if end == (events[-1].tick if events else 0) else end


class _Track:
    """A place in the bytes of a track, and the running status there."""

    def __init__(self, body: bytes) -> None:
        self._body = body
        self._at = 0
        self._running = 0

    def read(self) -> tuple[list[SmfEvent], int]:
        """Return the events and the tick of the end of the track."""
        events: list[SmfEvent] = []
        now = 0
        while True:
            now += self._quantity()
            status = self._byte()
            if status == _META:
                kind, data = self._byte(), self._counted()
                self._running = 0
                if kind == END_OF_TRACK:
                    return events, now
                events.append(SmfEvent(now, SmfMeta(kind, data)))
            else:
                events += [SmfEvent(now, message) for message in self._messages(status)]

    def _messages(self, status: int) -> tuple[bytes, ...]:
        if status == SYSEX_START:
            self._running = 0
            return (self._exclusive(),)
        if status == _ESCAPE:
            self._running = 0
            return split(self._counted())
        if status >= SYSTEM_FIRST:
            raise ValueError(f"found {status:02X} where an event begins")
        return (self._channel_message(status),)

    def _exclusive(self) -> bytes:
        message = bytes((SYSEX_START, *self._counted()))
        if message[-1] != SYSEX_END:
            raise ValueError("found an exclusive message in several packets, which are not read here")
        return message

    def _channel_message(self, status: int) -> bytes:
        data = []
        if status < STATUS_FIRST:
            if not self._running:
                raise ValueError(f"found {status:02X} where an event begins, and no running status")
            data, status = [status], self._running
        self._running = status
        facts = facts_of(status)
        assert facts is not None  # every status below F0 is defined, and has a fixed length
        assert facts.data_bytes is not None
        while len(data) < facts.data_bytes:
            data.append(self._byte())
        return bytes((status, *data))

    def _counted(self) -> bytes:
        length = self._quantity()
        data = self._body[self._at : self._at + length]
        if len(data) < length:
            raise IndexError
        self._at += length
        return data

    def _quantity(self) -> int:
        """Read a variable-length quantity: seven bits a byte, the high bit set on all but the last."""
        value = 0
        for _ in range(4):
            byte = self._byte()
            value = value << 7 | byte & 0x7F
            if byte < 0x80:
                return value
        raise ValueError("found a variable-length quantity of more than four bytes")

    def _byte(self) -> int:
        byte = self._body[self._at]
        self._at += 1
        return byte


def _error(found: str, accepted: str) -> FormatError:
    return FormatError(found, accepted=accepted, remedy="Give a Standard MIDI File")
