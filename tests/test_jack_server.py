"""The JACK server that the tests start: real ports on a machine with no sound card."""

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests.support.jack import JackError, JackServer, jack_server

rtmidi = pytest.importorskip("rtmidi", reason="python-rtmidi is not installed or does not load", exc_type=ImportError)
pytestmark = pytest.mark.jack


ACTIVE_SENSING = [0xFE]


@contextmanager
def connected_ports() -> Iterator[tuple[Any, Any]]:
    """Give two ends that are known to hear each other: a new connection may swallow what is sent at once."""
    source = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name="source")
    target = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name="target", queue_size_limit=4096)
    source.open_virtual_port("out")
    target.ignore_types(False, False, False)
    target.open_port(next(n for n, name in enumerate(target.get_ports()) if name.startswith("source:")))
    deadline = time.monotonic() + 5
    while not received(target, 1, seconds=0.05) and time.monotonic() < deadline:
        source.send_message(ACTIVE_SENSING)
    yield source, target
    source.delete()
    target.delete()


def received(target: Any, count: int, *, seconds: float) -> list[list[int]]:
    """Poll until this many messages have arrived, or until the time is over; return them."""
    arrived: list[list[int]] = []
    deadline = time.monotonic() + seconds
    while len(arrived) < count and time.monotonic() < deadline:
        message = target.get_message()
        if message is None:
            time.sleep(0.0002)
        else:
            arrived.append(message[0])
    return arrived


def test_messages_cross_the_server_whole_and_in_order(jack: JackServer) -> None:
    """Nothing sent through a real port may be lost or turned round, or a proof would prove nothing."""
    messages = [[0xB0, number // 128, number % 128] for number in range(200)]

    with connected_ports() as (source, target):
        for message in messages:
            source.send_message(message)
        arrived = [message for message in received(target, 250, seconds=1.0) if message != ACTIVE_SENSING]

    assert arrived == messages


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


def test_a_server_that_cannot_start_is_named_with_its_own_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Somebody whose tests can't start a server sees why instead of a wait without end."""
    monkeypatch.setattr("tests.support.jack._DRIVER", ["-d", "nonesuch"])

    with pytest.raises(JackError, match="nonesuch"), jack_server(f"scenebook-none-{os.getpid()}", tmp_path):
        pass
