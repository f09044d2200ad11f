"""Make, read and measure MIDI messages, which here are plain immutable bytes.

Channels are 1-16 as people say them. What leaves a constructor is one whole, valid message.
Pure: no port, no clock, no MIDI library. The facts stand in `protocol`; `split` and `MessagePattern`, each with
a file of its own, are found here as well.
"""

from collections.abc import Iterable
from typing import NoReturn

from scenebook.model.patterns import MessagePattern
from scenebook.model.protocol import (
    BANK_SELECT_LSB,
    BANK_SELECT_MSB,
    BYTE_US,
    CHANNEL_MODE_NAMES,
    CHANNEL_PRESSURE,
    CHANNELS,
    CONTROL_CHANGE,
    DATA,
    NOTE_OFF,
    NOTE_OFF_DEFAULT_VELOCITY,
    NOTE_ON,
    PITCH_BEND,
    POLY_PRESSURE,
    PROGRAM_CHANGE,
    REAL_TIME_FIRST,
    SONG_POSITION,
    SONG_SELECT,
    SYSEX_START,
    SYSTEM_FIRST,
    facts_of,
)
from scenebook.model.stream import split

__all__ = [
    "MessagePattern",
    "bank_select",
    "channel_of",
    "control_change",
    "describe",
    "hex_text",
    "note_off",
    "note_on",
    "program_change",
    "running_status_bytes",
    "song_select",
    "split",
    "wire_us",
]


def control_change(channel: int, controller: int, value: int) -> bytes:
    """Return the three bytes that set `controller` (0-127) to `value` (0-127) on `channel` (1-16).

    Controllers 120-127 are channel mode messages and are made as well: whether one is wanted is the caller's question.

    Raises:
        TypeError: a field is not a whole number.
        ValueError: a field is out of its range.
    """
    # One comparison for the usual case, since a compiled gig makes thousands; the errors are told apart below.
    if type(channel) is type(controller) is type(value) is int and 0 < channel < 17 and 0 <= controller | value < 128:
        return bytes((CONTROL_CHANGE - 1 + channel, controller, value))
    return _checked(CONTROL_CHANGE, channel, controller=controller, value=value)


def program_change(channel: int, program: int) -> bytes:
    """Return the two bytes that recall `program` (0-127, as on the wire) on `channel` (1-16).

    Raises:
        TypeError: a field is not a whole number.
        ValueError: a field is out of its range.
    """
    if type(channel) is type(program) is int and 0 < channel < 17 and 0 <= program < 128:
        return bytes((PROGRAM_CHANGE - 1 + channel, program))
    return _checked(PROGRAM_CHANGE, channel, program=program)


def note_on(channel: int, note: int, velocity: int) -> bytes:
    """Return a note on; `note` 0-127 with middle C 60, `velocity` 1-127, and 0 means note off to a receiver.

    Raises:
        TypeError: a field is not a whole number.
        ValueError: a field is out of its range.
    """
    return _checked(NOTE_ON, channel, note=note, velocity=velocity)


def note_off(channel: int, note: int, velocity: int = NOTE_OFF_DEFAULT_VELOCITY) -> bytes:
    """Return a note off; `velocity` is that of the release, 64 where nothing is known of it.

    Raises:
        TypeError: a field is not a whole number.
        ValueError: a field is out of its range.
    """
    return _checked(NOTE_OFF, channel, note=note, velocity=velocity)


def song_select(song: int) -> bytes:
    """Return the two bytes that choose `song` (0-127) in a sequencer; no channel belongs to it.

    Raises:
        TypeError: `song` is not a whole number.
        ValueError: `song` is out of its range.
    """
    return bytes((SONG_SELECT, _in_range("song", song, DATA)))


