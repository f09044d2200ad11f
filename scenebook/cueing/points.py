"""The points of a gig at which a cue falls: home, then every entry of every song's form; and the time before each."""

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from scenebook.cueing.cues import Moment
from scenebook.model import Gig, Library, SetEntry, Song
from scenebook.model.songs import FormEntry, Instrument, bar_ms, seconds

__all__ = ["Point", "gig_points", "song_points"]


class Point(NamedTuple):
    """Where one cue falls. `time_us` is what hands have before it: infinite, a length, or None where nobody knows."""

    entry: int
    form: int
    song_name: str
    song: Song
    part: FormEntry
    tempo: float | None
    instrument: Instrument | None
    afresh: bool  # a song's start that no segue leads into
    moment: Moment
    time_us: float | None
    unknown: str  # why the time is not known, where it is not


def gig_points(library: Library, gig: Gig) -> list[Point]:
    """Return a point for every form entry of the sets, in order."""
    points: list[Point] = []
    gaps = _gaps_before(gig)
    openers = _set_openers(gig)
    for number, entry in enumerate(gig.entries):
        pause = "interval" if number in openers else "gap"
        last = points[-1] if points else None
        points += _entry_points(library.songs[entry.song], entry, number, gaps[number], last, pause)
    return points


def _set_openers(gig: Gig) -> set[int]:
    """Return which songs, counted through all sets, open a set."""
    openers, count = set(), 0
    for part in gig.sets:
        openers.add(count)
        count += len(part.songs)
    return openers


def song_points(library: Library, entry: SetEntry) -> list[Point]:
    """Return the points of one song by itself, as it is played from home."""
    return list(_entry_points(library.songs[entry.song], entry, 0, math.inf, None, "gap"))


def _gaps_before(gig: Gig) -> list[float | None]:
    """Return for each song the us of the pause before it; -1 for a segue, None where the pause is not known."""
    gaps: list[float | None] = []
    following: float | None = math.inf
    for part in gig.sets:
        for index, entry in enumerate(part.songs):
            gaps.append(following)
            text = entry.gap if entry.gap is not None else gig.gap
            if index == len(part.songs) - 1 and not entry.segue:
                text = part.interval
            following = -1.0 if entry.segue else None if text is None else seconds(text) * 1e6
    return gaps


def _entry_points(
    song: Song, entry: SetEntry, number: int, gap: float | None, last: Point | None, pause: str
) -> Iterator[Point]:
    tempo = entry.tempo if entry.tempo is not None else song.tempo
    segue = gap == -1.0 and last is not None
    for form, part in enumerate(entry.form or song.played):
        if form == 0 and not segue:
            moment = Moment.BEFORE if last is None else Moment.GAP
            time_us, unknown = gap, f"the {pause} before has no length"
        else:
            moment, unknown = Moment.FREE, "no bars or no tempo is given"
            time_us = _free_us(last) if last is not None else 0.0
        instrument = song.scenes[part.scene].instrument or song.instrument
        last = Point(
            number, form, entry.song, song, part, tempo, instrument, form == 0 and not segue, moment, time_us, unknown
        )
        yield last


def _free_us(point: Point) -> float | None:
    """Return how long the bars at the end of a part leave the hands free; None where bars or tempo are not known."""
    bar = bar_ms(point.tempo, point.song.metre)
    if bar is None or (point.part.bars is None and not point.part.free):
        return None
    return point.part.free * bar * 1000


def instruments(points: Sequence[Point]) -> list[tuple[str, str] | None]:
    """Return for each point the change of instrument that it needs: (from, to), or nothing."""
    changes: list[tuple[str, str] | None] = []
    held: Instrument | None = None
    for point in points:
        now = point.instrument
        changes.append((str(held) if held else "", str(now)) if now is not None and now != held else None)
        held = now if now is not None else held
    return changes
