"""Write Standard MIDI Files of format 1 from plain values, the same bytes for the same values.

Source: Standard MIDI Files 1.0 (MMA RP-001, revised February 1996). Text is UTF-8; running status is used, as
the document's own examples do. What a file means is the caller's part.
"""

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from scenebook.model.messages import hex_text, split
from scenebook.model.protocol import SYSEX_START, SYSTEM_FIRST

if TYPE_CHECKING:
    import mido

__all__ = [
    "CUE_POINT",
    "LONGEST_DELTA",
    "MARKER",
    "TEMPO",
    "TEXT",
    "TIME_SIGNATURE",
    "TRACK_NAME",
    "SmfEvent",
    "SmfFile",
    "SmfMeta",
    "SmfTrack",
    "cue_point",
    "marker",
    "smf_bytes",
    "tempo",
    "text",
    "time_signature",
    "track_name",
]

# Kinds of meta event, the byte after FF.
TEXT: Final = 0x01
TRACK_NAME: Final = 0x03
MARKER: Final = 0x06
CUE_POINT: Final = 0x07
END_OF_TRACK: Final = 0x2F
TEMPO: Final = 0x51
TIME_SIGNATURE: Final = 0x58

_TEXT_KINDS: Final = range(0x01, 0x10)
_META_KINDS: Final = range(0x80)
_TICKS_PER_QUARTER: Final = range(1, 0x8000)  # bit 15 would mean frames of film
_TEMPOS: Final = range(1, 0x100_0000)
LONGEST_DELTA: Final = 0x0FFF_FFFF  # ticks; the largest variable-length quantity


@dataclass(frozen=True, slots=True)
class SmfMeta:
    """A meta event: its kind (the byte after FF) and its bytes. `tempo`, `marker` and the like make the usual ones."""

    kind: int
    data: bytes

    def __post_init__(self) -> None:
        """Refuse a kind that is no number 0-127, and the end of a track, which `SmfTrack.end` places."""
        if self.kind not in _META_KINDS or self.kind == END_OF_TRACK:
            raise ValueError(f"meta event: found kind {self.kind}; 0 to 127 but {END_OF_TRACK} is accepted")

    @property
    def text(self) -> str:
        """Return the words of a text, name, marker or cue point; UTF-8, else read as Latin-1; "" for other kinds."""
        if self.kind not in _TEXT_KINDS:
            return ""
        try:
            return self.data.decode("utf-8")
        except UnicodeDecodeError:  # written by another program: the older custom
            return self.data.decode("latin-1")


def tempo(us_per_quarter: int) -> SmfMeta:
    """Return a change of tempo; µs per quarter note, 1 to 16,777,215 (500,000 is 120 a minute).

    Raises:
        ValueError: the number is out of its range.
    """
    if us_per_quarter not in _TEMPOS:
        raise ValueError(f"tempo: found {us_per_quarter} µs per quarter; {_TEMPOS[0]} to {_TEMPOS[-1]} is accepted")
    return SmfMeta(TEMPO, us_per_quarter.to_bytes(3, "big"))


def time_signature(beats: int, note: int, *, clocks: int = 24, thirty_seconds: int = 8) -> SmfMeta:
    """Return a metre such as 6/8; `clocks` per click of a metronome, `thirty_seconds` in a quarter note.

    Raises:
        ValueError: `note` is no power of two up to 128, or another number is not 1 to 255.
    """
    if note not in {1 << power for power in range(8)}:
        raise ValueError(f"time signature: found a 1/{note} note; 1, 2, 4, 8, 16, 32, 64 or 128 is accepted")
    for field, value in (("beats", beats), ("clocks", clocks), ("thirty_seconds", thirty_seconds)):
        if not 1 <= value <= 255:
            raise ValueError(f"time signature: found {value} for {field}; 1 to 255 is accepted")
    return SmfMeta(TIME_SIGNATURE, bytes((beats, note.bit_length() - 1, clocks, thirty_seconds)))


def marker(words: str) -> SmfMeta:
    """Return a marker: the name of a place in the piece."""
    return SmfMeta(MARKER, words.encode())


def cue_point(words: str) -> SmfMeta:
    """Return a cue point: what happens at this place."""
    return SmfMeta(CUE_POINT, words.encode())


def text(words: str) -> SmfMeta:
    """Return a text of any sort."""
    return SmfMeta(TEXT, words.encode())


