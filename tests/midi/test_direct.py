"""Where ports are opened in the gig's own process, they are found, listened to and sent to just the same."""

import time
from collections.abc import Callable

import pytest

from scenebook.errors import PortError
from scenebook.midi.direct import DirectPorts, machine_ports
from tests.support.far_end import Box, Pedal
from tests.support.jack import JackServer

pytestmark = pytest.mark.jack


def until(holds: Callable[[], bool], seconds: float = 10.0) -> None:
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end, "it has not come to pass"
        time.sleep(0.005)


def test_ports_come_and_go_and_carry_messages(jack: JackServer) -> None:
    """The gig asks the same of them as of ports that another process carries."""
    ports = machine_ports("nt")
    assert isinstance(ports, DirectPorts)
    box, pedal = Box("stage box"), Pedal("floor")
    until(lambda: len(ports.outputs()) == 1 and len(ports.inputs()) == 1)
    changes = ports.changes
    out, back = ports.open_output("Stage"), ports.open_input("floor")
    time.sleep(0.1)

    out.send(b"\xc0\x05")
    assert box.take(["C0 05"]) == ["C0 05"]
    pedal.send("9F 3C 64")
    assert back.read(1, seconds=5) == [b"\x9f\x3c\x64"]
    out.close(), back.close()
    box.stop(), pedal.stop()
    until(lambda: ports.outputs() == ports.inputs() == ())
    assert ports.changes > changes
    with pytest.raises(PortError, match="there is no output port 'stage'"):
        ports.open_output("stage")
    with pytest.raises(PortError, match="there is no input port 'floor'"):
        ports.open_input("floor")
    ports.close()


def test_a_wait_ends_when_somebody_wakes_it(jack: JackServer) -> None:
    """An act must not wait for a port."""
    ports = machine_ports("nt")
    ports.wake()
    begun = time.monotonic()
    ports.wait(5)

    assert time.monotonic() - begun < 1
    ports.close()
