"""Timelines as Standard MIDI Files."""

from dataclasses import replace
from itertools import pairwise

from scenebook.actions.smf_files import smf_of, timeline_bytes
from scenebook.cueing.timeline import Mark, Metre, Sent, TempoFrom, Timeline, Track
from scenebook.midi import smf_from_bytes
from scenebook.midi.smf import LONGEST_DELTA, SmfMeta

LINE = Timeline(
    gig="gig",
    song="Träume",
    number=1,
    port="main",
    tempos=(TempoFrom(0, 500_000),),
    metres=(Metre(0, 6, 8, 36),),
    markers=(Mark(0, "home"), Mark(38_400, "Träume: verse")),
    cue_points=(Mark(38_400, "1 Träume"),),
    tracks=(
        Track("channel 1: multi", 1, (Sent(38_000, b"\xc0\x05"), Sent(38_010, b"\xb0\x46\x7f"))),
        Track("no channel: clock", None, (Sent(38_400, b"\xf0\x7d\x01\xf7"),)),
    ),
    end=76_800,
)


def test_a_file_holds_bars_and_a_track_for_each_channel() -> None:
    """What another program shows: names, markers at scenes, one track a channel."""
    file = smf_from_bytes(timeline_bytes(LINE))

    assert (file.format, file.division) == (1, 9_600)
    assert [track.name for track in file.tracks] == ["Träume, main", "channel 1: multi", "no channel: clock"]
    assert {track.end for track in file.tracks} == {76_800}
    texts = [(event.tick, event.data.text) for event in file.tracks[0].events if isinstance(event.data, SmfMeta)]
    assert [each for each in texts if each[1]][-3:] == [(0, "home"), (38_400, "Träume: verse"), (38_400, "1 Träume")]
    sent = [(event.tick, event.data) for track in file.tracks[1:] for event in track.events]
    assert [each for each in sent if isinstance(each[1], bytes)] == [
        (38_000, b"\xc0\x05"),
        (38_010, b"\xb0\x46\x7f"),
        (38_400, b"\xf0\x7d\x01\xf7"),
    ]


def test_a_silence_longer_than_a_file_can_count_is_broken_by_an_empty_text() -> None:
    """A channel that is used at home and then not for three quick hours is still a file."""
    late = LONGEST_DELTA * 2 + 5
    track = Track("channel 1: multi", 1, (Sent(0, b"\xc0\x05"), Sent(late, b"\xc0\x06")))
    line = replace(LINE, tracks=(track,), end=late + LONGEST_DELTA + 1)

    events = smf_of(line).tracks[1].events
    read = smf_from_bytes(timeline_bytes(line))

    assert max(b.tick - a.tick for a, b in pairwise(events)) <= LONGEST_DELTA
    assert [event.tick for event in read.tracks[1].events if isinstance(event.data, bytes)] == [0, late]
    assert read.tracks[1].end == line.end
