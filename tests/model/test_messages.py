"""Messages are made whole and valid or not at all, and can be measured and put into words."""

from collections.abc import Callable
from enum import IntEnum

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenebook.model.messages import (
    bank_select,
    channel_of,
    control_change,
    describe,
    hex_text,
    note_off,
    note_on,
    program_change,
    running_status_bytes,
    song_select,
    split,
    wire_us,
)

channels = st.integers(1, 16)
values = st.integers(0, 127)


@given(channels, values, values)
def test_messages_are_those_of_an_independent_library(channel: int, first: int, second: int) -> None:
    """Mido makes the same bytes for the same numbers, so units hear what others would send them."""
    wire = channel - 1

    assert control_change(channel, first, second) == mido_bytes(
        "control_change", channel=wire, control=first, value=second
    )
    assert program_change(channel, first) == mido_bytes("program_change", channel=wire, program=first)
    assert note_on(channel, first, second) == mido_bytes("note_on", channel=wire, note=first, velocity=second)
    assert note_off(channel, first, second) == mido_bytes("note_off", channel=wire, note=first, velocity=second)
    assert song_select(first) == mido_bytes("song_select", song=first)


def mido_bytes(kind: str, **fields: int) -> bytes:
    return bytes(mido.Message(kind, **fields).bin())


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: control_change(0, 80, 127), "channel: found 0; a whole number from 1 to 16 is accepted"),
        (lambda: control_change(17, 80, 127), "channel: found 17; a whole number from 1 to 16 is accepted"),
        (lambda: control_change(3, 128, 127), "controller: found 128; a whole number from 0 to 127 is accepted"),
        (lambda: control_change(3, -1, 127), "controller: found -1; a whole number from 0 to 127 is accepted"),
        (lambda: control_change(3, 80, 128), "value: found 128; a whole number from 0 to 127 is accepted"),
        (lambda: control_change(3, 80, -1), "value: found -1; a whole number from 0 to 127 is accepted"),
        (lambda: program_change(0, 5), "channel: found 0; a whole number from 1 to 16 is accepted"),
        (lambda: program_change(1, 128), "program: found 128; a whole number from 0 to 127 is accepted"),
        (lambda: note_on(1, 128, 1), "note: found 128; a whole number from 0 to 127 is accepted"),
        (lambda: note_off(1, 60, 200), "velocity: found 200; a whole number from 0 to 127 is accepted"),
        (lambda: song_select(-5), "song: found -5; a whole number from 0 to 127 is accepted"),
        (lambda: bank_select(1, msb=128), "msb: found 128; a whole number from 0 to 127 is accepted"),
        (lambda: bank_select(1, lsb=-1), "lsb: found -1; a whole number from 0 to 127 is accepted"),
    ],
)
def test_a_number_out_of_range_is_named_with_its_field(make: Callable[[], object], said: str) -> None:
    """A typing error in a chart must not become a message for another unit."""
    with pytest.raises(ValueError, match=f"^{said}$"):
        make()


@pytest.mark.parametrize("wrong", [1.0, "1", None, True])
@pytest.mark.parametrize(
    "make",
    [
        lambda wrong: control_change(wrong, 1, 1),
        lambda wrong: control_change(1, 1, wrong),
        lambda wrong: program_change(wrong, 1),
        lambda wrong: program_change(1, wrong),
        lambda wrong: note_on(1, wrong, 1),
        lambda wrong: song_select(wrong),
    ],
)
def test_what_is_no_whole_number_is_a_wrong_type(make: Callable[[object], object], wrong: object) -> None:
    """`on: true` in a place for a number is not 1, and 1.0 came out of some sum."""
    with pytest.raises(TypeError, match="a whole number from"):
        make(wrong)


def test_a_named_number_serves_as_a_number() -> None:
    """An enumeration of controllers is a usual way to write them."""

    class Controller(IntEnum):
        SWITCH = 80

    assert control_change(3, Controller.SWITCH, 127) == bytes.fromhex("B2 50 7F")


def test_a_release_without_a_velocity_has_that_of_the_specification() -> None:
    """64 is what a sender without release velocity sends."""
    assert note_off(1, 60) == bytes.fromhex("80 3C 40")


