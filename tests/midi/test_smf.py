"""Standard MIDI Files are written from plain values, the same bytes each time, and read back to the same values."""

import io
from collections.abc import Callable
from pathlib import Path

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenebook.errors import FormatError
from scenebook.midi import (
    SmfEvent,
    SmfFile,
    SmfMeta,
    SmfTrack,
    cue_point,
    marker,
    read_smf,
    smf_bytes,
    smf_from_bytes,
    tempo,
    text,
    time_signature,
    track_name,
)
from scenebook.midi.smf import LONGEST_DELTA
from scenebook.model.messages import control_change, program_change

ONE_TRACK = SmfFile(480, (SmfTrack("cues", (SmfEvent(0, program_change(1, 5)),)),))

messages = st.one_of(
    st.builds(control_change, st.integers(1, 16), st.integers(0, 127), st.integers(0, 127)),
    st.builds(program_change, st.integers(1, 16), st.integers(0, 127)),
    st.sampled_from(
        list(map(bytes.fromhex, ["90 3C 7F", "A0 3C 01", "D3 07", "E0 00 40", "F0 7D 01 F7", "F0 F7", "F3 05", "FA"]))
    ),
)
metas = st.one_of(
    st.builds(tempo, st.integers(1, 0xFF_FFFF)),
    st.builds(time_signature, st.integers(1, 255), st.sampled_from([1, 2, 4, 8, 16])),
    st.builds(marker, st.text(max_size=8)),
    st.builds(cue_point, st.text(max_size=8)),
    st.builds(text, st.text(max_size=8)),
    st.builds(SmfMeta, st.integers(0x60, 0x7E), st.binary(max_size=4)),
)
events = st.builds(SmfEvent, st.integers(0, 100_000), messages | metas)


@st.composite
def tracks(draw: st.DrawFn) -> SmfTrack:
    inside = sorted(draw(st.lists(events, max_size=12)), key=lambda event: event.tick)
    last = inside[-1].tick if inside else 0
    after = draw(st.none() | st.integers(1, 1000))
    return SmfTrack(draw(st.text(max_size=10)), tuple(inside), None if after is None else last + after)


files = st.builds(SmfFile, st.integers(1, 0x7FFF), st.lists(tracks(), max_size=3).map(tuple))


@given(files)
def test_a_file_reads_back_as_the_same_values(file: SmfFile) -> None:
    """Order within a tick, any script in a name, exclusive messages and triggers: nothing is lost on the way."""
    assert smf_from_bytes(smf_bytes(file)) == file


@given(files)
def test_the_same_values_give_the_same_bytes(file: SmfFile) -> None:
    """An export that did not change is not a change to whoever keeps it under version control."""
    assert smf_bytes(file) == smf_bytes(file)


@given(files)
def test_an_independent_reader_finds_the_same_messages_at_the_same_ticks(file: SmfFile) -> None:
    """Mido's own reader agrees on all that it reads rightly."""
    plain = SmfFile(file.division, tuple(SmfTrack(t.name, plain_events(t), t.end) for t in file.tracks))

    read = mido.MidiFile(file=io.BytesIO(smf_bytes(plain)))

    assert read.ticks_per_beat == file.division
    assert [mido_messages(track) for track in read.tracks] == [
        [(event.tick, event.data) for event in track.events if isinstance(event.data, bytes)] for track in plain.tracks
    ]


def plain_events(track: SmfTrack) -> tuple[SmfEvent, ...]:
    """Leave out what mido 1.3 misreads: triggers behind F7, and meta events of unknown kinds, whose delta it drops."""
    return tuple(
        event
        for event in track.events
        if (event.data.kind < 0x60 if isinstance(event.data, SmfMeta) else event.data[0] <= 0xF0)
    )


def mido_messages(track: "mido.MidiTrack") -> list[tuple[int, bytes]]:
    found, now = [], 0
    for message in track:
        now += message.time
        if not message.is_meta:
            found.append((now, bytes(message.bin())))
    return found


