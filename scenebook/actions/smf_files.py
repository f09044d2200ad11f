"""Turn timelines into Standard MIDI Files (format 1): bars in the first track, then one track a channel."""

from collections.abc import Iterable, Iterator

from scenebook.cueing.timeline import DIVISION, Timeline, Track
from scenebook.midi.smf import (
    LONGEST_DELTA,
    SmfEvent,
    SmfFile,
    SmfMeta,
    SmfTrack,
    cue_point,
    marker,
    smf_bytes,
    tempo,
    text,
    time_signature,
)

__all__ = ["smf_of", "timeline_bytes"]


def timeline_bytes(timeline: Timeline) -> bytes:
    """Return one timeline as the bytes of a Standard MIDI File."""
    return smf_bytes(smf_of(timeline))


def smf_of(timeline: Timeline) -> SmfFile:
    """Return one timeline as a file: metre, tempo, markers and cue points, then a track for each channel."""
    name = timeline.song or timeline.gig
    first = SmfTrack(f"{name}, {timeline.port}", _events(_bars(timeline), timeline.end), timeline.end)
    tracks = (_track(track, timeline.end) for track in timeline.tracks)
    return SmfFile(DIVISION, (first, *tracks))


def _bars(timeline: Timeline) -> Iterator[SmfEvent]:
    for metre in timeline.metres:
        yield SmfEvent(metre.tick, time_signature(metre.beats, metre.note, clocks=metre.clocks))
    yield from (SmfEvent(each.tick, tempo(each.us_per_quarter)) for each in timeline.tempos)
    yield from (SmfEvent(mark.tick, marker(mark.words)) for mark in timeline.markers)
    yield from (SmfEvent(mark.tick, cue_point(mark.words)) for mark in timeline.cue_points)


def _track(track: Track, end: int) -> SmfTrack:
    return SmfTrack(track.name, _events((SmfEvent(sent.tick, sent.data) for sent in track.sent), end), end)


def _events(events: Iterable[SmfEvent], end: int) -> tuple[SmfEvent, ...]:
    """Return events by tick; a pause longer than a file can write is broken by an empty text."""
    placed: list[SmfEvent] = []
    empty: SmfMeta = text("")
    for event in (*sorted(events, key=lambda event: event.tick), SmfEvent(end, empty)):
        last = placed[-1].tick if placed else 0
        placed += (SmfEvent(tick, empty) for tick in range(last + LONGEST_DELTA, event.tick, LONGEST_DELTA))
        placed.append(event)
    return tuple(placed[:-1])
