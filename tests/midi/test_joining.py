"""A port is joined by its place in a list that shifts; what is joined is the port that was meant, or none."""

from collections.abc import Callable, Iterator

import pytest

from scenebook.errors import PortError
from scenebook.midi import carrier
from scenebook.midi.carrier import UnjoinedError, join
from scenebook.midi.system import RtMidiSystem

rtmidi = pytest.importorskip("rtmidi", reason="python-rtmidi has no wheel for this Python")

BOX = "stage box:in"
STILL = [BOX]
SHIFTED = ["scenebook stand 18099:in", BOX]
Lists = Iterator[list[str]]


class Client:
    """A client in the place of python-rtmidi's: a real server shifts its list when it pleases, this one when asked.

    `lists` are what is there at each look in turn; opening looks as well, as the library's own does.
    """

    def __init__(self, lists: Lists) -> None:
        self._lists = lists
        self.joined: str | None = None
        self.tries = 0
        self.heard: list[bytes] = []
        self.is_deleted = False

    def get_ports(self) -> list[str]:
        return next(self._lists)

    def open_port(self, index: int, name: str) -> None:
        self.tries += 1
        there = next(self._lists)
        if index >= len(there):
            raise rtmidi.InvalidPortError("invalid port number")
        self.joined = there[index]
        self.heard.append(b"from whatever is joined")

    def close_port(self) -> None:
        self.joined = None

    def get_message(self) -> bytes | None:
        return self.heard.pop() if self.heard else None

    def delete(self) -> None:
        self.is_deleted = True


def always_shifting() -> Lists:
    while True:
        yield from (STILL, SHIFTED, SHIFTED)


def always_shorter() -> Lists:
    while True:
        yield from (SHIFTED, STILL)


def test_a_list_that_holds_still_is_opened_once() -> None:
    """The ordinary evening."""
    client = Client(iter([SHIFTED] * 3))

    join(client, BOX, "out")

    assert (client.joined, client.tries) == (BOX, 1)


def test_a_list_that_shifts_once_while_it_is_opened_is_opened_again() -> None:
    """The input that the gig opened at the same moment stood where the box had stood, and took all that was sent."""
    client = Client(iter([STILL, SHIFTED, SHIFTED, *[SHIFTED] * 3]))

    join(client, BOX, "out")

    assert (client.joined, client.tries) == (BOX, 2)
    assert client.heard == [b"from whatever is joined"]  # what the wrong port said is forgotten


def test_a_list_that_becomes_shorter_while_it_is_opened_is_opened_again() -> None:
    """The library then finds no port at the index at all."""
    client = Client(iter([SHIFTED, STILL, *[STILL] * 3]))

    join(client, BOX, "out")

    assert (client.joined, client.tries) == (BOX, 2)


def test_a_port_that_goes_between_two_tries_is_gone() -> None:
    """It was pulled out, which shifts the list as well."""
    client = Client(iter([SHIFTED, *[["floor:in"]] * 5]))

    with pytest.raises(UnjoinedError, match="is gone"):
        join(client, BOX, "out")


def test_a_port_that_one_look_misses_is_joined_at_the_next() -> None:
    """The library reads name by name, and a list that shifts meanwhile may show none of them where it is."""
    client = Client(iter([["floor:in"], *[STILL] * 3]))

    join(client, BOX, "out")

    assert (client.joined, client.tries) == (BOX, 1)


@pytest.mark.parametrize("lists", [always_shifting, always_shorter])
def test_a_list_that_never_holds_still_joins_nothing(
    lists: Callable[[], Lists], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Five tries, then the player is told: better no port than another's."""
    client = Client(lists())
    system = RtMidiSystem("JACK", rtmidi.API_UNIX_JACK)
    monkeypatch.setattr(system, "_client", lambda kind: client)

    with pytest.raises(PortError, match=f"the port '{BOX}' cannot be told from others: the list of ports shifts"):
        system.open_output(BOX)

    assert (client.tries, client.joined, client.is_deleted) == (5, None, True)


@pytest.mark.parametrize("way", ["in", "out"])
def test_a_system_joins_the_port_that_was_meant(way: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A proof and a sent cue go the same way."""
    client = Client(iter([STILL, *[SHIFTED] * 5]))
    system = RtMidiSystem("JACK", rtmidi.API_UNIX_JACK)
    monkeypatch.setattr(system, "_client", lambda kind: client)

    (system.open_input if way == "in" else system.open_output)(BOX)

    assert (client.joined, client.tries) == (BOX, 2)


def test_a_carrier_joins_the_port_that_was_meant_or_says_why_not(monkeypatch: pytest.MonkeyPatch) -> None:
    """The gig reads the carrier's first words and tries again a moment later."""
    clients = [Client(always_shifting()), Client(iter([STILL, *[SHIFTED] * 5]))]
    monkeypatch.setattr(rtmidi, "MidiOut", lambda api, name: clients[-1])

    assert carrier._opened("out", "API_UNIX_JACK", BOX) is clients[-1]
    assert (clients.pop().joined, clients[-1].joined) == (BOX, None)
    with pytest.raises(RuntimeError, match=r"^it cannot be told from others: the list of ports shifts at each look$"):
        carrier._opened("out", "API_UNIX_JACK", BOX)
    assert (clients[-1].tries, clients[-1].joined, clients[-1].is_deleted) == (5, None, True)
