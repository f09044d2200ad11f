"""Pitches in Hz, note values in ms, and values as steps of 0-127, against what is published.

Sources. Pitch: ISO 16:1975 (A above middle C is 440 Hz), equal temperament f = 440 × 2^((n - 69)/12), and the musical
scales table of the *CRC Handbook of Chemistry and Physics*; pitch.csv holds the scale by that formula, note numbers by
the MIDI 1.0 specification (middle C is 60). Time: 60,000 / tempo ms for a quarter note, dotted 3/2 of it, triplet 2/3,
as every table of delay times has it; delay_times.csv. Tempo in a file: *Standard MIDI Files 1.0*, µs in a quarter note.
Rounding: half up, as Python's `decimal` defines it.
"""

import csv
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.timeline import gig_timelines
from scenebook.model.protocol import CLOCKS_PER_QUARTER
from scenebook.model.values import Scale, midi_number, note_hz, note_ms, read_value, step_of
from tests.support import build

HERE = Path(__file__).parent
HALF_A_LAST_DIGIT = 0.0005 + 1e-9

NOTE_VALUES = {
    "whole_ms": "1/1",
    "half_ms": "1/2",
    "quarter_ms": "1/4",
    "dotted_quarter_ms": "1/4.",
    "quarter_triplet_ms": "1/4t",
    "eighth_ms": "1/8",
    "dotted_eighth_ms": "1/8.",
    "eighth_triplet_ms": "1/8t",
    "sixteenth_ms": "1/16",
}


def rows(name: str) -> list[dict[str, str]]:
    with (HERE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("row", rows("pitch.csv"), ids=lambda row: str(row["name_c4_is_60"]))
def test_a_pitch_has_its_number_and_its_hertz(row: dict[str, str]) -> None:
    """pitch.csv, to the last digit printed there."""
    name, hz = row["name_c4_is_60"], float(row["hz"])

    assert midi_number(name) == int(row["midi_note"])
    assert note_hz(name) == pytest.approx(hz, abs=HALF_A_LAST_DIGIT)
    assert read_value(name, Scale.PITCH) == read_value(name, Scale.HERTZ) == note_hz(name)


@pytest.mark.parametrize(
    ("pitch", "printed", "digits"),
    [("D2", 73.416, 3), ("E2", 82.407, 3), ("C4", 261.63, 2), ("A4", 440.000, 3)],
)
def test_pitches_are_as_the_handbook_prints_them(pitch: str, printed: float, digits: int) -> None:
    """*CRC Handbook*, musical scales, equal tempered: rounded as it rounds."""
    assert round(note_hz(pitch), digits) == printed


@pytest.mark.parametrize(
    ("flat", "sharp"), [("Bb2", "A#2"), ("Eb3", "D#3"), ("G♭4", "F♯4"), ("Cb4", "B3"), ("B#3", "C4")]
)
def test_in_equal_temperament_a_flat_is_the_sharp_below(flat: str, sharp: str) -> None:
    """Twelve equal steps: two names, one key."""
    assert note_hz(flat) == note_hz(sharp)


def test_another_tuning_moves_every_pitch_alike() -> None:
    """The formula with the orchestra's 442 or an old 415 in place of 440."""
    for tuning in (415.0, 442.0):
        for row in rows("pitch.csv"):
            hz = note_hz(row["name_c4_is_60"], tuning)
            assert hz / note_hz(row["name_c4_is_60"]) == pytest.approx(tuning / 440)


@pytest.mark.parametrize("row", rows("delay_times.csv"), ids=lambda row: str(row["bpm"]))
def test_note_values_last_as_long_as_the_tables_say(row: dict[str, str]) -> None:
    """delay_times.csv, nine tempos by nine note values, and the interval of the timing clock."""
    bpm = float(row["bpm"])

    found = {column: note_ms(value, bpm) for column, value in NOTE_VALUES.items()}
    assert found == pytest.approx({column: float(row[column]) for column in NOTE_VALUES}, abs=HALF_A_LAST_DIGIT)
    clock = note_ms("1/4", bpm) / CLOCKS_PER_QUARTER
    assert clock == pytest.approx(float(row["midi_clock_interval_ms"]), abs=HALF_A_LAST_DIGIT)


@pytest.mark.parametrize(("value", "tempo", "ms"), [("1/8.", 120, 375), ("1/8", 100, 300), ("1/8", 142, 211.268)])
def test_well_known_delay_times(value: str, tempo: float, ms: float) -> None:
    """The three that every player knows or looks up, on the scale of a delay's time."""
    assert read_value(value, Scale.MILLISECONDS, tempo=tempo) == pytest.approx(ms, abs=HALF_A_LAST_DIGIT)


@pytest.mark.parametrize("row", rows("delay_times.csv"), ids=lambda row: str(row["bpm"]))
def test_a_songs_tempo_is_written_into_its_file_in_whole_microseconds(row: dict[str, str]) -> None:
    """delay_times.csv, µs in a quarter note: 110 a minute is 545,455."""
    units = {"drive": build.unit(switches={"main": {"message": {"controller": 80}}})}
    rig = build.rig("drive", units={"drive": {"port": "out", "channel": 1}})
    library = build.library(units, rig, build.song({"loud": {"drive": "on"}}, "loud", tempo=float(row["bpm"])))

    (timeline,) = gig_timelines(library, compile_gig(library, build.GIG), compile_gig(library, build.GIG, full=True))

    assert [tempo.us_per_quarter for tempo in timeline.tempos] == [int(row["smf_tempo_us_per_quarter"])]


def half_up(value: Fraction) -> int:
    """Return a number rounded by `decimal`, which has the rule by name."""
    return int((Decimal(value.numerator) / Decimal(value.denominator)).quantize(Decimal(1), rounding=ROUND_HALF_UP))


@pytest.mark.parametrize(("low", "high"), [(0, 127), (0, 254), (0, 100), (0, 1270), (20, 1200), (-12, 12), (1500, 60)])
def test_values_become_steps_rounded_half_up(low: int, high: int) -> None:
    """0 to 127 over a control's range, both ends met, also where it falls; on 0-254 every odd value is a half."""
    span = high - low
    values = [low + Fraction(span * tenth, 1270) for tenth in range(1271)] + [
        Fraction(value) for value in range(min(low, high), max(low, high) + 1)
    ]

    assert [step_of(float(value), low, high) for value in values] == [
        half_up((value - low) / span * 127) for value in values
    ]
    assert (step_of(low, low, high), step_of(high, low, high)) == (0, 127)
    assert step_of(max(low, high) + 1, low, high) is step_of(min(low, high) - 1, low, high) is None


def test_a_dotted_eighth_is_sent_as_the_step_of_its_milliseconds() -> None:
    """At 120 it is 375 ms (delay_times.csv); of 0 to 1,270 ms in 127 steps that is 37.5, so 38."""
    control = {"scale": "ms", "message": {"controller": 16, "range": ["0 ms", "1270 ms"]}}
    units = {"delay": build.unit(controls={"time": control})}
    rig = build.rig("delay", units={"delay": {"port": "out", "channel": 1}})
    library = build.library(units, rig, build.song({"echo": {"delay": {"time": "1/8."}}}, "echo", tempo=120))

    cues = compile_gig(library, build.GIG).cues

    assert [message.data for message in cues[1].messages] == [bytes([0xB0, 16, 38])]
