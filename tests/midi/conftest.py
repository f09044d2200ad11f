"""Ports for the tests of the wire: links of both kinds, and a virtual through on a real server."""

import threading
import time
from collections.abc import Iterator

import pytest

from scenebook.midi import Link, open_link
from tests.support.jack import JackServer


@pytest.fixture
def jack_link(jack: JackServer) -> Iterator[Link]:
    """A link through real ports of a JACK server."""
    with open_link() as link:
        yield link


@pytest.fixture(params=["loopback", pytest.param("system", marks=pytest.mark.jack)])
def link(request: pytest.FixtureRequest) -> Iterator[Link]:
    """A link of each kind in turn: what is asked of one is asked of the other."""
    if request.param == "system":
        request.getfixturevalue("jack")
    with open_link(prefer=request.param) as link:
        yield link


@pytest.fixture
def through(jack: JackServer) -> Iterator[str]:
    """The output port of a virtual through: another client, which gives back on its own output what it hears."""
    import rtmidi

    heard = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name="loop lead", queue_size_limit=10_000)
    heard.ignore_types(sysex=False, timing=False, active_sense=False)
    heard.open_virtual_port("to the lead")
    given = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name="lead's end")
    given.open_virtual_port("from the lead")
    stop = threading.Event()
    thread = threading.Thread(target=carry, args=(heard, given, stop))
    thread.start()
    yield "loop lead:to the lead"
    stop.set()
    thread.join()
    heard.delete()
    given.delete()


def carry(heard: "object", given: "object", stop: threading.Event) -> None:
    """Hand on every message until told to stop."""
    while not stop.is_set():
        item = heard.get_message()  # type: ignore[attr-defined]
        if item is None:
            time.sleep(0.0002)
        else:
            given.send_message(item[0])  # type: ignore[attr-defined]
