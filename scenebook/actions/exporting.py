"""Make the Standard MIDI Files of a compiled gig: one a port for the evening, and one a song and port."""

from collections.abc import Iterator

from scenebook.actions.files import file_name
from scenebook.cueing.cues import CueList
from scenebook.cueing.timeline import DIVISION, Timeline, gig_timelines, song_timelines
from scenebook.midi import (
    SmfEvent,
    SmfFile,
    SmfTrack,
    cue_point,
    marker,
    smf_bytes,
    tempo,
    time_signature,
)
from scenebook.model import Library

__all__ = ["midi_files", "smf_file"]


def midi_files(library: Library, lean: CueList, full: CueList) -> dict[str, bytes]:
    """Return the files of a gig by name: "pell-quay-hall-front.mid", then "01-lamp-room-front.mid" and so on.

    Both forms of the gig's list are needed. A rig that hears no messages has no files.

    Raises:
        ValueError: `lean` and `full` are not the two forms of one gig.
    """
    files: dict[str, bytes] = {}
    for timeline in (*gig_timelines(library, lean, full), *song_timelines(library, lean, full)):
        files[_free_name(timeline, files)] = smf_bytes(smf_file(timeline))
    return files


def smf_file(timeline: Timeline) -> SmfFile:
    """Return a timeline as a file of format 1: tempo, metre and markers first, then a track for each channel."""
    tracks = (
        SmfTrack(track.name, tuple(SmfEvent(*sent) for sent in track.sent), timeline.end) for track in timeline.tracks
    )
    name = timeline.song or timeline.gig
    return SmfFile(DIVISION, (SmfTrack(f"{name}, {timeline.port}", tuple(_conductor(timeline)), timeline.end), *tracks))


def _conductor(timeline: Timeline) -> Iterator[SmfEvent]:
    for metre in timeline.metres:
        yield SmfEvent(metre.tick, time_signature(metre.beats, metre.note, clocks=metre.clocks))
    for change in timeline.tempos:
        yield SmfEvent(change.tick, tempo(change.us_per_quarter))
    for mark in timeline.cue_points:
        yield SmfEvent(mark.tick, cue_point(mark.words))
    for mark in timeline.markers:
        yield SmfEvent(mark.tick, marker(mark.words))


def _free_name(timeline: Timeline, taken: dict[str, bytes]) -> str:
    """Return a name that no other file of the gig has, for two ports may differ by a comma alone."""
    words = [f"{timeline.number:02}", timeline.song] if timeline.song else [timeline.gig]
    base = file_name(*words, timeline.port)
    name, count = f"{base}.mid", 1
    while name in taken:
        count += 1
        name = f"{base}-{count}.mid"
    return name
