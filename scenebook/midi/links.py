"""Find ports by name, and make the link that a proof sends through.

A link is an output and the input on which its bytes come back. Where the machine has no MIDI system the
built-in loopback serves, and the link says why.
"""

import itertools
import os
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from typing import Final, Literal, Self

from scenebook.errors import PortError
from scenebook.midi.names import listed_ports, port_named
from scenebook.midi.ports import LOOPBACK, POLL_S, InPort, OutPort, PortInfo, loopback_pair
from scenebook.midi.system import MidiSystem, find_systems

__all__ = ["Link", "open_link", "open_output", "ports"]

_PROBES: Final = 6
_PROBE_S: Final = 0.25
_count = itertools.count(1)


@dataclass(frozen=True, slots=True)
class Link:
    """An output, and the input on which what is sent comes back. A context manager that closes both.

    `kind` is in plain words: "system port by JACK", "built-in loopback". `reason` says why the loopback serves
    and is empty for a system port.
    """

    out: OutPort
    back: InPort
    kind: str
    reason: str = ""

    def close(self) -> None:
        """Let go of both ports; closing twice is harmless."""
        self.out.close()
        self.back.close()

    def __enter__(self) -> Self:
        """Return the link itself."""
        return self

    def __exit__(self, *exc_info: object) -> None:
        """Close both ports."""
        self.close()


def ports() -> list[PortInfo]:
    """Return every port there is but our own: those of each MIDI system that answers, then the built-in loopback.

    Where there is no MIDI system only the loopback comes back, and nothing is raised.
    """
    found: list[PortInfo] = []
    for system in find_systems()[0]:
        found += [PortInfo(name, "out", system.name) for name in system.outputs()]
        found += [PortInfo(name, "in", system.name) for name in system.inputs()]
    return [*found, PortInfo(LOOPBACK, "both", LOOPBACK)]


def open_link(*, name: str | None = None, prefer: Literal["system", "loopback"] = "system") -> Link:
    """Open the link for a proof.

    With `name`, to the output port of that name and back from whichever input its bytes arrive on: a loop lead,
    or a virtual through port. An exclusive message with the number for non-commercial use (7D) is sent to find
    out. Without a name a port of our own is made and joined on the system, or the loopback serves.

    Raises:
        PortError: no port of that name, several, or nothing comes back from it.
    """
    if name is not None:
        return _named_link(name)
    if prefer == "loopback":
        return _loopback("asked for")
    systems, reason = find_systems()
    reasons = [reason] if reason else []
    for system in systems:
        try:
            return _own_link(system)
        except PortError as error:
            reasons.append(f"{system.name}: {error.found}")
    return _loopback("; ".join(reasons))


def open_output(name: str | None = None) -> OutPort:
    """Open an output port to play through; without a name, the only one there is.

    Names match exactly, without regard to case, or by a unique beginning.

    Raises:
        PortError: no port of that name, or several; it lists what there is.
    """
    outputs = _all_outputs()
    if name is None:
        if not outputs:
            raise PortError("there is no MIDI port to send to", remedy="Connect a MIDI interface")
        if len(outputs) != 1:
            raise PortError(
                f"{len(outputs)} output ports are there: {listed_ports([port for _, port in outputs])}",
                remedy="Name one with --port",
            )
        system, port = outputs[0]
    else:
        system, port = _match(name, outputs, besides=())
    return system.open_output(port)


def _all_outputs() -> list[tuple[MidiSystem, str]]:
    return [(system, port) for system in find_systems()[0] for port in system.outputs()]


def _loopback(reason: str) -> Link:
    out, back = loopback_pair()
    return Link(out, back, LOOPBACK, reason)


def _own_link(system: MidiSystem) -> Link:
    """Make an input port of our own, join an output to it, and see that bytes pass."""
    token = f"proof-{os.getpid()}-{next(_count)}"  # the system decorates names, so ours is looked for inside them
    with ExitStack() as undo:
        back = undo.enter_context(system.make_input(token))
        full_name = next((port for port in system.outputs(token) if token in port), None)
        if full_name is None:
            raise PortError("a port of our own cannot be seen by others")
        out = undo.enter_context(system.open_output(full_name))
        if _answering(out, [back]) is None:
            raise PortError("what is sent to a port of our own does not arrive")
        undo.pop_all()
    return Link(out, back, f"system port by {system.name}")


def _named_link(name: str) -> Link:
    if name.casefold() in (LOOPBACK, "loopback"):
        return _loopback("asked for by name")
    system, full_name = _match(name, _all_outputs())
    with ExitStack() as undo:
        # The inputs first: on JACK our own output is one that can be read, and would answer instead of the lead.
        inputs = [undo.enter_context(port) for port in _inputs_that_open(system)]
        out = undo.enter_context(system.open_output(full_name))
        back = _answering(out, inputs)
        if back is None:
            raise PortError(
                f"nothing comes back from the port '{full_name}'",
                accepted="a port whose messages arrive on an input; "
                f"listened to: {listed_ports(port.name for port in inputs)}",
                remedy="Put a MIDI lead from that output to an input, or choose a virtual through port",
            )
        undo.pop_all()
    for port in inputs:
        if port is not back:
            port.close()
    return Link(out, back, f"system port by {system.name}")


def _inputs_that_open(system: MidiSystem) -> Iterator[InPort]:
    for name in system.inputs():
        try:
            port = system.open_input(name)
        except PortError:  # held by another program: then it cannot be the way back
            continue
        yield port


def _answering(out: OutPort, inputs: Sequence[InPort]) -> InPort | None:
    """Return the input on which something sent to `out` arrives, or None if nothing does.

    Asked several times, since a connection just made may not carry yet. The probe is an exclusive message with the
    number for non-commercial use, which every unit ignores.
    """
    for _ in range(_PROBES):
        number = next(_count)
        probe = bytes((0xF0, 0x7D, os.getpid() % 128, number // 128 % 128, number % 128, 0xF7))
        out.send(probe)
        port = _port_that_hears(probe, inputs)
        if port is not None:
            return port  # earlier probes went before this one: none is under way any more
    return None


def _port_that_hears(message: bytes, inputs: Sequence[InPort]) -> InPort | None:
    end = time.monotonic() + _PROBE_S
    while time.monotonic() < end:
        for port in inputs:
            if message in port.poll():
                return port
        time.sleep(POLL_S)
    return None


def _match(
    name: str, outputs: Sequence[tuple[MidiSystem, str]], *, besides: tuple[str, ...] = (LOOPBACK,)
) -> tuple[MidiSystem, str]:
    """Return the one output meant by `name`; `besides` is what else would have been accepted.

    The same name on two systems is the same port, and the preferred system comes first.
    """
    port = port_named(name, [port for _, port in outputs], besides=besides)
    return next(each for each in outputs if each[1] == port)
