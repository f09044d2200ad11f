"""The JACK server that the tests start: real ports on a machine with no sound card."""

import os
import time
from pathlib import Path

import pytest

from tests.support.jack import JackError, JackServer, jack_server

pytestmark = pytest.mark.jack


def burst_through_virtual_ports(count: int) -> list[list[int]]:
    """Send this many control changes from one virtual port to another and return what arrived within 5 s."""
    import rtmidi

    source = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name="source")
    target = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name="target", queue_size_limit=count + 1)  # a ring: one stays free
    source.open_virtual_port("out")
    target.ignore_types(False, False, False)
    target.open_port(next(n for n, name in enumerate(target.get_ports()) if name.startswith("source:")))
    for number in range(count):
        source.send_message([0xB0, number // 128 % 120, number % 128])
    arrived: list[list[int]] = []
    deadline = time.monotonic() + 5
    while len(arrived) < count and time.monotonic() < deadline:
        message = target.get_message()
        if message is None:
            time.sleep(0.0002)
        else:
            arrived.append(message[0])
    source.delete()
    target.delete()
    return arrived


def test_messages_cross_the_server_whole_and_in_order(jack: JackServer) -> None:
    """Nothing sent through a real port may be lost or turned round, or a proof would prove nothing."""
    arrived = burst_through_virtual_ports(200)

    assert arrived == [[0xB0, number // 128, number % 128] for number in range(200)]


def test_a_test_that_asks_for_jack_finds_its_own_server(jack: JackServer) -> None:
    """Two test runs on one machine never meet on one server."""
    assert jack.answers()
    assert os.environ["JACK_DEFAULT_SERVER"] == jack.name
    assert str(os.getpid()) in jack.name


def test_a_function_runs_against_a_server_and_the_environment_comes_back(tmp_path: Path) -> None:
    """A test that needs a server of its own leaves no trace for the next one."""
    before = dict(os.environ)

    with jack_server(f"scenebook-own-{os.getpid()}", tmp_path) as server:
        inside = server.run(lambda: os.environ["JACK_DEFAULT_SERVER"])

    assert inside == server.name
    assert dict(os.environ) == before
    assert not server.answers()


def test_a_server_of_somebody_else_is_never_taken_for_ours(tmp_path: Path) -> None:
    """Messages of two test runs on one server would prove each other's lists."""
    with jack_server(f"scenebook-twice-{os.getpid()}", tmp_path) as first:
        with pytest.raises(JackError, match="already runs"), jack_server(first.name, tmp_path):
            pass

        assert first.answers()


def test_a_server_that_cannot_start_is_named_with_its_own_words(tmp_path: Path) -> None:
    """Somebody whose tests can't start a server sees why instead of a wait without end."""
    too_long = "scenebook-" + "x" * 200

    with pytest.raises(JackError, match="ended with code"), jack_server(too_long, tmp_path):
        pass
