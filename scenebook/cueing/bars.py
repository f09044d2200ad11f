"""Count a gig's bars: the tick at which each scene begins, and where tempo and metre change.

What nobody knows is taken: 8 bars for a scene, 2 bars for a gap, 120 quarters a minute; `Place.notes` says so.
"""

import math
from collections.abc import Sequence
from fractions import Fraction
from typing import Final, NamedTuple

from scenebook.cueing.cues import Message
from scenebook.cueing.points import Point

__all__ = ["DIVISION", "Bars", "Metre", "Place", "Step", "TempoFrom", "places"]

# Ticks in a quarter note. At 20 a minute, the slowest tempo, a tick is 312.5 µs: less than a byte takes on the wire, so
# no two messages of a port share a tick, and their order holds from track to track.
DIVISION: Final = 9_600

_UNKNOWN_BARS: Final = 8
_UNKNOWN_GAP_BARS: Final = 2
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


class Step(NamedTuple):
    """What a cue sends, its point, whether a song begins with it, and what its marker is to say besides."""

    messages: tuple[Message, ...]
    point: Point
    first: bool
    notes: tuple[str, ...] = ()


class Place(NamedTuple):
    """A step on its bar line, and the µs of a quarter note just before that line."""

    step: Step
    tick: int
    before: int
    notes: tuple[str, ...]


class Bars:
    """Counts bars from song to song, and writes down where tempo and metre change."""

    def __init__(self) -> None:
        """Begin at tick 0."""
        self.now = 0
        self.tempos: list[TempoFrom] = []
        self.metres: list[Metre] = []
        self._tempo, self._bar, self._song = _UNKNOWN_TEMPO, 1, 0

    @property
    def us_per_quarter(self) -> int:
        """The tempo in force, as a file holds it."""
        return self.tempos[-1].us_per_quarter

    def begin(self, point: Point) -> None:
        """Start the song of `point` at this tick."""
        self._tempo = point.tempo or _UNKNOWN_TEMPO
        tempo = TempoFrom(self.now, round(60e6 / self._tempo))
        beats, note = (int(number) for number in point.song.metre.split("/"))
        metre = Metre(self.now, beats, note, _clocks(beats, note))
        if not self.tempos or self.tempos[-1][1:] != tempo[1:]:
            self.tempos.append(tempo)
        if not self.metres or self.metres[-1][1:] != metre[1:]:
            self.metres.append(metre)
        self._bar, self._song = DIVISION * 4 * beats // note, self.now

    def play(self, bars: float) -> None:
        """Let bars go by; a part of one ends at the nearest tick."""
        self.now += round(bars * self._bar)

    def pause(self, us: float | None) -> None:
        """Let so much time go by, or two bars where nobody knows, and go on to the next bar line."""
        # By the tempo as written: that of the file is rounded, and 20 minutes of it are not the same number of bars.
        ticks = self._bar * _UNKNOWN_GAP_BARS if us is None else math.ceil(self._quarters(us) * DIVISION)
        self.now += ticks
        self.now += (self._song - self.now) % self._bar

    def pre_roll(self, needed_us: float) -> None:
        """Leave a bar, or as many as are needed."""
        self.play(max(1, math.ceil(self._quarters(needed_us) * DIVISION / self._bar)))

    def _quarters(self, us: float) -> Fraction:
        return Fraction(round(us)) * Fraction(self._tempo) / 60_000_000


def places(steps: Sequence[Step], bars: Bars, needed_us: float) -> list[Place]:
    """Return every step on its bar line, the first after a pre-roll in which `needed_us` fits; counts on in `bars`."""
    found: list[Place] = []
    for step in steps:
        point = step.point
        if not found:
            bars.begin(point)
            bars.pre_roll(needed_us)
        elif step.first:
            bars.pause(point.time_us if point.afresh else 0)
        before = bars.us_per_quarter
        if step.first and found:
            bars.begin(point)
        found.append(Place(step, bars.now, before, (*_taken(step), *step.notes)))
        bars.play(point.part.bars or _UNKNOWN_BARS)
    return found


def _taken(step: Step) -> list[str]:
    """Return what is not known of a step, and what was taken for it."""
    point, notes = step.point, []
    if step.first and point.afresh and point.time_us is None:
        notes.append(f"gap before not known, {_UNKNOWN_GAP_BARS} bars taken")
    if step.first and point.tempo is None:
        notes.append(f"tempo not known, {_UNKNOWN_TEMPO:.0f} taken")
    if point.part.bars is None:
        notes.append(f"bars not known, {_UNKNOWN_BARS} taken")
    return notes


def _clocks(beats: int, note: int) -> int:
    """Return the clocks of a click: on each beat, or on every third where beats go in threes (the standard's 6/8)."""
    thirds = 3 if note >= 8 and beats % 3 == 0 and beats > 3 else 1
    return max(1, 96 * thirds // note)
