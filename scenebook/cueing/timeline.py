"""Lay a compiled gig out in bars and ticks, as a Standard MIDI File holds it: one timeline for each port.

Pure plain values; whoever writes the files turns them into bytes. Each cue's messages come before its bar line by the
time that they need to settle, and the waits between them are kept whatever the tempo. Triggers stand on the line.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from scenebook.cueing.bars import DIVISION, Bars, Metre, Place, Step, TempoFrom, places
from scenebook.cueing.cues import Cue, CueList, Message, MessageKind
from scenebook.cueing.laying import Clock, PortLane, body, lead_us
from scenebook.cueing.points import Point, gig_points, song_points
from scenebook.model import Library, SetEntry
from scenebook.model.messages import channel_of

__all__ = ["DIVISION", "Mark", "Metre", "Sent", "TempoFrom", "Timeline", "Track", "gig_timelines", "song_timelines"]

_LONGEST_TICK_US = 312.5  # at 20 quarters a minute
_STATE_KINDS = (MessageKind.OFF, MessageKind.ON)
_Member = tuple[str, str]  # unit, switch


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

    Home is sent in the pre-roll. The first scene of each song is taken from `full`, so that playback can begin there;
    toggling switches, which no full list can promise, are flipped as in `lean`, and the marker says how they must
    stand. A gap goes at the tempo of the song before it, to the next bar line; so does an interval.

    Raises:
        ValueError: `lean` and `full` are not the two forms of one gig.
    """
    _check(lean, full)
    points = gig_points(library, library.gigs[lean.gig])
    steps = _steps(library, lean.cues[1:], full.cues[1:], points, through=True)
    return tuple(_timelines(library, _empty(lean.gig), lean.cues[0], steps))


def song_timelines(library: Library, lean: CueList, full: CueList) -> tuple[Timeline, ...]:
    """Return each song by itself, one timeline for each port: those of the sets, spare songs, house sounds.

    A full list in the pre-roll stands for home; its marker says how toggling switches must stand. A song that is played
    twice is there twice.

    Raises:
        ValueError: `lean` and `full` are not the two forms of one gig.
    """
    _check(lean, full)
    timelines: list[Timeline] = []
    for number, steps in enumerate(_songs(library, lean, full), 1):
        if steps:
            timelines += _timelines(library, _empty(lean.gig, steps[0].point.song_name, number), None, steps)
    return tuple(timelines)


def _check(lean: CueList, full: CueList) -> None:
    if lean.full or not full.full or (lean.gig, lean.rig, len(lean.cues)) != (full.gig, full.rig, len(full.cues)):
        raise ValueError("timeline: the lean and the full list of one gig are accepted")


def _empty(gig: str, song: str = "", number: int = 0) -> Timeline:
    return Timeline(gig, song, number, "", (), (), (), (), (), 0)


# --- which cues ---------------------------------------------------------------------------------------------------


def _songs(library: Library, lean: CueList, full: CueList) -> list[list[Step]]:
    gig = library.gigs[lean.gig]
    whole = _steps(library, lean.cues[1:], full.cues[1:], gig_points(library, gig), through=False)
    songs = [[step for step in whole if step.point.entry == entry] for entry in range(len(gig.entries))]
    apart = [*zip(gig.spares, lean.spares, full.spares, strict=True)]
    if gig.house and lean.house and full.house:
        apart.append((SetEntry(song=gig.house), lean.house, full.house))
    return songs + [
        _steps(library, a.cues, b.cues, song_points(library, entry), through=False) for entry, a, b in apart
    ]


def _steps(
    library: Library, lean: Sequence[Cue], full: Sequence[Cue], points: Sequence[Point], *, through: bool
) -> list[Step]:
    """Return the lean cues, each song's first replaced by its full one; `through` says that all are played in a row."""
    toggles = _toggles(library, lean)
    steps: list[Step] = []
    for spare, whole, point in zip(lean, full, points, strict=True):
        if steps and steps[-1].point.entry == point.entry:
            steps.append(Step(spare.messages, point, first=False))
            continue
        open_here = _not_promised(library, whole, toggles)
        messages = _flipped(library, whole, spare, open_here) if through else whole.messages
        notes = tuple(f"check: {unit} {name} {value}" for (unit, name), value in open_here.items())
        steps.append(Step(messages, point, True, notes))
    return steps


