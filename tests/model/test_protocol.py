"""The table of MIDI facts: it hangs together, and looking up in it refuses what is no status byte."""

import pytest

from scenebook.model import protocol


def test_every_status_byte_is_in_the_table_or_said_to_be_undefined() -> None:
    """A byte that the table forgot would be taken for nothing when a unit sends it."""
    without_facts = {status for status in range(0x80, 0x100) if protocol.facts_of(status) is None}

    assert without_facts == set(protocol.UNDEFINED_STATUS)


def test_all_channels_of_a_message_share_its_facts() -> None:
    """A unit on channel 16 is spoken to like one on channel 1."""
    for status, facts in protocol.CHANNEL_MESSAGES.items():
        assert {protocol.facts_of(status + channel) for channel in protocol.WIRE_CHANNELS} == {facts}


@pytest.mark.parametrize("byte", [-1, 0, 0x7F, 0x100])
def test_what_is_no_status_byte_has_no_facts(byte: int) -> None:
    """Asking by a data byte is a mistake of the caller and is named."""
    with pytest.raises(ValueError, match=f"status byte: found {byte}; it is 128 to 255"):
        protocol.facts_of(byte)


def test_the_channels_of_people_are_one_more_than_those_of_the_wire() -> None:
    """Channel 1 on a unit's display is 0 in its status byte."""
    assert [channel - 1 for channel in protocol.CHANNELS] == list(protocol.WIRE_CHANNELS)


def test_a_byte_on_the_wire_takes_whole_microseconds() -> None:
    """Times are added up as whole numbers, so nothing may be cut off in the table."""
    assert protocol.BYTE_US * protocol.BAUD == protocol.BITS_PER_BYTE * 1_000_000
