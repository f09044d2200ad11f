"""A gig on real ports goes on while the far end vanishes: a receiver, a footswitch, the JACK server itself."""

import os
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import psutil
import pytest

from scenebook.errors import PortError
from scenebook.live.acts import Act, Verb
from scenebook.live.caller import Caller
from scenebook.live.engine import Engine
from scenebook.live.snapshot import PortState
from scenebook.midi import ports as listed
from scenebook.midi.carrier import client_name
from scenebook.midi.watching import WatchedPorts
from scenebook.model.on_stage import Wire
from tests.support.build import GIG, RIG
from tests.support.far_end import Box, Pedal
from tests.support.jack import JackServer, jack_server
from tests.support.running import CHORUS, FIRST, SECOND, Kept, library_on_stage

pytestmark = pytest.mark.jack

STEPS = [{"does": "next", "channel": 16, "note": 60}]
PRESS, RELEASE = "9F 3C 64", "8F 3C 40"
VERSE_FULL = ["B0 50 00", "B2 52 00", "C1 01", "B1 14 40"]
CHORUS_LEAN = ["B1 14 66", "B0 50 7F", "B2 52 7F", "93 3C 64", "83 3C 40"]
CHORUS_FULL = ["C1 01", "B0 50 7F", "B2 52 7F", "B1 14 66"]


def until(holds: Callable[[], bool], seconds: float = 10.0) -> float:
    """Wait for something, to a deadline; return how long it took."""
    begun = time.monotonic()
    while not holds():
        assert time.monotonic() - begun < seconds, "it has not come to pass"
        time.sleep(0.002)
    return time.monotonic() - begun


@pytest.fixture
def own_server(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[], JackServer]]:
    """Give the function that starts a server of this test's own name, again and again."""
    name = f"scenebook-gig-{os.getpid()}"
    monkeypatch.setenv("JACK_DEFAULT_SERVER", name)
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")
    with ExitStack() as stack:
        yield lambda: stack.enter_context(jack_server(name, tmp_path))


@contextmanager
def running_gig(journal: Kept | None = None) -> Iterator[tuple[Engine, WatchedPorts]]:
    library = library_on_stage(steps=STEPS)
    ports, caller = WatchedPorts(), Caller(library, GIG, RIG)
    wires = {"front": Wire(midi="stage box", plug="usb")}
    engine = Engine(caller, ports, Kept() if journal is None else journal, wires, library=library, gig=GIG, rig=RIG)
    engine.start()
    yield engine, ports
    engine.close()
    ports.close()


def is_there(engine: Engine) -> bool:
    return engine.snapshot.ports[0].state is PortState.THERE


def carriers() -> list[psutil.Process]:
    return [child for child in psutil.Process().children() if "carrier.py" in " ".join(child.cmdline())]


def pressed(pedal: Pedal, engine: Engine) -> None:
    """Press until the gig steps: a connection just made may swallow the first message."""
    place = engine.snapshot.step.place
    end = time.monotonic() + 10
    while engine.snapshot.step.place == place and time.monotonic() < end:
        pedal.send(PRESS)
        pedal.send(RELEASE)
        time.sleep(0.2)


def test_a_gig_outlives_its_receiver_and_the_jack_server(
    own_server: Callable[[], JackServer], tell: Callable[[str], None]
) -> None:
    """A lead is pulled and put back; then the sound server dies in the middle of a song and is started again."""
    server = own_server()
    box, pedal = Box("stage box"), Pedal("floor")
    with running_gig() as (engine, _):
        until(lambda: is_there(engine))
        pressed(pedal, engine)
        assert (engine.snapshot.step.place, box.take(VERSE_FULL)) == (FIRST, VERSE_FULL)

        box.stop()
        until(lambda: not is_there(engine))
        assert engine.ask(Act(Verb.NEXT)).step.place == CHORUS
        box = Box("stage box")
        back = until(lambda: is_there(engine))
        assert box.take(CHORUS_FULL) == CHORUS_FULL
        tell(f"a receiver that was back was sent the scene after {back * 1000:.0f} ms")

        begun = time.monotonic()
        server.kill()
        until(lambda: not is_there(engine))
        gone = time.monotonic() - begun
        begun = time.monotonic()
        assert engine.ask(Act(Verb.NEXT)).step.place == SECOND
        assert engine.ask(Act(Verb.BACK)).step.place == CHORUS
        asked = time.monotonic() - begun
        box.stop(), pedal.stop()
        own_server()
        box, pedal = Box("stage box"), Pedal("floor")
        back = until(lambda: is_there(engine), 20)
        assert box.take(CHORUS_FULL) == CHORUS_FULL
        pressed(pedal, engine)
        assert engine.snapshot.step.place == SECOND
        tell(
            f"that the JACK server had died showed after {gone * 1000:.0f} ms, two steps then took "
            f"{asked * 1000:.1f} ms, and the ports were back {back * 1000:.0f} ms after it"
        )
        box.stop(), pedal.stop()
    assert carriers() == []