def test_a_file_is_these_bytes() -> None:
    """Each event as the document lays it out, so that it can be checked line by line."""
    file = SmfFile(
        480,
        (
            SmfTrack(
                "Größe",
                (
                    SmfEvent(0, tempo(500_000)),
                    SmfEvent(0, time_signature(6, 8, clocks=36)),
                    SmfEvent(480, control_change(1, 0, 1)),
                    SmfEvent(480, control_change(1, 32, 2)),
                    SmfEvent(480, program_change(1, 5)),
                    SmfEvent(481, b"\xf3\x05"),
                    SmfEvent(481, bytes.fromhex("F0 7D 01 F7")),
                    SmfEvent(481, cue_point("é")),
                ),
                end=960,
            ),
        ),
    )

    assert smf_bytes(file) == bytes.fromhex(
        "4D 54 68 64 00 00 00 06 00 01 00 01 01 E0"  # MThd, 6 bytes, format 1, one track, 480 ticks
        "4D 54 72 6B 00 00 00 3B"  # MTrk, 59 bytes
        "00 FF 03 07 47 72 C3 B6 C3 9F 65"  # the name, in UTF-8
        "00 FF 51 03 07 A1 20"  # 500,000 µs
        "00 FF 58 04 06 03 24 08"  # 6/8, 36 clocks a click, 8 thirty-seconds a quarter
        "83 60 B0 00 01"  # after 480 ticks: Bank Select MSB
        "00 20 02"  # LSB, by running status
        "00 C0 05"  # then the program
        "01 F7 02 F3 05"  # one tick later: song select, behind F7
        "00 F0 03 7D 01 F7"  # exclusive
        "00 FF 07 02 C3 A9"  # cue point
        "83 5F FF 2F 00"  # the end, 479 ticks later
    )


def test_events_are_written_by_tick_and_keep_their_order_within_one() -> None:
    """Bank Select before its program change, even if all three share a tick."""
    late, first, second = SmfEvent(9, b"\xc0\x01"), SmfEvent(3, b"\xb0\x20\x00"), SmfEvent(3, b"\xb0\x00\x01")

    read = smf_from_bytes(smf_bytes(SmfFile(96, (SmfTrack("", (late, first, second)),))))

    assert read.tracks[0].events == (first, second, late)


def test_a_text_of_another_program_in_latin_1_is_still_read() -> None:
    """Older files are not in UTF-8; their names should not become an error."""
    assert marker("é").text == SmfMeta(0x06, b"\xe9").text == "é"
    assert tempo(500_000).text == ""


def test_a_name_that_would_be_written_differently_stays_an_event() -> None:
    """Reading and writing a foreign file gives back its own bytes."""
    names = [SmfMeta(0x03, b"\xe9"), SmfMeta(0x03, b"")]
    for name in names:
        file = SmfFile(96, (SmfTrack("", (SmfEvent(0, name),)),))
        assert smf_from_bytes(smf_bytes(file)) == file
    assert smf_from_bytes(smf_bytes(SmfFile(96, (SmfTrack("", (SmfEvent(0, track_name("a")),)),)))).tracks == (
        SmfTrack("a", ()),
    )


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: tempo(0), "tempo: found 0 µs per quarter; 1 to 16777215 is accepted"),
        (lambda: tempo(1 << 24), "tempo: found 16777216"),
        (lambda: time_signature(6, 7), "time signature: found a 1/7 note"),
        (lambda: time_signature(0, 4), "time signature: found 0 for beats; 1 to 255 is accepted"),
        (lambda: time_signature(4, 4, clocks=256), "time signature: found 256 for clocks"),
        (lambda: SmfMeta(0x80, b""), "meta event: found kind 128"),
        (lambda: SmfMeta(0x2F, b""), "meta event: found kind 47"),
        (lambda: SmfEvent(-1, b"\xc0\x05"), "event: found tick -1; 0 or later is accepted"),
        (lambda: SmfEvent(0, b""), "event: found no bytes; one whole MIDI message is accepted"),
        (lambda: SmfEvent(0, b"\xb0\x05"), "event: found B0 05; one whole"),
        (lambda: SmfEvent(0, b"\xc0\x05\xc0\x06"), "event: found C0 05 C0 06; one whole"),
        (lambda: SmfTrack("a", (SmfEvent(9, b"\xc0\x05"),), end=8), "found its end at tick 8, its last event at 9"),
        (lambda: SmfFile(0, ()), "division: found 0 ticks in a quarter note; 1 to 32767 is accepted"),
        (lambda: SmfFile(0x8000, ()), "division: found 32768"),
        (lambda: SmfFile(96, (), format=2), "format: found 2 with 0 tracks"),
        (lambda: SmfFile(96, (), format=0), "format: found 0 with 0 tracks"),
        (
            lambda: smf_bytes(SmfFile(96, (SmfTrack("", (SmfEvent(LONGEST_DELTA + 1, b"\xf6"),)),))),
            "event: found 268435456 ticks after the one before; up to 268435455 is accepted",
        ),
    ],
)
def test_what_no_file_can_hold_is_refused_with_its_field(make: Callable[[], object], said: str) -> None:
    """A number out of range would come out as another one."""
    with pytest.raises(ValueError, match=said):
        make()