@pytest.mark.parametrize(
    ("parts", "sent"),
    [
        ({}, ()),
        ({"msb": 1}, ("B1 00 01",)),
        ({"lsb": 2}, ("B1 20 02",)),
        ({"lsb": 2, "msb": 1}, ("B1 00 01", "B1 20 02")),
        ({"lsb": 0, "msb": 0}, ("B1 00 00", "B1 20 00")),
    ],
)
def test_bank_select_sends_the_parts_that_the_unit_uses(parts: dict[str, int], sent: tuple[str, ...]) -> None:
    """Bank 0 is a bank, and a part that the unit does not know is not sent."""
    assert bank_select(2, **parts) == tuple(map(bytes.fromhex, sent))


def test_only_channel_messages_have_a_channel() -> None:
    """A clock belongs to every unit on the lead."""
    assert [channel_of(bytes((status, 0, 0))) for status in (0x80, 0x9F, 0xB2, 0xEF)] == [1, 16, 3, 16]
    assert [channel_of(bytes((status,))) for status in (0xF0, 0xF6, 0xF8, 0xFF)] == [None] * 4


def test_time_on_the_wire_goes_by_bytes() -> None:
    """320 µs a byte, whatever the byte says."""
    assert wire_us(b"") == 0
    assert wire_us(control_change(1, 80, 127)) == 960


@pytest.mark.parametrize(
    ("messages", "count"),
    [
        ([], 0),
        (["90 3C 7F", "90 40 7F"], 5),
        (["90 3C 7F", "91 40 7F"], 6),  # another channel is another status
        (["C0 05", "C0 06"], 3),
        (["B0 01 02", "F8", "B0 01 03"], 6),  # a clock between leaves it in force
        (["B0 01 02", "F3 01", "B0 01 03"], 8),  # a system common message ends it
        (["B0 01 02", "F0 7D F7", "B0 01 03"], 9),  # so does an exclusive one
        (["F3 01", "F3 01"], 4),  # and has none itself
        (["F8", "F8"], 2),
    ],
)
def test_running_status_saves_the_bytes_that_the_specification_allows(messages: list[str], count: int) -> None:
    """The estimate beside a cue must be what a sender with running status would send."""
    assert running_status_bytes(map(bytes.fromhex, messages)) == count


@given(
    st.lists(st.builds(control_change, st.integers(1, 2), values, values) | st.builds(program_change, channels, values))
)
def test_a_list_written_with_running_status_has_the_counted_bytes_and_reads_back(messages: list[bytes]) -> None:
    """What is counted can really be sent: a receiver understands the shorter list as the same messages."""
    written, running = b"", -1
    for message in messages:
        written += message[message[0] == running :]
        running = message[0]

    assert len(written) == running_status_bytes(messages)
    assert split(written) == tuple(messages)


@pytest.mark.parametrize(
    ("message", "words"),
    [
        ("B2 50 7F", "controller 80 = 127, channel 3"),
        ("B0 00 01", "Bank Select MSB = 1, channel 1"),
        ("B0 20 02", "Bank Select LSB = 2, channel 1"),
        ("BF 7B 00", "all notes off (controller 123 = 0), channel 16"),
        ("C0 05", "program 5, channel 1"),
        ("90 3C 40", "note 60 on, velocity 64, channel 1"),
        ("80 3C 40", "note 60 off, velocity 64, channel 1"),
        ("A0 3C 07", "key pressure of note 60 = 7, channel 1"),
        ("D1 07", "channel pressure = 7, channel 2"),
        ("E0 00 40", "pitch bend = 8192, channel 1"),
        ("F0 7D 01 F7", "system exclusive F0 7D 01 F7"),
        ("F1 07", "MTC quarter frame 7"),
        ("F2 08 00", "song position 8"),
        ("F3 05", "song select 5"),
        ("F6", "tune request"),
        ("F8", "timing clock"),
        ("FA", "start"),
        ("F9", "undefined F9"),
    ],
)
def test_a_message_is_described_in_plain_words(message: str, words: str) -> None:
    """A cue that fails is read by a person on a dark stage, not by a table of bytes."""
    assert describe(bytes.fromhex(message)) == words


def test_bytes_are_shown_as_manuals_print_them() -> None:
    """Capitals, two digits, a space between: as in a unit's chart."""
    assert hex_text(bytes((0xB2, 0x05, 0x7F))) == "B2 05 7F"