def track_name(words: str) -> SmfMeta:
    """Return a track's name, as `SmfTrack.name` puts it at the track's start."""
    return SmfMeta(TRACK_NAME, words.encode())


@dataclass(frozen=True, slots=True)
class SmfEvent:
    """What happens at a tick, counted from the start: one whole MIDI message, or a meta event."""

    tick: int
    data: bytes | SmfMeta

    def __post_init__(self) -> None:
        """Refuse a tick before the start, and bytes that are not one whole message."""
        if self.tick < 0:
            raise ValueError(f"event: found tick {self.tick}; 0 or later is accepted")
        if isinstance(self.data, bytes) and split(self.data) != (self.data,):
            raise ValueError(f"event: found {hex_text(self.data) or 'no bytes'}; one whole MIDI message is accepted")


@dataclass(frozen=True, slots=True)
class SmfTrack:
    """A track: its name ("" for none), its events, and the tick where it ends (None: with its last event).

    Events are written by tick; those of one tick keep their order.
    """

    name: str
    events: tuple[SmfEvent, ...]
    end: int | None = None

    def __post_init__(self) -> None:
        """Refuse an end before the last event."""
        last = max((event.tick for event in self.events), default=0)
        if self.end is not None and self.end < last:
            raise ValueError(f"track {self.name!r}: found its end at tick {self.end}, its last event at {last}")


@dataclass(frozen=True, slots=True)
class SmfFile:
    """A file: ticks in a quarter note (1 to 32,767) and its tracks, of which the first has the tempo and the metre.

    `format` is 1, tracks played together, but for files that were read: 0, a single track.
    """

    division: int
    tracks: tuple[SmfTrack, ...]
    format: int = 1

    def __post_init__(self) -> None:
        """Refuse a division out of range, and a format that the tracks do not fit."""
        if self.division not in _TICKS_PER_QUARTER:
            raise ValueError(f"division: found {self.division} ticks in a quarter note; 1 to 32767 is accepted")
        if self.format not in (0, 1) or (self.format == 0 and len(self.tracks) != 1):
            raise ValueError(f"format: found {self.format} with {len(self.tracks)} tracks; 1, or 0 with one track")


def smf_bytes(file: SmfFile) -> bytes:
    """Return the whole file as bytes; equal values give equal bytes.

    Raises:
        ValueError: two neighbouring events are further apart than 268,435,455 ticks.
    """
    import mido

    out = io.BytesIO()
    tracks = [_mido_track(track) for track in file.tracks]
    mido.MidiFile(type=file.format, ticks_per_beat=file.division, tracks=tracks).save(file=out)
    return out.getvalue()


def _mido_track(track: SmfTrack) -> "mido.MidiTrack":
    import mido

    written = mido.MidiTrack()
    events = sorted(track.events, key=lambda event: event.tick)  # stable: order within a tick is kept
    if track.name:
        events.insert(0, SmfEvent(0, track_name(track.name)))
    now = 0
    for event in events:
        written.append(_mido_event(event.data, _delta(event.tick - now)))
        now = event.tick
    written.append(mido.MetaMessage("end_of_track", time=_delta((now if track.end is None else track.end) - now)))
    return written


def _delta(ticks: int) -> int:
    if ticks > LONGEST_DELTA:
        raise ValueError(f"event: found {ticks} ticks after the one before; up to {LONGEST_DELTA} is accepted")
    return ticks


def _mido_event(data: bytes | SmfMeta, delta: int) -> Any:
    import mido

    if isinstance(data, SmfMeta):
        # As bytes, so that neither mido's own charset (Latin-1, and one for the whole process) nor its reading of a
        # kind it does not know can change them.
        return mido.UnknownMetaMessage(data.kind, data=tuple(data.data), time=delta)
    if data[0] > SYSEX_START:
        return _escape(data, delta)
    assert data[0] < SYSTEM_FIRST or data[0] == SYSEX_START
    return mido.Message.from_bytes(data, time=delta)


def _escape(data: bytes, delta: int) -> Any:
    """Return a system common or real-time message as a file holds it, behind F7 and its length.

    mido has no such event; it writes a meta event by the bytes that it says it has.
    """
    import mido

    class Escape(mido.UnknownMetaMessage):  # type: ignore[misc]  # mido has no types
        def bytes(self) -> list[int]:
            return [0xF7, len(data), *data]

    return Escape(0, data=(), time=delta)
