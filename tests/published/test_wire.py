"""The wire against the MIDI 1.0 specification.

Source, unless a test names another: *MIDI 1.0 Detailed Specification*, document version 4.2.1, in *The Complete MIDI
1.0 Detailed Specification* (MIDI Manufacturers Association, 1996). The tables beside this file were made from it.
"""

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from scenebook.model import protocol
from scenebook.model.messages import (
    bank_select,
    control_change,
    note_off,
    note_on,
    program_change,
    running_status_bytes,
    song_select,
    split,
    wire_us,
)

HERE = Path(__file__).parent


def rows(name: str) -> list[dict[str, str]]:
    with (HERE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("row", rows("midi_status.csv"), ids=lambda row: row["status_hex"])
def test_every_status_byte_has_the_published_name_and_length(row: dict[str, str]) -> None:
    """The summaries of status bytes: data bytes, bytes in all, and the class of each message."""
    facts = protocol.facts_of(int(row["status_hex"].replace("n", "0"), 16))

    if row["message"] == "undefined":
        assert facts is None
        return
    assert facts is not None
    assert row["message"].startswith(facts.name)
    assert row["class"].startswith(facts.kind) or row["class"] == f"system {facts.kind}"
    if row["total_bytes"] == "any":
        assert facts.data_bytes is None
        return
    assert facts.data_bytes == int(row["data_bytes"]) == int(row["total_bytes"]) - 1
    assert wire_us(bytes(1 + facts.data_bytes)) == int(row["wire_us"])


def test_status_bytes_have_the_high_bit_and_data_bytes_do_not() -> None:
    """Data Types: a status byte is 80 to FF, a data byte 00 to 7F."""
    assert protocol.STATUS_FIRST == 0b1000_0000
    assert list(protocol.DATA) == list(range(128))
    message = control_change(16, 127, 127)
    assert [byte >> 7 for byte in message] == [1, 0, 0]


@pytest.mark.parametrize("wrong", [-1, 128])
def test_data_beyond_seven_bits_never_reaches_the_wire(wrong: int) -> None:
    """Data Types, Data Bytes: the most significant bit of a data byte is 0."""
    makers: list[Callable[[], object]] = [
        lambda: control_change(1, wrong, 0),
        lambda: control_change(1, 0, wrong),
        lambda: program_change(1, wrong),
        lambda: note_on(1, wrong, 0),
        lambda: note_off(1, 0, wrong),
        lambda: song_select(wrong),
    ]
    for make in makers:
        with pytest.raises(ValueError, match=f"found {wrong}; a whole number from 0 to 127 is accepted"):
            make()


def test_the_channel_is_the_low_half_of_the_status_byte() -> None:
    """Channel messages: nnnn 0 to 15 stands for channels 1 to 16."""
    assert [control_change(channel, 7, 100)[0] for channel in (1, 2, 10, 16)] == [0xB0, 0xB1, 0xB9, 0xBF]
    assert [program_change(channel, 0)[0] for channel in (1, 16)] == [0xC0, 0xCF]


def test_running_status_is_the_printed_example() -> None:
    """Data Types, Status Bytes, Running Status (p. 5): three note ons in seven bytes."""
    notes = [note_on(1, 0x3C, 0x7F), note_on(1, 0x40, 0x7F), note_on(1, 0x43, 0x7F)]

    assert running_status_bytes(notes) == len(bytes.fromhex("90 3C 7F 40 7F 43 7F"))
    assert split(bytes.fromhex("90 3C 7F 40 7F 43 7F")) == tuple(notes)


@pytest.mark.parametrize("common", ["F0 7D F7", "F1 00", "F2 00 00", "F3 00", "F6"])
def test_every_system_common_message_ends_running_status(common: str) -> None:
    """Running Status: F0 to F7 clear the buffer; data bytes without a status are then ignored."""
    first, between = note_on(1, 60, 100), bytes.fromhex(common)

    assert split(first + between + first[1:]) == (first, between)
    assert running_status_bytes([first, between, first]) == 2 * len(first) + len(between)


@pytest.mark.parametrize("real_time", [0xF8, 0xFA, 0xFB, 0xFC, 0xFE, 0xFF])
def test_no_real_time_message_touches_running_status(real_time: int) -> None:
    """System Real Time: may stand between any two bytes, even of one message, and leaves running status alone."""
    first, clock = note_on(1, 60, 100), bytes((real_time,))

    assert split(first + clock + first[1:2] + clock + first[2:]) == (first, clock, clock, first)
    assert running_status_bytes([first, clock, first]) == 6


def test_bank_select_goes_msb_then_lsb_then_program() -> None:
    """Bank Select (controllers 0 and 32): the bank changes with the program change that follows; 14 bits, MSB x 128."""
    sent = (*bank_select(1, msb=1, lsb=2), program_change(1, 5))

    assert sent == (bytes.fromhex("B0 00 01"), bytes.fromhex("B0 20 02"), bytes.fromhex("C0 05"))
    assert sent[0][2] * 128 + sent[1][2] == 130
    assert protocol.FOURTEEN_BIT[-1] == 127 * 128 + 127 == 16_383


def test_switch_controllers_read_as_off_up_to_63_and_on_from_64() -> None:
    """The list of controllers, 64 to 69 and 80 to 83: 0-63 off, 64-127 on."""
    switches = [int(row["cc"]) for row in rows("midi_cc.csv") if row["kind"] == "switch"]

    assert switches == [64, 65, 66, 67, 68, 69, 80, 81, 82, 83]
    assert [value >= protocol.SWITCH_ON_FROM for value in (0, 63, 64, 127)] == [False, False, True, True]


def test_controllers_120_to_127_are_channel_mode_messages() -> None:
    """The list of controllers: they change how a receiver plays, and are not controllers to be set."""
    published = {int(row["cc"]): row["name"] for row in rows("midi_cc.csv") if int(row["cc"]) >= 120}

    assert set(published) == set(protocol.CHANNEL_MODE) == set(protocol.CHANNEL_MODE_NAMES)
    for number, name in protocol.CHANNEL_MODE_NAMES.items():
        assert published[number].replace(" mode", "").startswith(name.split(" control")[0])


def test_bank_select_is_the_published_pair_of_controllers() -> None:
    """The list of controllers: 32 to 63 are the LSB of 0 to 31."""
    names = {int(row["cc"]): row["name"] for row in rows("midi_cc.csv")}

    assert names[protocol.BANK_SELECT_MSB] == "bank select MSB"
    assert names[protocol.BANK_SELECT_LSB] == "bank select LSB"
    assert protocol.BANK_SELECT_LSB == protocol.BANK_SELECT_MSB + 32


def test_a_byte_takes_320_microseconds() -> None:
    """MIDI 1.0 hardware section, and MIDI 1.0 Electrical Specification Update (CA-033, 2014): 31,250 baud; ten bits."""
    assert (protocol.BAUD, protocol.BITS_PER_BYTE, protocol.BYTE_US) == (31_250, 10, 320)
    assert [wire_us(bytes(count)) for count in (1, 2, 3)] == [320, 640, 960]


def test_a_clock_at_120_a_minute_takes_the_published_share_of_the_line() -> None:
    """System Real Time: 24 clocks a quarter note, so 48 bytes a second at 120 BPM, 1.536 % of 3,125."""
    a_second = protocol.CLOCKS_PER_QUARTER * 120 // 60

    assert a_second == 48
    assert wire_us(bytes(a_second)) / 1_000_000 == pytest.approx(0.01536)


TIMED = {
    "one program change": [program_change(1, 5)],
    "one control change": [control_change(1, 80, 127)],
    "bank MSB + bank LSB + program change, one channel": [*bank_select(1, msb=1, lsb=2), program_change(1, 5)],
    "10 control changes, one channel": [control_change(1, 80 + n, 127) for n in range(10)],
    "program change on 16 channels": [program_change(channel, 5) for channel in range(1, 17)],
    "8 control changes + 1 program change, one channel": [
        *(control_change(1, 80 + n, 127) for n in range(8)),
        program_change(1, 5),
    ],
    "all sound off + reset all controllers + all notes off, one channel": [
        control_change(1, number, 0) for number in (120, 121, 123)
    ],
}


@pytest.mark.parametrize("row", rows("midi_wire_timing.csv"), ids=lambda row: row["case"])
def test_lists_of_messages_take_the_computed_time(row: dict[str, str]) -> None:
    """Computed from 320 µs a byte and the rule of running status, both of the specification."""
    messages = TIMED[row["case"]]

    assert len(b"".join(messages)) == int(row["bytes_full_status"])
    assert wire_us(b"".join(messages)) == int(row["us_full_status"])
    assert running_status_bytes(messages) == int(row["bytes_running_status"])
    assert wire_us(bytes(running_status_bytes(messages))) == int(row["us_running_status"])
