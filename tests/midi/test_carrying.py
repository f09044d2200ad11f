"""The processes that carry ports may die, hang or say half a line: the gig notices, and nothing of it ends."""

import os
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from scenebook.errors import PortError
from scenebook.midi import carrier, carrying, watching
from scenebook.midi.carrying import CarriedIn, CarriedOut, Leaving
from scenebook.midi.watching import WatchedPorts


def until(holds: Callable[[], bool], seconds: float = 10.0) -> None:
    """Wait for something, to a deadline."""
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end, "it has not come to pass"
        time.sleep(0.005)


@pytest.fixture
def ports(monkeypatch: pytest.MonkeyPatch) -> Iterator[WatchedPorts]:
    """Give the ports of a machine on which no JACK server runs."""
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "scenebook-nobody-runs-this")
    made = WatchedPorts()
    yield made
    made.close()


def carried(command: str, leave: Callable[[CarriedOut], None] = lambda port: None) -> CarriedOut:
    """Return an output whose carrier is a piece of shell."""
    process = subprocess.Popen(["sh", "-c", command], stdin=subprocess.PIPE, stdout=subprocess.PIPE, bufsize=0)
    return CarriedOut("box", process, leave)


def ended(port: CarriedOut | CarriedIn) -> None:
    """Tidy up after a test."""
    leaving = Leaving()
    leaving.let_go(port.process)
    leaving.reap(1)


@pytest.mark.parametrize("seconds", [-0.001, 0.0, 0.001])
def test_a_wait_for_an_input_that_is_closed_meanwhile_ends_without_a_fault(
    ports: WatchedPorts, seconds: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A clock byte that is due already makes the time to wait negative."""
    port = carried("cat")
    monkeypatch.setattr(ports, "_open", {port.descriptor: port})
    ended(port)  # its descriptor is none any more

    ports.wait(seconds)


def test_a_carrier_that_ends_by_itself_is_noticed_while_nothing_is_sent(ports: WatchedPorts) -> None:
    """Not only at the next step, which would be lost."""
    port = carried("exit")
    ports._keep(port)
    changes = ports.changes

    def is_cut() -> bool:
        ports.wait(0.05)
        return port.is_cut

    until(is_cut)

    assert ports.changes == changes + 1
    begun = time.monotonic()
    ports.wait(0.02)
    ports.wait(0.02)  # and it is told once: waiting goes on
    assert time.monotonic() - begun > 0.015
    ended(port)


def test_a_watcher_that_cannot_be_started_is_started_again(
    ports: WatchedPorts, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A machine that has no process to spare has one a moment later."""
    start, refusals = carrying.started, [OSError(11, "no process"), OSError(11, "no process")]

    def refused_at_first(*arguments: str) -> "subprocess.Popen[bytes]":
        if refusals:
            raise refusals.pop()
        return start(*arguments)

    monkeypatch.setattr(carrying, "started", refused_at_first)
    first = ports._watcher
    assert first is not None
    first.kill()

    until(lambda: not refusals and ports._watcher not in (None, first))
    assert ports._thread.is_alive()


@pytest.mark.parametrize("said", ['{"system": "API_UNIX_JA', "null", '{"system": 7}', '{"system": [], "gone": 1}'])
def test_a_watcher_that_says_nonsense_is_started_again(
    ports: WatchedPorts, said: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """It was ended while it wrote."""
    start, calls = carrying.started, list[int]()

    def babbling_at_first(*arguments: str) -> "subprocess.Popen[bytes]":
        calls.append(1)
        if len(calls) > 1:
            return start(*arguments)
        command = ["sh", "-c", f"printf '%s\\n' '{said}'; sleep 5"]
        return subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE)

    monkeypatch.setattr(carrying, "started", babbling_at_first)
    first = ports._watcher
    assert first is not None
    first.kill()

    until(lambda: len(calls) == 2)
    assert ports._thread.is_alive()


def test_a_new_watcher_says_that_nothing_is_there(ports: WatchedPorts, monkeypatch: pytest.MonkeyPatch) -> None:
    """JACK and the watcher died together: what the old one saw is not there any more."""
    monkeypatch.setattr(ports, "_there", {"API_UNIX_JACK": watching._There(("box:in",), ("floor:out",))})
    assert ports.outputs() == ("box:in",)
    assert ports._watcher is not None

    ports._watcher.kill()

    until(lambda: ports.outputs() == ports.inputs() == ())


def test_carriers_that_are_let_go_of_from_many_threads_are_all_taken_in() -> None:
    """Two ports that are opened at once both look for what has ended."""
    leaving = Leaving()
    for _ in range(30):
        leaving.let_go(subprocess.Popen(["true"]))
    time.sleep(0.3)

    with ThreadPoolExecutor(8) as threads:
        for done in [threads.submit(leaving.reap) for _ in range(64)]:
            done.result()
    leaving.reap(1)

    assert leaving._processes == []


def test_ports_opened_and_closed_from_many_threads_are_all_counted(ports: WatchedPorts) -> None:
    """Each port is opened by a thread of its own; every change has to be seen."""
    changes = ports.changes

    def come_and_go() -> None:
        port = carried("cat", ports._leave)
        ports._keep(port)
        port.close()

    with ThreadPoolExecutor(8) as threads:
        for done in [threads.submit(come_and_go) for _ in range(40)]:
            done.result()

    assert (ports.changes - changes, dict(ports._open)) == (40, {})


def test_waking_after_the_end_writes_into_nobody_elses_file(monkeypatch: pytest.MonkeyPatch) -> None:
    """A descriptor is given to the next who asks."""
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "scenebook-nobody-runs-this")
    ports = WatchedPorts()
    ports.close()
    ends = os.pipe()
    for end in ends:
        os.set_blocking(end, False)

    ports.wake()

    with pytest.raises(BlockingIOError):
        os.read(ends[0], 1)
    for end in ends:
        os.close(end)


def test_a_long_message_to_a_carrier_that_ends_is_a_port_that_is_gone() -> None:
    """Longer than a pipe takes at once, so that the end comes in the middle."""
    port = carried("head -c 1000 >/dev/null")

    with pytest.raises(PortError, match="'box' is gone"):
        port.send(b"\xf0" + bytes(300_000) + b"\xf7")
    ended(port)


def test_a_long_message_to_a_carrier_that_takes_nothing_is_given_up() -> None:
    """It may not hold up the gig for longer than a blink, nor burn a processor meanwhile."""
    port, used = carried("sleep 3"), time.thread_time()

    with pytest.raises(PortError, match="takes nothing more"):
        port.send(b"\xf0" + bytes(300_000) + b"\xf7")

    assert time.thread_time() - used < 0.04
    port.process.kill()
    ended(port)


def test_messages_of_any_length_keep_their_frames() -> None:
    """A bank of samples as SysEx comes in while the gig listens for footswitches."""
    messages = [b"\xc0\x05", b"\xf0" + bytes(200_000) + b"\xf7", b"\xf8"]
    whole = b"".join(map(carrier.frame, messages))
    buffer, heard = bytearray(), list[bytes]()
    for at in range(0, len(whole), 65_536):
        buffer += whole[at : at + 65_536]
        heard += carrier.frames(buffer)

    assert heard == messages
    assert not buffer


def test_many_threads_may_wake_a_wait(ports: WatchedPorts) -> None:
    """Pages, workers and the player's key all do."""
    threads = [threading.Thread(target=ports.wake) for _ in range(20)]
    for thread in threads:
        thread.start()
    begun = time.monotonic()
    ports.wait(5)

    assert time.monotonic() - begun < 1
    for thread in threads:
        thread.join()
