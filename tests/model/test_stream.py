"""A stream of bytes is cut into messages as a receiver would."""

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenebook.model.messages import control_change, note_on, program_change, split
from scenebook.model.stream import Heard, heard

whole_messages = st.one_of(
    st.builds(control_change, st.integers(1, 16), st.integers(0, 127), st.integers(0, 127)),
    st.builds(program_change, st.integers(1, 16), st.integers(0, 127)),
    st.builds(note_on, st.integers(1, 16), st.integers(0, 127), st.integers(0, 127)),
    st.binary(max_size=6).map(lambda data: b"\xf0" + bytes(byte & 0x7F for byte in data) + b"\xf7"),
    st.sampled_from([b"\xf1\x07", b"\xf2\x08\x00", b"\xf3\x05", b"\xf6", b"\xf8", b"\xfa", b"\xfe", b"\xff"]),
)


@pytest.mark.parametrize(
    ("stream", "messages"),
    [
        ("", []),
        ("90 3C 7F 40 7F 43 7F", ["90 3C 7F", "90 40 7F", "90 43 7F"]),
        ("C0 05 06", ["C0 05", "C0 06"]),
        ("B0 F8 07 FE 64", ["F8", "FE", "B0 07 64"]),  # real-time bytes inside a message come first
        ("B0 07 64 F8 07 65", ["B0 07 64", "F8", "B0 07 65"]),  # and leave running status in force
        ("B0 07 64 F3 01 07 65", ["B0 07 64", "F3 01"]),  # system common ends it: the rest belongs to nothing
        ("B0 07 64 F6 07 65", ["B0 07 64", "F6"]),
        ("B0 07 64 F4 07 65", ["B0 07 64"]),  # an undefined one too
        ("B0 07 64 F9 FD 07 65", ["B0 07 64", "B0 07 65"]),  # undefined real-time: as if it were not there
        ("07 65 C0 05", ["C0 05"]),  # data bytes before any status
        ("F0 7D 01 F7", ["F0 7D 01 F7"]),
        ("F0 F7", ["F0 F7"]),
        ("F0 7D F8 01 F7", ["F8", "F0 7D 01 F7"]),
        ("F0 7D 01 F7 02 03", ["F0 7D 01 F7"]),
        ("F0 7D 01 C0 05", ["F0 7D 01 F7", "C0 05"]),  # another status ends an exclusive message
        ("F0 7D F0 7E F7", ["F0 7D F7", "F0 7E F7"]),
        ("F0 7D 01", []),  # no end has come yet
        ("F7 C0 05", ["C0 05"]),  # an end with no beginning
        ("B0 07 C0 05", ["C0 05"]),  # broken off by another status
        ("90 3C", []),
    ],
)
def test_a_stream_is_read_by_the_rules_of_the_specification(stream: str, messages: list[str]) -> None:
    """Each line is a case of MIDI 1.0 (4.2.1), Data Types; a unit in the rig reads it the same way."""
    assert split(bytes.fromhex(stream)) == tuple(map(bytes.fromhex, messages))


@given(st.lists(whole_messages))
def test_whole_messages_come_back_as_they_were(messages: list[bytes]) -> None:
    """Reading back what was sent must not itself change it, or no proof holds."""
    assert split(b"".join(messages)) == tuple(messages)


@given(st.lists(whole_messages))
def test_an_independent_reader_hears_the_same(messages: list[bytes]) -> None:
    """Mido's parser, written by others, finds the same messages."""
    parser = mido.Parser()
    parser.feed(b"".join(messages))

    assert split(b"".join(messages)) == tuple(bytes(message.bin()) for message in parser)


@given(st.binary(max_size=60))
def test_any_bytes_at_all_are_read_without_an_error(data: bytes) -> None:
    """A loose lead sends rubbish; what is read from it is still whole messages, each within the stream."""
    for item in heard(data):
        assert split(item.message) == (item.message,)
        assert 0 <= item.start < item.end <= len(data)


def test_messages_are_placed_by_their_first_and_last_byte() -> None:
    """Times on the wire come from places; with running status a message begins with its first data byte."""
    stream = bytes.fromhex("B0 07 64 F8 08 F8 65 F0 7D F7 F0 01 C0 05")

    assert heard(stream) == (
        Heard(0, 3, bytes.fromhex("B0 07 64")),
        Heard(3, 4, b"\xf8"),
        Heard(5, 6, b"\xf8"),
        Heard(4, 7, bytes.fromhex("B0 08 65")),
        Heard(7, 10, bytes.fromhex("F0 7D F7")),
        Heard(10, 12, bytes.fromhex("F0 01 F7")),
        Heard(12, 14, bytes.fromhex("C0 05")),
    )
