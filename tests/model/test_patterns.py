"""Messages that a person writes as hex are read strictly, with the unit's channel put in where `n` stands."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenebook.model.messages import MessagePattern, split


@pytest.mark.parametrize(
    ("written", "channel", "sent"),
    [
        ("Bn 50 7F", 3, ["B2 50 7F"]),
        ("bn 50 7f", 16, ["BF 50 7F"]),
        ("BN 50 00", 1, ["B0 50 00"]),
        ("B4 50 7F", 3, ["B4 50 7F"]),  # a channel of its own
        ("Cn 05", 10, ["C9 05"]),
        ("F0 7D 01 F7", 3, ["F0 7D 01 F7"]),
        ("Bn 00 01, Bn 20 02, Cn 05", 2, ["B1 00 01", "B1 20 02", "C1 05"]),
        ("Bn 50 7F\nBn 50 00", 2, ["B1 50 7F", "B1 50 00"]),  # pressed and released
        ("FA", 5, ["FA"]),
        ("F3 05 Bn 50 7F", 5, ["F3 05", "B4 50 7F"]),
    ],
)
def test_a_pattern_becomes_the_messages_for_a_channel(written: str, channel: int, sent: list[str]) -> None:
    """One chart serves a unit on whatever channel a rig gives it."""
    assert MessagePattern.parse(written).for_channel(channel) == tuple(map(bytes.fromhex, sent))


@pytest.mark.parametrize(
    ("written", "place", "found", "why"),
    [
        ("zz", 1, "zz", "which is no byte"),
        ("Bn 50 7", 3, "7", "which is no byte"),
        ("Bn507F", 1, "Bn507F", "which is no byte"),
        ("B0 5n 00", 2, "5n", "which is no byte"),
        ("Fn 01", 1, "Fn", "a message that begins with F has no channel"),
        ("50 7F", 1, "50", "where a message has to begin"),
        ("Bn 50 7F 40", 4, "40", "where a message has to begin"),
        ("Bn 50", 1, "Bn", "a control change with 1 of its 2 values"),
        ("Cn", 1, "Cn", "a program change with 0 of its 1 values"),
        ("Bn 50 Cn 05", 3, "Cn", "where the control change begun at byte 1 has a value, 00 to 7F"),
        ("F0 7D 01", 1, "F0", "an exclusive message without its last byte, F7"),
        ("F0 7D 90 F7", 3, "90", "inside an exclusive message, where values are 00 to 7F"),
        ("F7", 1, "F7", "which begins no message"),
        ("F4", 1, "F4", "which begins no message"),
    ],
)
def test_a_mistake_is_shown_at_its_byte(written: str, place: int, found: str, why: str) -> None:
    """A typing error in a chart is found at home, not by a unit that does nothing on stage."""
    with pytest.raises(ValueError, match=re.escape(f'message, byte {place}: found "{found}", {why}')) as caught:
        MessagePattern.parse(written)

    assert '"Bn 50 7F" (n: the unit\'s channel)' in str(caught.value)


@pytest.mark.parametrize("empty", ["", "  ", ",\n"])
def test_a_pattern_without_bytes_is_refused(empty: str) -> None:
    """A way that sends nothing is no way."""
    with pytest.raises(ValueError, match="message: found nothing"):
        MessagePattern.parse(empty)


@pytest.mark.parametrize("channel", [0, 17, -1])
def test_a_pattern_takes_channels_of_people(channel: int) -> None:
    """Channel 0 would send to the channel beside the one that is meant."""
    with pytest.raises(ValueError, match=f"channel: found {channel}; a whole number from 1 to 16 is accepted"):
        MessagePattern.parse("Bn 50 7F").for_channel(channel)


def test_the_players_own_writing_is_kept_beside_the_usual_one() -> None:
    """What was typed in comes back when the library is exported."""
    pattern = MessagePattern.parse("bn 50 7f,  f0 7d f7")

    assert pattern.text == "bn 50 7f,  f0 7d f7"
    assert str(pattern) == "Bn 50 7F F0 7D F7"


def test_a_pattern_says_whether_it_needs_the_units_channel() -> None:
    """A unit with no channel can still be sent an exclusive message."""
    assert MessagePattern.parse("F0 7D F7 Bn 50 7F").needs_channel
    assert not MessagePattern.parse("F0 7D F7 B0 50 7F").needs_channel


@given(st.lists(st.sampled_from(["Bn 50 7F", "C3 05", "F0 7D 01 F7", "9n 3C 40", "FA", "F2 01 02"]), min_size=1))
def test_the_usual_writing_reads_back_as_the_same_messages(parts: list[str]) -> None:
    """Writing a library and reading it again changes nothing."""
    pattern = MessagePattern.parse(" ".join(parts))
    again = MessagePattern.parse(str(pattern))

    assert again == pattern
    assert again.for_channel(7) == split(b"".join(pattern.for_channel(7)))
