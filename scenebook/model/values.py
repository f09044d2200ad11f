"""Values as players write them, and what they compute to.

A value keeps the player's own writing ("2 o'clock", "1/8.", "E1", "-3 dB"); this file reads it on the scale of its
control. Pure: the song's tempo and the library's tuning are given.
"""

import math
import re
from enum import StrEnum
from functools import lru_cache

from scenebook.errors import BadValueError
from scenebook.model.amounts import rounded
from scenebook.model.protocol import DATA

__all__ = [
    "CONCERT_A",
    "TIMES",
    "Scale",
    "carried_over",
    "midi_number",
    "note_hz",
    "note_ms",
    "read_tolerance",
    "read_value",
    "step_of",
    "uses_tempo",
]

CONCERT_A = 440.0  # Hz, A above middle C: ISO 16:1975
_CLOCK_FIRST, _CLOCK_HOURS = 7.0, 10.0  # a knob travels from 7 o'clock through 12 to 5 o'clock (common practice)
_HALF_HOUR = 0.5 / _CLOCK_HOURS
_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}

_NUMBER = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*([a-z%]*)", re.IGNORECASE)
_CLOCK = re.compile(r"(\d{1,2})(?::([0-5]\d))?(?:\s*o['’]?\s?clock)?", re.IGNORECASE)
_NOTE_VALUE = re.compile(r"(\d+)/(\d+)\s*(\.|t|dotted|triplet)?", re.IGNORECASE)
_PITCH = re.compile(r"([A-G])([#♯b♭]?)(-?\d)", re.IGNORECASE)


class Scale(StrEnum):
    """How a control's value is written and compared."""

    CLOCK = "clock"
    TEN = "0 to 10"
    PERCENT = "percent"
    DECIBEL = "dB"
    HERTZ = "Hz"
    MILLISECONDS = "ms"
    NOTE_VALUE = "note value"
    PITCH = "pitch"
    CHOICE = "choice"


ACCEPTED = {
    Scale.CLOCK: "a clock position from 7 o'clock to 5 o'clock, such as 2 o'clock or 9:30",
    Scale.TEN: "a number from 0 to 10, such as 6.5",
    Scale.PERCENT: "a percentage from 0 to 100, such as 40 %",
    Scale.DECIBEL: "a level in dB, such as -3 dB",
    Scale.HERTZ: "a frequency such as 440 Hz or 1.2 kHz, or a pitch such as E1",
    Scale.MILLISECONDS: "a time such as 380 ms or 0.4 s, or a note value such as 1/8.",
    Scale.NOTE_VALUE: "a note value such as 1/4, 1/8. or 1/8t, or a time such as 380 ms",
    Scale.PITCH: "a pitch such as E1 or Bb2, or a frequency such as 41.2 Hz",
    Scale.CHOICE: "one of the control's choices",
}
_UNITS: dict[Scale, dict[str, float]] = {
    Scale.TEN: {"": 1.0},
    Scale.PERCENT: {"": 1.0, "%": 1.0},
    Scale.DECIBEL: {"": 1.0, "db": 1.0},
    Scale.HERTZ: {"": 1.0, "hz": 1.0, "khz": 1000.0},
    Scale.PITCH: {"hz": 1.0, "khz": 1000.0},
    Scale.MILLISECONDS: {"": 1.0, "ms": 1.0, "s": 1000.0},
    Scale.NOTE_VALUE: {"ms": 1.0, "s": 1000.0},
}
_LIMITS = {Scale.TEN: (0.0, 10.0), Scale.PERCENT: (0.0, 100.0)}
TIMES = (Scale.MILLISECONDS, Scale.NOTE_VALUE)
_PITCHES = (Scale.HERTZ, Scale.PITCH)


@lru_cache(maxsize=65536)
def read_value(
    text: str,
    scale: Scale,
    *,
    tempo: float | None = None,
    tuning: float = CONCERT_A,
    choices: tuple[str, ...] = (),
) -> float:
    """Return what `text` computes to on `scale`.

    A clock position gives the share of travel (0 to 1), a note value milliseconds at `tempo` (quarter notes a
    minute), a pitch Hz at `tuning`, a choice its index; the others their plain number in their own unit.

    Raises:
        BadValueError: the text is off the scale, or a note value has no tempo.
    """
    clean = text.strip().replace("−", "-")
    if scale is Scale.CHOICE:
        return _choice(clean, choices)
    value = _clock(clean) if scale is Scale.CLOCK else _measured(clean, scale, tempo, tuning)
    if value is None:
        raise BadValueError(f"{text!r} is not on the scale '{scale}'", accepted=ACCEPTED[scale])
    return value


def uses_tempo(text: str) -> bool:
    """Tell whether a value is written as a note value, so that it needs the song's tempo."""
    return _NOTE_VALUE.fullmatch(text.strip()) is not None


def note_ms(text: str, tempo: float) -> float:
    """Return the milliseconds of a note value ("1/8.") at `tempo` quarter notes a minute.

    60,000 / tempo for a quarter; dotted times 1.5, triplet times 2/3 (common practice).
    """
    found = _NOTE_VALUE.fullmatch(text.strip())
    if found is None or int(found[2]) == 0:
        raise BadValueError(f"{text!r} is not a note value", accepted=ACCEPTED[Scale.NOTE_VALUE])
    mark = (found[3] or "").lower()
    stretch = 1.5 if mark in (".", "dotted") else 2 / 3 if mark else 1.0
    return 4 * 60_000 / tempo * int(found[1]) / int(found[2]) * stretch


