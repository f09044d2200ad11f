"""Standard MIDI Files against their specification and against two readers that are not ours and not mido.

Source: *Standard MIDI Files 1.0* (MMA RP-001, revised February 1996), read as *Standard MIDI-File Format Spec. 1.1,
updated* (1999): its table of variable-length quantities, its two worked examples, its meta events. The readers are
midicsv 1.1 (a program) and music21 (a library).
"""

import csv
import json
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from scenebook.midi import (
    SmfEvent,
    SmfFile,
    SmfTrack,
    cue_point,
    marker,
    smf_bytes,
    smf_from_bytes,
    tempo,
    time_signature,
)
from scenebook.model.messages import bank_select, control_change, note_off, note_on, program_change

HERE = Path(__file__).parent
EXAMPLES: dict[str, Any] = json.loads((HERE / "smf_spec_examples.json").read_text(encoding="utf-8"))


def quantities() -> list[tuple[int, bytes]]:
    with (HERE / "smf_vlq.csv").open(encoding="utf-8", newline="") as file:
        return [(int(row["value_dec"]), bytes.fromhex(row["bytes_hex"])) for row in csv.DictReader(file)]


def test_all_twelve_published_quantities_are_among_those_checked() -> None:
    """The document prints twelve pairs, from 00 to 0FFFFFFF; the others are computed by its rule."""
    assert len(quantities()) == 24
    assert (0x0FFFFFFF, bytes.fromhex("FF FF FF 7F")) in quantities()


@pytest.mark.parametrize(
    ("value", "published"), quantities(), ids=lambda item: str(item) if isinstance(item, int) else ""
)
def test_a_wait_is_written_as_the_published_variable_length_quantity(value: int, published: bytes) -> None:
    """Table "variable-length numbers": through a whole file, as the delta time of its only event, and back."""
    file = SmfFile(96, (SmfTrack("", (SmfEvent(value, program_change(1, 5)),)),))

    data = smf_bytes(file)

    assert data[22:] == published + bytes.fromhex("C0 05 00 FF 2F 00")
    assert smf_from_bytes(data) == file


def event_of(row: list[Any]) -> SmfEvent:
    """Turn a decoded event of the examples (channels 0-15 there) into ours."""
    tick, kind, *fields = row
    if kind == "time_signature":
        return SmfEvent(tick, time_signature(fields[0], fields[1], clocks=fields[2], thirty_seconds=fields[3]))
    if kind == "set_tempo":
        return SmfEvent(tick, tempo(fields[0]))
    make = {"program_change": program_change, "note_on": note_on, "note_off": note_off}[kind]
    return SmfEvent(tick, make(fields[0] + 1, *fields[1:]))


def track_of(rows: list[list[Any]]) -> SmfTrack:
    *events, end = rows
    assert end[1] == "end_of_track"
    last = events[-1][0]
    return SmfTrack("", tuple(map(event_of, events)), None if end[0] == last else end[0])


def example_files() -> dict[str, SmfFile]:
    single, several = EXAMPLES["format0"], EXAMPLES["format1"]
    return {
        "format0": SmfFile(single["division"], (track_of(single["events"]),), format=0),
        "format1": SmfFile(several["division"], tuple(map(track_of, several["tracks"]))),
    }


@pytest.mark.parametrize(("name", "length"), [("format0", 81), ("format1", 118)])
def test_the_worked_examples_are_written_byte_for_byte(name: str, length: int) -> None:
    """The two examples after the meta events: the same events give the printed bytes, running status included."""
    printed = bytes.fromhex(EXAMPLES[name]["hex"])

    assert len(printed) == length
    assert smf_bytes(example_files()[name]) == printed


@pytest.mark.parametrize("name", ["format0", "format1"])
def test_the_worked_examples_are_read_as_the_printed_events(name: str) -> None:
    """The other way round: from the printed bytes to the events that the document lists."""
    assert smf_from_bytes(bytes.fromhex(EXAMPLES[name]["hex"])) == example_files()[name]


@pytest.mark.parametrize(
    ("event", "published"),
    [
        (tempo(500_000), "FF 51 03 07 A1 20"),  # 120 a minute, printed
        (tempo(1_000_000), "FF 51 03 0F 42 40"),  # 60, computed
        (tempo(600_000), "FF 51 03 09 27 C0"),  # 100
        (tempo(545_455), "FF 51 03 08 52 AF"),  # 110
        (time_signature(4, 4), "FF 58 04 04 02 18 08"),  # printed
        (time_signature(6, 8, clocks=36), "FF 58 04 06 03 24 08"),  # the document's 6/8
        (marker("A"), "FF 06 01 41"),
        (cue_point("A"), "FF 07 01 41"),
        (bytes.fromhex("F0 43 12 00 07 F7"), "F0 05 43 12 00 07 F7"),  # the document's exclusive message
    ],
)
def test_events_have_their_published_form(event: Any, published: str) -> None:
    """Meta events and exclusive messages, each as the document prints it or its rule gives it."""
    data = smf_bytes(SmfFile(96, (SmfTrack("", (SmfEvent(0, event),)),)))

    assert data[22:] == b"\0" + bytes.fromhex(published) + bytes.fromhex("00 FF 2F 00")


