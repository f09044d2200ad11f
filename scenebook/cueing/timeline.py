"""Lay a compiled gig out in bars and ticks, as a Standard MIDI File holds it: one timeline for each port.

Pure plain values; whoever writes the files turns them into bytes. Each cue's messages come before its bar line by the
time that they need to settle, and the waits between them are kept whatever the tempo. Triggers stand on the line.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

from scenebook.cueing.charted import us
from scenebook.cueing.cues import Cue, CueList, Message, MessageKind
from scenebook.cueing.points import Point, gig_points, song_points
from scenebook.model import Library, SetEntry
from scenebook.model.messages import channel_of, wire_us

__all__ = ["DIVISION", "Mark", "Metre", "Sent", "TempoFrom", "Timeline", "Track", "gig_timelines", "song_timelines"]

# Ticks in a quarter note. At 20 a minute, the slowest tempo, a tick is 312.5 µs: less than a byte takes on the wire, so
# no two messages of a port share a tick, and their order holds from track to track.
DIVISION: Final = 9_600

_UNKNOWN_BARS: Final = 8
_UNKNOWN_GAP_BARS: Final = 2
_LONGEST_TICK_US: Final = 312.5
_UNKNOWN_TEMPO: Final = 120.0  # what a file that gives none means (Standard MIDI Files 1.0)


class TempoFrom(NamedTuple):
    """From this tick on a quarter note takes so many µs."""

    tick: int
    us_per_quarter: int


class Metre(NamedTuple):
    """From this tick on a bar has so many beats, each a 1/`note`; a click every `clocks`, 24 in a quarter note."""

    tick: int
    beats: int
    note: int
    clocks: int


class Mark(NamedTuple):
    """Words at a tick."""

    tick: int
    words: str


class Sent(NamedTuple):
    """A message, and the tick at which its first byte starts."""

    tick: int
    data: bytes


class Track(NamedTuple):
    """What goes out on one channel; with no channel, the messages that belong to none."""

    name: str
    channel: int | None
    sent: tuple[Sent, ...]


@dataclass(frozen=True, slots=True)
class Timeline:
    """All that one file holds: ticks of which a quarter note has `DIVISION`, and `end`, its last.

    `song` is empty for a whole gig. `number` counts from 1 as the songs are played, then spare songs and house sounds.
    """

    gig: str
    song: str
    number: int
    port: str
    tempos: tuple[TempoFrom, ...]
    metres: tuple[Metre, ...]
    markers: tuple[Mark, ...]
    cue_points: tuple[Mark, ...]
    tracks: tuple[Track, ...]
    end: int


def gig_timelines(library: Library, lean: CueList, full: CueList) -> tuple[Timeline, ...]:
    """Return the whole gig, one timeline for each port that gets messages, from the two forms of its list.

    Home is sent in the pre-roll. The first scene of each song is taken from `full`, so that playback can begin there.
    A gap goes at the tempo of the song before it, to the next bar line; so does an interval.

    Raises:
        ValueError: `lean` and `full` are not the two forms of one gig.
    """
    _check(lean, full)
    points = gig_points(library, library.gigs[lean.gig])
    steps = _steps(lean.cues[1:], full.cues[1:], points)
    return tuple(_timelines(library, Timeline(lean.gig, "", 0, "", (), (), (), (), (), 0), lean.cues[0], steps))


def song_timelines(library: Library, lean: CueList, full: CueList) -> tuple[Timeline, ...]:
    """Return each song by itself, one timeline for each port: those of the sets, spare songs, house sounds.

    A full list in the pre-roll stands for home. A song that is played twice is there twice.

    Raises:
        ValueError: `lean` and `full` are not the two forms of one gig.
    """
    _check(lean, full)
    timelines: list[Timeline] = []
    for number, steps in enumerate(_songs(library, lean, full), 1):
        if steps:
            empty = Timeline(lean.gig, steps[0].point.song_name, number, "", (), (), (), (), (), 0)
            timelines += _timelines(library, empty, None, steps)
    return tuple(timelines)


def _check(lean: CueList, full: CueList) -> None:
    if lean.full or not full.full or (lean.gig, lean.rig, len(lean.cues)) != (full.gig, full.rig, len(full.cues)):
        raise ValueError("timeline: the lean and the full list of one gig are accepted")


class _Step(NamedTuple):
    """A cue as it is sent, its point, and whether a song begins with it."""

    cue: Cue
    point: Point
    first: bool


class _Place(NamedTuple):
    """A step on its bar line: what its marker says, and the µs of a quarter note just before the line."""

    step: _Step
    tick: int
    notes: tuple[str, ...]
    before: int


def _steps(lean: Sequence[Cue], full: Sequence[Cue], points: Sequence[Point]) -> list[_Step]:
    steps: list[_Step] = []
    for spare, complete, point in zip(lean, full, points, strict=True):
        first = not steps or steps[-1].point.entry != point.entry
        steps.append(_Step(complete if first else spare, point, first))
    return steps


def _songs(library: Library, lean: CueList, full: CueList) -> list[list[_Step]]:
    gig = library.gigs[lean.gig]
    whole = _steps(lean.cues[1:], full.cues[1:], gig_points(library, gig))
    songs = [[step for step in whole if step.point.entry == entry] for entry in range(len(gig.entries))]
    apart = [*zip(gig.spares, lean.spares, full.spares, strict=True)]
    if gig.house and lean.house and full.house:
        apart.append((SetEntry(song=gig.house), lean.house, full.house))
    return songs + [_steps(a.cues, b.cues, song_points(library, entry)) for entry, a, b in apart]


# --- bars ---------------------------------------------------------------------------------------------------------


class _Bars:
    """Counts bars from song to song, and writes down where tempo and metre change."""

    def __init__(self) -> None:
        self.now = 0
        self.tempos: list[TempoFrom] = []
        self.metres: list[Metre] = []
        self._bar, self._song = 1, 0

    def begin(self, point: Point) -> None:
        """Start a song at this tick."""
        tempo = round(60e6 / (point.tempo or _UNKNOWN_TEMPO))
        beats, note = (int(number) for number in point.song.metre.split("/"))
        metre = Metre(self.now, beats, note, _clocks(beats, note))
        if not self.tempos or self.tempos[-1].us_per_quarter != tempo:
            self.tempos.append(TempoFrom(self.now, tempo))
        if not self.metres or self.metres[-1][1:] != metre[1:]:
            self.metres.append(metre)
        self._bar, self._song = DIVISION * 4 * beats // note, self.now

    def play(self, bars: float) -> None:
        self.now += round(bars * self._bar)

    def pause(self, pause_us: float | None) -> None:
        """Let so much time go by, or two bars where nobody knows, and go on to the next bar line."""
        self.now += (
            self._bar * _UNKNOWN_GAP_BARS if pause_us is None else math.ceil(pause_us * DIVISION / self.us_per_quarter)
        )
        self.now += (self._song - self.now) % self._bar

    def pre_roll(self, needed_us: float) -> None:
        """Leave a bar, or as many as the first messages need."""
        self.play(max(1, math.ceil(needed_us * DIVISION / self.us_per_quarter / self._bar)))

    @property
    def us_per_quarter(self) -> int:
        return self.tempos[-1].us_per_quarter


def _clocks(beats: int, note: int) -> int:
    """Return the clocks of a click: on each beat, or on every third where beats go in threes (the standard's 6/8)."""
    thirds = 3 if note >= 8 and beats % 3 == 0 and beats > 3 else 1
    return max(1, 96 * thirds // note)


def _placed(steps: Sequence[_Step], bars: _Bars, lead_us: float) -> list[_Place]:
    """Return every step on its bar line, the first after a pre-roll in which `lead_us` fits."""
    places: list[_Place] = []
    for step in steps:
        point, notes = step.point, []
        if not places:
            bars.begin(point)
            bars.pre_roll(lead_us)
        elif step.first:
            bars.pause(0 if not point.afresh else point.time_us)
            notes += ["gap before not known, 2 bars taken"] if point.afresh and point.time_us is None else []
        before = bars.us_per_quarter
        if step.first and places:
            bars.begin(point)
        if step.first and point.tempo is None:
            notes.append(f"tempo not known, {_UNKNOWN_TEMPO:.0f} taken")
        if point.part.bars is None:
            notes.append(f"bars not known, {_UNKNOWN_BARS} taken")
        places.append(_Place(step, bars.now, tuple(notes), before))
        bars.play(point.part.bars or _UNKNOWN_BARS)
    return places


# --- time ---------------------------------------------------------------------------------------------------------


class _Clock:
    """Turns ticks into time and back. Time is µs times `DIVISION`, so that it is a whole number at every tick."""

    def __init__(self, tempos: Sequence[TempoFrom]) -> None:
        self._pieces: list[tuple[int, int, int]] = []  # tick, time, time of one tick
        for tick, us_per_quarter in tempos:
            time = self.time(tick) if self._pieces else 0
            self._pieces.append((tick, time, us_per_quarter))

    def time(self, tick: int) -> int:
        start, time, pace = next(piece for piece in reversed(self._pieces) if piece[0] <= tick)
        return time + (tick - start) * pace

    def tick(self, time: int) -> int:
        """Return the first tick that is not before `time`."""
        start, begun, pace = next(piece for piece in reversed(self._pieces) if piece[1] <= time)
        return start - (begun - time) // pace


class _Port:
    """The messages of one port, cue after cue: settled on the bar line, and never before what went before."""

    def __init__(self, name: str, clock: _Clock, settle_us: Mapping[str, int]) -> None:
        self.sent: list[tuple[int, Message]] = []
        self._name, self._clock, self._settle_us = name, clock, settle_us
        self._free = 0  # from here on nothing of an earlier cue is under way or settling
        self._line = 0  # the bar line of the cue before

    def home(self, cue: Cue) -> None:
        """Send home from the very start."""
        self._free = self._lay(_body(cue, self._name), 0)

    def cue(self, place: _Place) -> int:
        """Send a cue; return by how many µs it comes too late for its bar line, 0 where it is in time."""
        body, triggers = _body(place.step.cue, self._name), _triggers(place.step.cue, self._name)
        line = self._clock.time(place.tick)
        # Each message may have to wait for the next tick, so there is a tick more for each.
        lead = _lead_us(body, self._settle_us) * DIVISION + len(body) * place.before
        settled = self._lay(body, max(self._free, self._line, line - lead))
        ready = max(line, self._free, settled)
        self._line, self._free = line, self._lay(_fired(triggers), ready)
        done = ready if triggers else settled if body else line
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


def _body(cue: Cue, port: str) -> list[Message]:
    return [message for message in cue.messages if message.port == port and message.kind is not MessageKind.TRIGGER]


def _triggers(cue: Cue, port: str) -> list[Message]:
    return [message for message in cue.messages if message.port == port and message.kind is MessageKind.TRIGGER]


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


def _lead_us(messages: Sequence[Message], settle_us: Mapping[str, int]) -> int:
    """Return the time from the cue's first byte until all is settled (C7)."""
    return max((message.at_us + _done_us(message, settle_us) for message in messages), default=0)


def _done_us(message: Message, settle_us: Mapping[str, int]) -> int:
    settle = settle_us.get(message.unit, 0) if message.kind is MessageKind.RECALL else 0
    return wire_us(message.data) + settle


# --- files --------------------------------------------------------------------------------------------------------


def _timelines(library: Library, empty: Timeline, home: Cue | None, steps: Sequence[_Step]) -> list[Timeline]:
    """Return `empty` filled, once for each port that gets messages; all have the same bars."""
    if not steps:
        return []
    cues = [*([home] if home else []), *(step.cue for step in steps)]
    ports = list(dict.fromkeys(message.port for cue in cues for message in cue.messages))
    programs = {name: unit.programs for name, unit in library.units.items()}
    settle_us = {name: us((said and said.settle_ms) or 0) for name, said in programs.items()}
    begin = cues[: 2 if home else 1]
    bars = _Bars()
    places = _placed(steps, bars, max((_pre_roll_us(begin, port, settle_us) for port in ports), default=0))
    return [_timeline(replace(empty, port=port), home, places, bars, settle_us) for port in ports]


def _pre_roll_us(cues: Sequence[Cue], port: str, settle_us: Mapping[str, int]) -> float:
    bodies = [_body(cue, port) for cue in cues]
    return sum(_lead_us(body, settle_us) + _LONGEST_TICK_US * len(body) for body in bodies)


def _timeline(
    empty: Timeline, home: Cue | None, places: Sequence[_Place], bars: _Bars, settle_us: Mapping[str, int]
) -> Timeline:
    port = _Port(empty.port, _Clock(bars.tempos), settle_us)
    markers: list[Mark] = []
    if home:
        port.home(home)
        markers.append(Mark(0, "home"))
    for place in places:
        late_us = port.cue(place)
        markers.append(Mark(place.tick, _marker(place, late_us)))
    last = max((tick for tick, _ in port.sent), default=0)
    return replace(
        empty,
        tempos=tuple(bars.tempos),
        metres=tuple(bars.metres),
        markers=tuple(markers),
        cue_points=tuple(_cue_points(places)),
        tracks=tuple(_tracks(port.sent)),
        end=max(bars.now, last),
    )


def _marker(place: _Place, late_us: int) -> str:
    point = place.step.point
    late = [f"messages {math.ceil(late_us / 1000)} ms late"] if late_us else []
    notes = "; ".join([*place.notes, *late])
    return f"{point.song_name}: {point.part.scene}" + (f" ({notes})" if notes else "")


def _cue_points(places: Sequence[_Place]) -> list[Mark]:
    firsts = [place for place in places if place.step.first]
    return [Mark(place.tick, f"{number} {place.step.point.song_name}") for number, place in enumerate(firsts, 1)]


def _tracks(sent: Sequence[tuple[int, Message]]) -> Iterator[Track]:
    """Return a track for each channel, lowest first, named after its units; what has no channel comes last."""
    channels = {channel_of(message.data) for _, message in sent}
    for channel in sorted(channels, key=lambda each: each or math.inf):
        mine = [(tick, message) for tick, message in sent if channel_of(message.data) == channel]
        units = ", ".join(dict.fromkeys(message.unit for _, message in mine))
        name = f"channel {channel}: {units}" if channel else f"no channel: {units}"
        yield Track(name, channel, tuple(Sent(tick, message.data) for tick, message in mine))
