"""Times come from bytes and waits, whatever came back (P4)."""

from scenebook.proof.lists import SentMessage
from scenebook.proof.wire import Timed, timed
from tests.support.sent import message

CLOCK_AND_SWITCH = [message("B0 50 7F"), message("+1000 C0 05")]


def test_a_byte_takes_320_microseconds() -> None:
    """31,250 baud, ten bits a byte: three bytes, then a wait, then two more."""
    found, data = timed(CLOCK_AND_SWITCH, None)

    assert found == [Timed(0, 960, bytes.fromhex("B0507F")), Timed(1960, 2600, bytes.fromhex("C005"))]
    assert data == bytes.fromhex("B0507FC005")


def test_what_came_back_has_the_times_at_which_it_was_sent() -> None:
    """A byte that was added at the end follows at once; one that is missing takes no time."""
    added, _ = timed(CLOCK_AND_SWITCH, bytes.fromhex("B0507FC00506"))
    fewer, _ = timed(CLOCK_AND_SWITCH, bytes.fromhex("B0507F"))

    assert added[2] == Timed(2600, 2920, bytes.fromhex("C006"))
    assert fewer == [Timed(0, 960, bytes.fromhex("B0507F"))]


def test_a_status_does_not_run_on_from_the_cue_before() -> None:
    """A list can be sent from any cue: data bytes with no status belong to nothing."""
    assert timed([SentMessage("front", 0, bytes.fromhex("507F"))], None)[0] == []