def _toggles(library: Library, cues: Sequence[Cue]) -> set[_Member]:
    """Return the switches that toggling messages flip anywhere in these cues."""
    flipped: set[_Member] = set()
    for message in (message for cue in cues for message in cue.messages if message.kind in _STATE_KINDS):
        switch = library.units[message.unit].switches.get(message.member)
        if switch is not None and switch.toggle is not None and switch.message is None:
            flipped.add((message.unit, message.member))
    return flipped


def _not_promised(library: Library, full: Cue, toggles: set[_Member]) -> dict[_Member, str]:
    """Return those of `toggles` of which a full cue knows nothing, and how they must stand: no recall sets them."""
    recalled = {message.unit for message in full.messages if message.kind is MessageKind.RECALL}
    return {
        (state.unit, name): value
        for state in full.states
        for name, value in state.values.items()
        if (state.unit, name) in toggles and not (state.unit in recalled and name in library.units[state.unit].stored)
    }


def _flipped(library: Library, full: Cue, lean: Cue, members: Mapping[_Member, str]) -> tuple[Message, ...]:
    """Return what a full cue sends, and at its end those of the switches flipped that the lean one flips."""
    messages = list(full.messages)
    settle_us = _settle_us(library)
    for message in lean.messages:
        if (message.unit, message.member) in members and message.kind in _STATE_KINDS:
            messages.append(message._replace(at_us=lead_us(body(messages, message.port), settle_us)))
    return tuple(messages)


# --- files --------------------------------------------------------------------------------------------------------


def _timelines(library: Library, empty: Timeline, home: Cue | None, steps: Sequence[Step]) -> list[Timeline]:
    """Return `empty` filled, once for each port that gets messages; all have the same bars."""
    if not steps:
        return []
    lists = [*([home.messages] if home else []), *(step.messages for step in steps)]
    ports = list(dict.fromkeys(message.port for messages in lists for message in messages))
    settle_us = _settle_us(library)
    begin = lists[: 2 if home else 1]
    bars = Bars()
    placed = places(steps, bars, max((_pre_roll_us(begin, port, settle_us) for port in ports), default=0))
    return [_timeline(replace(empty, port=port), home, placed, bars, settle_us) for port in ports]


def _settle_us(library: Library) -> dict[str, int]:
    programs = {name: unit.programs for name, unit in library.units.items()}
    return {name: (said and said.settle_us) or 0 for name, said in programs.items()}


def _pre_roll_us(lists: Sequence[tuple[Message, ...]], port: str, settle_us: Mapping[str, int]) -> float:
    first = [body(messages, port) for messages in lists]
    return sum(lead_us(messages, settle_us) + _LONGEST_TICK_US * len(messages) for messages in first)


def _timeline(
    empty: Timeline, home: Cue | None, placed: Sequence[Place], bars: Bars, settle_us: Mapping[str, int]
) -> Timeline:
    lane = PortLane(empty.port, Clock(bars.tempos), settle_us)
    markers: list[Mark] = []
    if home:
        lane.home(home.messages)
        markers.append(Mark(0, "home"))
    for place in placed:
        late_us = lane.cue(place)
        markers.append(Mark(place.tick, _marker(place, late_us)))
    return replace(
        empty,
        tempos=tuple(bars.tempos),
        metres=tuple(bars.metres),
        markers=tuple(markers),
        cue_points=tuple(_cue_points(placed)),
        tracks=tuple(_tracks(lane.sent)),
        end=max([bars.now, *(tick for tick, _ in lane.sent)]),
    )


def _marker(place: Place, late_us: int) -> str:
    point = place.step.point
    late = [f"messages {math.ceil(late_us / 1000)} ms late"] if late_us else []
    notes = "; ".join([*place.notes, *late])
    return f"{point.song_name}: {point.part.scene}" + (f" ({notes})" if notes else "")


def _cue_points(placed: Sequence[Place]) -> list[Mark]:
    firsts = [place for place in placed if place.step.first]
    return [Mark(place.tick, f"{number} {place.step.point.song_name}") for number, place in enumerate(firsts, 1)]


def _tracks(sent: Sequence[tuple[int, Message]]) -> Iterator[Track]:
    """Return a track for each channel, lowest first, named after its units; what has no channel comes last."""
    channels = {channel_of(message.data) for _, message in sent}
    for channel in sorted(channels, key=lambda each: each or math.inf):
        mine = [(tick, message) for tick, message in sent if channel_of(message.data) == channel]
        units = ", ".join(dict.fromkeys(message.unit for _, message in mine))
        name = f"channel {channel}: {units}" if channel else f"no channel: {units}"
        yield Track(name, channel, tuple(Sent(tick, message.data) for tick, message in mine))