def test_running_status_in_a_file_ends_at_meta_and_exclusive_events() -> None:
    """Under "MTrk events": they cancel it, and the first event of a track has its status."""
    same, apart = control_change(1, 80, 127), (marker("A"), bytes.fromhex("F0 7D F7"))
    for between in apart:
        events = tuple(SmfEvent(0, data) for data in (same, same, between, same))
        data = smf_bytes(SmfFile(96, (SmfTrack("", events),)))
        assert data.count(0xB0) == 2


CUES = SmfFile(
    480,
    (
        SmfTrack(
            "gig",
            (
                SmfEvent(0, tempo(500_000)),
                SmfEvent(0, time_signature(4, 4)),
                SmfEvent(0, marker("1 Harbour: verse")),
                SmfEvent(1_920, marker("2 Größe: Solo")),
                SmfEvent(1_920, cue_point("cue 2")),
            ),
        ),
        SmfTrack(
            "channel 1",
            (
                *(SmfEvent(0, message) for message in bank_select(1, msb=1, lsb=2)),
                SmfEvent(0, program_change(1, 33)),
                SmfEvent(0, control_change(1, 80, 0)),
                SmfEvent(1_900, bytes.fromhex("F0 7D 01 F7")),
                SmfEvent(1_920, program_change(1, 34)),
                SmfEvent(1_920, control_change(1, 80, 127)),
            ),
        ),
        SmfTrack("channel 16", (SmfEvent(1_919, program_change(16, 127)), SmfEvent(1_919, control_change(16, 7, 100)))),
    ),
)


def test_midicsv_reads_our_file_with_every_program_time_and_marker(
    needs: Callable[[str], None], tmp_path: Path
) -> None:
    """The reader is midicsv 1.1, a program of its own: channels and programs from 0, ticks from the start."""
    needs("midicsv")
    path = tmp_path / "gig.mid"
    path.write_bytes(smf_bytes(CUES))

    printed = subprocess.run(["midicsv", path], capture_output=True, check=True).stdout

    rows = [[field.strip() for field in line.split(", ")] for line in printed.decode("latin-1").splitlines()]
    channel_rows = [row[1:] for row in rows if row[2] in ("Program_c", "Control_c")]
    assert rows[0] == ["0", "0", "Header", "1", "3", "480"]
    assert channel_rows == [
        ["0", "Control_c", "0", "0", "1"],
        ["0", "Control_c", "0", "32", "2"],
        ["0", "Program_c", "0", "33"],
        ["0", "Control_c", "0", "80", "0"],
        ["1920", "Program_c", "0", "34"],
        ["1920", "Control_c", "0", "80", "127"],
        ["1919", "Program_c", "15", "127"],
        ["1919", "Control_c", "15", "7", "100"],
    ]
    assert [row[1:3] for row in rows if row[2] in ("Marker_t", "Cue_point_t")] == [
        ["0", "Marker_t"],
        ["1920", "Marker_t"],
        ["1920", "Cue_point_t"],
    ]
    assert ["1", "0", "Marker_t", '"1 Harbour: verse"'] in rows
    assert ["1", "0", "Tempo", "500000"] in rows
    assert ["2", "1900", "System_exclusive", "3", "125", "1", "247"] in rows


def test_midicsv_and_back_gives_our_own_bytes(needs: Callable[[str], None], tmp_path: Path) -> None:
    """From what midicsv printed, csvmidi writes the same file: nothing of ours was passed over or misread."""
    needs("midicsv")
    path, again = tmp_path / "gig.mid", tmp_path / "again.mid"
    path.write_bytes(smf_bytes(CUES))

    printed = subprocess.run(["midicsv", path], capture_output=True, check=True).stdout
    subprocess.run(["csvmidi", "-", again], input=printed, check=True)

    assert again.read_bytes() == path.read_bytes()


def test_music21_reads_our_file_with_every_program_time_and_marker(tmp_path: Path) -> None:
    """The reader is music21, a library of its own: channels from 1, delta times as events of their own."""
    from music21 import midi

    path = tmp_path / "gig.mid"
    path.write_bytes(smf_bytes(CUES))

    file = midi.MidiFile()
    file.open(str(path))
    file.read()
    file.close()

    assert (file.format, file.ticksPerQuarterNote, len(file.tracks)) == (1, 480, 3)
    assert [found(track) for track in file.tracks] == [
        [
            ("SET_TEMPO", 0, b"\x07\xa1\x20"),
            ("MARKER", 0, b"1 Harbour: verse"),
            ("MARKER", 1_920, "2 Größe: Solo".encode()),
            ("CUE_POINT", 1_920, b"cue 2"),
        ],
        [("PROGRAM_CHANGE", 0, 1, 33), ("PROGRAM_CHANGE", 1_920, 1, 34)],
        [("PROGRAM_CHANGE", 1_919, 16, 127)],
    ]


def found(track: Any) -> list[tuple[Any, ...]]:
    """Return programs, tempos, markers and cue points of a music21 track with their ticks."""
    seen: list[tuple[Any, ...]] = []
    now = 0
    for event in track.events:
        if event.isDeltaTime():
            now += event.time
        elif event.type.name == "PROGRAM_CHANGE":
            seen.append((event.type.name, now, event.channel, event.data))
        elif event.type.name in ("MARKER", "CUE_POINT", "SET_TEMPO"):
            seen.append((event.type.name, now, event.data))
    return seen
