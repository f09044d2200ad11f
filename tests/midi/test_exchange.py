"""What is sent round a link comes back byte for byte, through real ports as through the loopback."""

import time
from collections.abc import Iterator

import pytest

from scenebook.errors import PortError
from scenebook.midi import InPort, Link, exchange, loopback_pair
from scenebook.model.messages import control_change, program_change

BURST = [control_change(1 + n % 16, n % 120, n // 120 % 128) for n in range(2000)]


def test_a_burst_of_2000_messages_comes_back_whole_and_in_order(link: Link) -> None:
    """A full list of a long gig goes out at once; one lost message would make the proof lie."""
    assert exchange(link, BURST, 10) == b"".join(BURST)


def test_every_kind_of_message_comes_back(link: Link) -> None:
    """Exclusive messages, clocks and active sensing are thrown away by default; here they must arrive."""
    messages = list(
        map(
            bytes.fromhex,
            [
                "90 3C 7F",
                "80 3C 40",
                "A0 3C 01",
                "B0 00 01",
                "C0 05",
                "D0 07",
                "E0 00 40",
                "F0 7D 01 02 F7",
                "F1 07",
                "F2 08 00",
                "F3 05",
                "F6",
                "F8",
                "FA",
                "FB",
                "FC",
                "FE",
                "FF",
            ],
        )
    )

    assert exchange(link, messages, 5) == b"".join(messages)


@pytest.mark.parametrize("length", [2, 100, 1_023, 1_024, 1_025, 5_000])
def test_an_exclusive_message_of_any_usual_length_comes_back(link: Link, length: int) -> None:
    """A stored preset may be sent as one long message, longer than all that is let under way at once."""
    exclusive = b"\xf0" + bytes(n % 128 for n in range(length - 2)) + b"\xf7"
    messages = [program_change(1, 5), exclusive, exclusive, program_change(1, 6)]

    assert exchange(link, messages, 5) == b"".join(messages)


def test_nothing_sent_is_nothing_back(link: Link) -> None:
    """A cue at which nothing changes is proved like any other."""
    assert exchange(link, [], 1) == b""


def test_one_exchange_follows_another(link: Link) -> None:
    """A gig is proved cue by cue over one link, and nothing of one cue turns up in the next."""
    answers = [exchange(link, BURST[n : n + 3], 5) for n in range(0, 30, 3)]

    assert answers == [b"".join(BURST[n : n + 3]) for n in range(0, 30, 3)]


def test_a_message_from_elsewhere_is_not_hidden(link: Link) -> None:
    """If another program sends into our port, the byte check has to see it."""
    link.out.send(b"\xc0\x63")

    assert exchange(link, [b"\xc0\x05"], 5) == b"\xc0\x63\xc0\x05"


def test_a_round_through_jack_is_quick(jack_link: Link) -> None:
    """The waits of a proof are computed, so that a gig of 2,000 messages takes a blink and no evening."""
    begin = time.monotonic()
    exchange(jack_link, BURST, 10)

    assert time.monotonic() - begin < 3.0


class LossyPort(InPort):
    """A way back that loses the bytes of its choice, as a worn plug does."""

    name = "worn plug"

    def __init__(self, port: InPort, lose: Iterator[bool]) -> None:
        self._port = port
        self._lose = lose

    def poll(self) -> list[bytes]:
        return [message for message in self._port.poll() if not next(self._lose)]

    def close(self) -> None:
        self._port.close()


def lossy_link(lose: Iterator[bool]) -> Link:
    out, back = loopback_pair()
    return Link(out, LossyPort(back, lose), "worn plug")


def test_a_lost_message_is_missing_from_what_comes_back() -> None:
    """The exchange repairs nothing; what is missing is for the byte check to name."""
    messages = BURST[:5]
    with lossy_link(iter([False, False, True, False, False])) as link:
        assert exchange(link, messages, 10) == b"".join(messages[:2] + messages[3:])


def test_what_gets_through_after_a_gap_still_counts() -> None:
    """A lead that was knocked out for a moment: the rest is sent all the same."""
    gap = 400  # messages; more than may be under way at once
    with lossy_link(n < gap for n in range(len(BURST))) as link:
        back = exchange(link, BURST, 20)

    assert back == b"".join(BURST[gap:])


def test_a_dead_lead_ends_the_exchange_long_before_its_deadline() -> None:
    """Nobody waits a minute to hear that the lead is out.

    Nor is the whole list sent into it. Where a JACK server has ended, a ring of 16 KiB fills up and the library below
    waits in it for ever, so what goes out unanswered must stay far below that.
    """
    begin = time.monotonic()
    out, back = loopback_pair()
    _, silent = loopback_pair()
    with Link(out, silent, "worn plug") as link:
        heard = exchange(link, BURST, 60)

        assert heard == b""
        assert time.monotonic() - begin < 10
        assert 1_000 < len(b"".join(back.poll())) < 4_096


def test_the_deadline_holds_where_bytes_keep_failing_to_come() -> None:
    """A proof ends when it says that it ends."""
    begin = time.monotonic()
    with lossy_link(iter(lambda: True, None)) as link:
        back = exchange(link, BURST, 0.2)

    assert back == b""
    assert 0.2 <= time.monotonic() - begin < 1.0


def test_a_closed_link_is_an_error_and_no_crash(link: Link) -> None:
    """python-rtmidi itself would end the whole program here."""
    link.close()
    link.close()

    with pytest.raises(PortError, match=r"is closed\. Open it again"):
        exchange(link, [b"\xc0\x05"], 1)
    with pytest.raises(PortError, match=r"is closed\. Open it again"):
        link.back.poll()


def test_an_empty_message_is_refused(link: Link) -> None:
    """Nothing is no message; it would vanish without a word."""
    with pytest.raises(ValueError, match="message: found no bytes"):
        link.out.send(b"")


def test_reading_waits_for_so_many_messages_or_to_a_deadline(link: Link) -> None:
    """Whoever reads by hand never hangs."""
    for message in BURST[:3]:
        link.out.send(message)

    assert link.back.read(3, seconds=5) == BURST[:3]
    assert link.back.read(1, seconds=0.05) == []
