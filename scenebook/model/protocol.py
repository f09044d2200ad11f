"""Hold the facts of MIDI 1.0 that everything else reads: one table, no behaviour beyond looking up.

Source of every number: The Complete MIDI 1.0 Detailed Specification, document version 4.2.1
(status bytes, data lengths, controllers) and its hardware section (baud rate, bits in a byte).
Pure: nothing is imported but the standard library.
"""

from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal

__all__ = [
    "BANK_SELECT_LSB",
    "BANK_SELECT_MSB",
    "BAUD",
    "BITS_PER_BYTE",
    "BYTE_US",
    "CHANNELS",
    "CHANNEL_MESSAGES",
    "CHANNEL_MODE",
    "CHANNEL_MODE_NAMES",
    "CHANNEL_PRESSURE",
    "CLOCK",
    "CLOCKS_PER_QUARTER",
    "CONTROL_CHANGE",
    "DATA",
    "FOURTEEN_BIT",
    "NOTE_OFF",
    "NOTE_OFF_DEFAULT_VELOCITY",
    "NOTE_ON",
    "PITCH_BEND",
    "POLY_PRESSURE",
    "PROGRAM_CHANGE",
    "REAL_TIME_FIRST",
    "SONG_POSITION",
    "SONG_SELECT",
    "STATUS_FIRST",
    "SWITCH_ON_FROM",
    "SYSEX_END",
    "SYSEX_START",
    "SYSTEM_FIRST",
    "SYSTEM_MESSAGES",
    "TIME_CODE_QUARTER_FRAME",
    "TUNE_REQUEST",
    "UNDEFINED_STATUS",
    "WIRE_CHANNELS",
    "MessageFacts",
    "facts_of",
]

# Ranges. As `range`, so that `value in DATA` is the check and DATA[-1] the number to print.
DATA: Final = range(0, 128)
FOURTEEN_BIT: Final = range(0, 16_384)
CHANNELS: Final = range(1, 17)  # as people say them
WIRE_CHANNELS: Final = range(0, 16)  # as the low four bits of a status byte carry them

# Status bytes. A channel message's status stands here with channel 1, that is with 0 in its low four bits.
STATUS_FIRST: Final = 0x80
NOTE_OFF: Final = 0x80
NOTE_ON: Final = 0x90
POLY_PRESSURE: Final = 0xA0
CONTROL_CHANGE: Final = 0xB0
PROGRAM_CHANGE: Final = 0xC0
CHANNEL_PRESSURE: Final = 0xD0
PITCH_BEND: Final = 0xE0
SYSTEM_FIRST: Final = 0xF0
SYSEX_START: Final = 0xF0
TIME_CODE_QUARTER_FRAME: Final = 0xF1
SONG_POSITION: Final = 0xF2
SONG_SELECT: Final = 0xF3
TUNE_REQUEST: Final = 0xF6
SYSEX_END: Final = 0xF7
REAL_TIME_FIRST: Final = 0xF8
CLOCK: Final = 0xF8
UNDEFINED_STATUS: Final = frozenset({0xF4, 0xF5, 0xF9, 0xFD})

# Controllers.
BANK_SELECT_MSB: Final = 0
BANK_SELECT_LSB: Final = 32
CHANNEL_MODE: Final = range(120, 128)
CHANNEL_MODE_NAMES: Final = MappingProxyType(
    {
        120: "all sound off",
        121: "reset all controllers",
        122: "local control",
        123: "all notes off",
        124: "omni off",
        125: "omni on",
        126: "mono on",
        127: "poly on",
    }
)
SWITCH_ON_FROM: Final = 64  # a switch reads 0-63 as off, 64-127 as on
NOTE_OFF_DEFAULT_VELOCITY: Final = 64  # what a sender without release velocity sends

# The wire: 31,250 baud, and a byte is a start bit, eight data bits and a stop bit, so 320 microseconds.
BAUD: Final = 31_250
BITS_PER_BYTE: Final = 10
BYTE_US: Final = BITS_PER_BYTE * 1_000_000 // BAUD
CLOCKS_PER_QUARTER: Final = 24


@dataclass(frozen=True, slots=True)
class MessageFacts:
    """What the specification says of one status: its name, its number of data bytes, its class.

    `data_bytes` is None for a system exclusive message, whose end is marked and not counted.
    """

    name: str
    data_bytes: int | None
    kind: Literal["channel", "system common", "real-time"]


CHANNEL_MESSAGES: Final = MappingProxyType(
    {
        NOTE_OFF: MessageFacts("note off", 2, "channel"),
        NOTE_ON: MessageFacts("note on", 2, "channel"),
        POLY_PRESSURE: MessageFacts("polyphonic key pressure", 2, "channel"),
        CONTROL_CHANGE: MessageFacts("control change", 2, "channel"),
        PROGRAM_CHANGE: MessageFacts("program change", 1, "channel"),
        CHANNEL_PRESSURE: MessageFacts("channel pressure", 1, "channel"),
        PITCH_BEND: MessageFacts("pitch bend", 2, "channel"),
    }
)

SYSTEM_MESSAGES: Final = MappingProxyType(
    {
        SYSEX_START: MessageFacts("system exclusive", None, "system common"),
        TIME_CODE_QUARTER_FRAME: MessageFacts("MTC quarter frame", 1, "system common"),
        SONG_POSITION: MessageFacts("song position", 2, "system common"),
        SONG_SELECT: MessageFacts("song select", 1, "system common"),
        TUNE_REQUEST: MessageFacts("tune request", 0, "system common"),
        SYSEX_END: MessageFacts("end of exclusive", 0, "system common"),
        CLOCK: MessageFacts("timing clock", 0, "real-time"),
        0xFA: MessageFacts("start", 0, "real-time"),
        0xFB: MessageFacts("continue", 0, "real-time"),
        0xFC: MessageFacts("stop", 0, "real-time"),
        0xFE: MessageFacts("active sensing", 0, "real-time"),
        0xFF: MessageFacts("system reset", 0, "real-time"),
    }
)


def facts_of(status: int) -> MessageFacts | None:
    """Return the facts of a status byte 128-255, or None where the specification leaves it undefined.

    Raises:
        ValueError: `status` is not a status byte.
    """
    if not STATUS_FIRST <= status <= 0xFF:
        raise ValueError(f"status byte: found {status}; it is 128 to 255 (80 to FF in hex)")
    if status < SYSTEM_FIRST:
        return CHANNEL_MESSAGES[status & 0xF0]
    return SYSTEM_MESSAGES.get(status)