def test_a_receiver_that_is_back_at_once_gets_the_scene(own_server: Callable[[], JackServer]) -> None:
    """A unit that restarts in less time than anybody looks: its port has never seemed to be gone."""
    own_server()
    box = Box("stage box")
    with running_gig() as (engine, _):
        until(lambda: is_there(engine))
        engine.ask(Act(Verb.NEXT))
        assert box.take(VERSE_FULL) == VERSE_FULL
        restarted = Box("second box")  # the same process start, so that only its name has to change hands
        restarted.stop()
        box.stop()
        box = Box("stage box")

        assert box.take(VERSE_FULL) == VERSE_FULL
        box.stop()


def test_ports_are_listed_opened_and_closed_without_ours_among_them(own_server: Callable[[], JackServer]) -> None:
    """What the gig opens for itself is nothing that could be listened to."""
    own_server()
    box, pedal = Box("stage box"), Pedal("floor")
    ports = WatchedPorts()
    until(lambda: len(ports.outputs()) == len(ports.inputs()) == 1)
    out, back = ports.open_output("STAGE"), ports.open_input("floor")
    time.sleep(0.3)

    assert (ports.outputs(), ports.inputs()) == (("stage box:in",), ("floor:out",))
    assert [port.name for port in listed()] == ["stage box:in", "floor:out", "built-in loopback"]
    assert len(carriers()) == 3  # the watcher is one
    for carrier in carriers():
        with pytest.raises(PortError, match="there is no output port 'scenebook stand"):
            ports.open_output(f"{client_name(carrier.pid)}:in")
    long = "F0 7D " + "01 " * 6_000 + "F7"
    out.send(bytes.fromhex("C0 05"))
    out.send(bytes.fromhex(long))
    assert box.take(["C0 05"]) == ["C0 05"]
    pedal.send(PRESS)
    assert back.read(1, seconds=5) == [bytes.fromhex(PRESS)]
    for port in (out, back):
        port.close()
        port.close()
    with pytest.raises(PortError, match="is closed"):
        out.send(b"\xc0\x05")
    with pytest.raises(PortError, match="is closed"):
        back.poll()
    with pytest.raises(ValueError, match="found no bytes"):
        ports.open_output("stage").send(b"")
    box.stop(), pedal.stop(), ports.close()
    assert carriers() == []


def test_a_carrier_that_is_killed_is_a_port_that_is_gone_and_comes_back(
    own_server: Callable[[], JackServer],
) -> None:
    """Whatever ends it, the gig opens another."""
    own_server()
    box = Box("stage box")
    with running_gig() as (engine, _):
        until(lambda: is_there(engine))
        for carrier in carriers():
            carrier.terminate()
        engine.ask(Act(Verb.NEXT))
        until(lambda: not is_there(engine))
        until(lambda: is_there(engine))

        assert box.take(VERSE_FULL) == VERSE_FULL
        box.stop()


def test_a_carrier_that_is_killed_between_two_steps_costs_no_step(
    own_server: Callable[[], JackServer], tell: Callable[[str], None]
) -> None:
    """Nothing is sent at that moment, so only its end itself can tell; and the port is opened anew at once."""
    own_server()
    box, journal = Box("stage box"), Kept()
    with running_gig(journal) as (engine, _):
        until(lambda: is_there(engine))
        engine.ask(Act(Verb.NEXT))
        assert box.take(VERSE_FULL) == VERSE_FULL
        time.sleep(1.1)
        changes = journal.kinds().count("port")

        for carrier in carriers():
            if "out" in carrier.cmdline():
                carrier.terminate()
        known = until(lambda: journal.kinds().count("port") > changes)
        back = until(lambda: is_there(engine))

        tell(f"a carrier that ended showed after {known * 1000:.0f} ms, the port was back {back * 1000:.0f} ms later")
        assert known + back < 1.0
        assert box.take(VERSE_FULL) == VERSE_FULL
        assert engine.ask(Act(Verb.NEXT)).step.place == CHORUS
        assert box.take(CHORUS_LEAN) == CHORUS_LEAN
        box.stop()


def test_a_port_that_is_not_there_is_said_as_everywhere(own_server: Callable[[], JackServer]) -> None:
    """The same sentence as without a gig."""
    own_server()
    box = Box("stage box")
    ports = WatchedPorts()
    until(lambda: bool(ports.outputs()))

    with pytest.raises(PortError, match=r"there is no output port 'stage bix'.*The nearest is 'stage box:in'"):
        ports.open_output("stage bix")
    with pytest.raises(PortError, match=r"there is no input port 'floor'"):
        ports.open_input("floor")
    ports.close(), box.stop()


def test_without_any_midi_system_a_gig_runs_by_hand() -> None:
    """A laptop with no interface still shows what to press."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("JACK_DEFAULT_SERVER", "scenebook-nobody-runs-this")
        patch.setenv("JACK_NO_START_SERVER", "1")
        with running_gig() as (engine, ports):
            assert engine.ask(Act(Verb.NEXT)).step.place == FIRST
            assert (is_there(engine), "stage box:in" in ports.outputs()) == (False, False)