def test_a_file_is_read_under_any_name(tmp_path: Path) -> None:
    """Songs have names with spaces and accents, and so have their files."""
    path = tmp_path / "Größe, 2nd set.mid"

    path.write_bytes(smf_bytes(ONE_TRACK))

    assert read_smf(path) == ONE_TRACK


HEADER = "4D 54 68 64 00 00 00 06 00 01 00 01 00 60"


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ("", "it does not begin as a Standard MIDI File does; accepted: MThd"),
        ("4D 54 72 6B 00 00 00 00", "it does not begin as a Standard MIDI File does"),
        ("4D 54 68 64 00 00 00 02 00 01", "it does not begin as a Standard MIDI File does"),
        ("4D 54 68 64 00 00 00 06 00 02 00 00 00 60", "format: found 2 with 0 tracks"),
        ("4D 54 68 64 00 00 00 06 00 01 00 00 E2 50", "division: found 57936 ticks in a quarter note"),
        (f"{HEADER} 4D 54 72 6B 00 00 00 09 00", "it ends in the middle of a chunk; accepted: 9 bytes after byte 22"),
        (f"{HEADER} 4D 54 72 6B 00 00 00 00", "a track ends in the middle of an event"),
        (f"{HEADER} 4D 54 72 6B 00 00 00 02 00 C0", "a track ends in the middle of an event"),
        (f"{HEADER} 4D 54 72 6B 00 00 00 04 00 FF 06 05", "a track ends in the middle of an event"),
        (f"{HEADER} 4D 54 72 6B 00 00 00 02 00 05", "found 05 where an event begins, and no running status"),
        (f"{HEADER} 4D 54 72 6B 00 00 00 03 00 F3 05", "found F3 where an event begins"),
        (f"{HEADER} 4D 54 72 6B 00 00 00 03 00 C0 85", "event: found C0 85; one whole MIDI message is accepted"),
        (f"{HEADER} 4D 54 72 6B 00 00 00 05 80 80 80 80 00", "a variable-length quantity of more than four bytes"),
        (f"{HEADER} 4D 54 72 6B 00 00 00 04 00 F0 01 7D", "an exclusive message in several packets"),
    ],
)
def test_what_is_no_midi_file_is_named_with_the_file(tmp_path: Path, data: str, said: str) -> None:
    """The wrong file by mistake gets one sentence that says which, and why."""
    path = tmp_path / "wrong.mid"
    path.write_bytes(bytes.fromhex(data))

    with pytest.raises(FormatError) as caught:
        read_smf(path)

    assert said in str(caught.value)
    assert str(caught.value).startswith(f"{path}: ")


@given(st.binary(max_size=60))
def test_any_bytes_after_the_header_are_read_or_refused(body: bytes) -> None:
    """A damaged file is an error of ours, never a crash."""
    data = bytes.fromhex(HEADER) + b"MTrk" + len(body).to_bytes(4, "big") + body
    try:
        file = smf_from_bytes(data)
    except FormatError:
        return
    assert smf_from_bytes(smf_bytes(file)) == file


def test_a_file_that_is_not_there_or_is_far_too_large_is_named(tmp_path: Path) -> None:
    """A film by mistake is not read into memory first."""
    with pytest.raises(FormatError, match="the file cannot be read: No such file or directory"):
        read_smf(tmp_path / "missing.mid")
    large = tmp_path / "film.mid"
    with large.open("wb") as out:
        out.truncate(50_000_001)

    with pytest.raises(FormatError, match="the file is far larger than any gig; accepted: up to 50 MB"):
        read_smf(large)


def test_chunks_of_other_kinds_and_a_longer_header_are_passed_over() -> None:
    """The document asks for it, so that files of later kinds can be read."""
    whole = smf_bytes(ONE_TRACK)
    header, track = whole[8:14], whole[14:]
    longer = b"MThd" + (8).to_bytes(4, "big") + header + b"\0\0"
    unknown = b"XFIH" + (3).to_bytes(4, "big") + b"abc"

    assert smf_from_bytes(longer + unknown + track + unknown) == ONE_TRACK