def bank_select(channel: int, *, msb: int | None = None, lsb: int | None = None) -> tuple[bytes, ...]:
    """Return the Bank Select messages for the parts that are given, MSB (controller 0) before LSB (controller 32).

    A receiver only stores them: the bank changes with the next program change on that channel.

    Raises:
        TypeError: a field is not a whole number.
        ValueError: a field is out of its range.
    """
    parts = ((BANK_SELECT_MSB, "msb", msb), (BANK_SELECT_LSB, "lsb", lsb))
    return tuple(
        control_change(channel, controller, _in_range(name, value, DATA))
        for controller, name, value in parts
        if value is not None
    )


def channel_of(message: bytes) -> int | None:
    """Return the channel (1-16) of a channel message, None for a system message."""
    return message[0] % 16 + 1 if message[0] < SYSTEM_FIRST else None


def wire_us(data: bytes) -> int:
    """Return how long `data` takes on a MIDI lead, in µs: 320 a byte (31,250 baud, 10 bits)."""
    return BYTE_US * len(data)


def running_status_bytes(messages: Iterable[bytes]) -> int:
    """Return how many bytes `messages` take if a status equal to the one before is left out.

    By the rule of MIDI 1.0 (4.2.1, Running Status): only channel messages share a status, a system common
    message (exclusive ones too) ends it, a real-time message does not touch it.
    """
    total, running = 0, -1
    for message in messages:
        status = message[0]
        total += len(message) - (status == running)
        if status < SYSTEM_FIRST:
            running = status
        elif status < REAL_TIME_FIRST:
            running = -1
    return total


def hex_text(data: bytes) -> str:
    """Return bytes as people read them in a unit's manual, such as "B2 50 7F"."""
    return data.hex(" ").upper()


def describe(message: bytes) -> str:
    """Return one whole message in short plain words, such as "controller 80 = 127, channel 3"."""
    status, data = message[0], message[1:]
    channel = channel_of(message)
    if channel is not None:
        return f"{_channel_words(status & 0xF0, data)}, channel {channel}"
    facts = facts_of(status)
    if facts is None:
        return f"undefined {hex_text(message)}"
    if status == SYSEX_START:
        return f"{facts.name} {hex_text(message)}"
    if status == SONG_POSITION:
        return f"{facts.name} {_fourteen_bits(data)}"
    return f"{facts.name} {data[0]}" if data else facts.name


def _channel_words(status: int, data: bytes) -> str:
    if status == CONTROL_CHANGE:
        return _controller_words(data[0], data[1])
    if status == PROGRAM_CHANGE:
        return f"program {data[0]}"
    if status in (NOTE_ON, NOTE_OFF):
        return f"note {data[0]} {'on' if status == NOTE_ON else 'off'}, velocity {data[1]}"
    if status == POLY_PRESSURE:
        return f"key pressure of note {data[0]} = {data[1]}"
    if status == CHANNEL_PRESSURE:
        return f"channel pressure = {data[0]}"
    assert status == PITCH_BEND
    return f"pitch bend = {_fourteen_bits(data)}"


def _controller_words(controller: int, value: int) -> str:
    if controller in CHANNEL_MODE_NAMES:
        return f"{CHANNEL_MODE_NAMES[controller]} (controller {controller} = {value})"
    if controller == BANK_SELECT_MSB:
        return f"Bank Select MSB = {value}"
    if controller == BANK_SELECT_LSB:
        return f"Bank Select LSB = {value}"
    return f"controller {controller} = {value}"


def _fourteen_bits(data: bytes) -> int:
    return data[0] + data[1] * len(DATA)


def _checked(status: int, channel: int, **data: int) -> bytes:
    wire_channel = _in_range("channel", channel, CHANNELS) - 1
    return bytes((status + wire_channel, *(_in_range(name, value, DATA) for name, value in data.items())))


def _in_range(field: str, value: int, accepted: range) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        _refuse(TypeError, field, value, accepted)
    if value not in accepted:
        _refuse(ValueError, field, value, accepted)
    return value


def _refuse(error: type[Exception], field: str, value: object, accepted: range) -> NoReturn:
    raise error(f"{field}: found {value!r}; a whole number from {accepted[0]} to {accepted[-1]} is accepted")