def midi_number(text: str) -> int:
    """Return the MIDI note number of a pitch; middle C (C4) is 60, as in the CRC Handbook's table."""
    found = _PITCH.fullmatch(text.strip())
    if found is None:
        raise BadValueError(f"{text!r} is not a pitch", accepted=ACCEPTED[Scale.PITCH])
    shift = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}[found[2].lower()]
    return 12 * (int(found[3]) + 1) + _SEMITONES[found[1].upper()] + shift


def note_hz(text: str, tuning: float = CONCERT_A) -> float:
    """Return a pitch in Hz by equal temperament, f = tuning x 2^((n - 69)/12), A4 = 440 Hz by ISO 16."""
    return float(tuning * 2.0 ** ((midi_number(text) - 69) / 12))


def step_of(value: float, low: float, high: float) -> int | None:
    """Return the 0-127 step that `value` maps to when `low` is 0 and `high` is 127, rounded half up (S10).

    Nothing where the value lies outside the range.
    """
    if not min(low, high) - 1e-9 <= value <= max(low, high) + 1e-9:
        return None
    return min(DATA[-1], max(0, math.floor((value - low) / (high - low) * DATA[-1] + 0.5 + 1e-9)))


def read_tolerance(text: str | None, scale: Scale, low: float | None, high: float | None) -> float:
    """Return how far a knob may stand from what is asked, in the scale's own number.

    Half an hour of the clock unless given; on other scales a twentieth of the range, and nothing (0) where no
    range is known. A clock tolerance is written as "20 min", the others as a value of the scale.
    """
    if text is None:
        if scale is Scale.CLOCK:
            return _HALF_HOUR
        low, high = _LIMITS.get(scale, (low, high))
        return 0.0 if low is None or high is None else abs(high - low) / 20
    found = _NUMBER.fullmatch(text.strip())
    if scale is Scale.CLOCK:
        if found and found[2].lower() == "min":
            return _decimal(found[1]) / 60 / _CLOCK_HOURS
        raise BadValueError(f"{text!r} is not a tolerance on the clock", accepted="minutes, such as 20 min")
    if found and found[2].lower() in _UNITS.get(scale, {}):
        return abs(_decimal(found[1]) * _UNITS[scale][found[2].lower()])
    raise BadValueError(f"{text!r} is not a tolerance on the scale '{scale}'", accepted=ACCEPTED[scale])


def _decimal(text: str) -> float:
    return float(text.replace(",", "."))


def _choice(text: str, choices: tuple[str, ...]) -> float:
    for index, choice in enumerate(choices):
        if choice.casefold() == text.casefold():
            return float(index)
    raise BadValueError(f"{text!r} is not one of the choices", accepted=", ".join(choices) or "nothing yet")


def _clock(text: str) -> float | None:
    found = _CLOCK.fullmatch({"min": "7", "max": "5", "noon": "12"}.get(text.casefold(), text))
    if found is None or not 1 <= int(found[1]) <= 12:
        return None
    hour = int(found[1]) + int(found[2] or 0) / 60
    share = ((hour if hour >= _CLOCK_FIRST else hour + 12) - _CLOCK_FIRST) / _CLOCK_HOURS
    return share if share <= 1 + 1e-9 else None


def _measured(text: str, scale: Scale, tempo: float | None, tuning: float) -> float | None:
    if scale in TIMES and uses_tempo(text):
        if tempo is None:
            raise BadValueError(
                f"{text!r} is a note value, and no tempo is known here",
                remedy="Give the song a tempo; in a preset or at home write the time in ms",
            )
        return note_ms(text, tempo)
    if scale in _PITCHES and _PITCH.fullmatch(text):
        return note_hz(text, tuning)
    found = _NUMBER.fullmatch(text)
    factor = _UNITS[scale].get(found[2].lower()) if found else None
    if found is None or factor is None:
        return None
    value = _decimal(found[1]) * factor
    low, high = _LIMITS.get(scale, (-math.inf, math.inf))
    if scale in TIMES + _PITCHES and value < 0:
        return None
    return value if low <= value <= high else None


_TRAVEL = {Scale.CLOCK: 1.0, Scale.TEN: 10.0, Scale.PERCENT: 100.0}


def carried_over(text: str, old: Scale, new: Scale) -> str | None:
    """Return a value of one scale as it is written on another, or nothing where that cannot be said.

    The same scale keeps the writing, and so do two that measure the same: times in ms or note values, pitches in Hz or
    by name. Clock, 0 to 10 and percent carry over by their share of travel.
    """
    if old is new or (old in TIMES and new in TIMES) or (old in _PITCHES and new in _PITCHES):
        return text
    if old not in _TRAVEL or new not in _TRAVEL:
        return None
    share = read_value(text, old) / _TRAVEL[old]
    if new is not Scale.CLOCK:
        return f"{float(rounded(share * _TRAVEL[new], 1)):g}{' %' if new is Scale.PERCENT else ''}"
    minutes = int(rounded((_CLOCK_FIRST + share * _CLOCK_HOURS) * 12)) * 5  # to five minutes: a hand sets no finer
    return f"{(minutes // 60 - 1) % 12 + 1}:{minutes % 60:02}"
