"""Which MIDI port of this computer serves each port of a rig on stage, and which inputs are listened to."""

from collections.abc import Mapping, Sequence

from scenebook.errors import PortError
from scenebook.live.rig_ports import all_wires
from scenebook.midi import InPort, OutPort
from scenebook.midi.direct import MachinePorts
from scenebook.midi.names import port_named
from scenebook.midi.ports import LOOPBACK
from scenebook.model import Rig, find_name
from scenebook.model.base import place_text
from scenebook.model.on_stage import Wire
from scenebook.model.stage_checks import check_sent_once

__all__ = ["OnlyInputs", "checked_names", "wires_of"]


class OnlyInputs:
    """The machine's ports with only those inputs that are named; with all of them where none is."""

    def __init__(self, ports: MachinePorts, listens: Sequence[str]) -> None:
        """Take the ports over; `listens` may be shortened names."""
        self._ports, self._listens = ports, tuple(listens)

    def outputs(self) -> Sequence[str]:
        """Return the names of the ports that can be sent to."""
        return self._ports.outputs()

    def inputs(self) -> Sequence[str]:
        """Return the names of the ports that are listened to."""
        there = self._ports.inputs()
        if not self._listens:
            return there
        wanted = {name for text in self._listens if (name := _named_or_none(text, there)) is not None}
        return tuple(name for name in there if name in wanted)

    @property
    def every_input(self) -> Sequence[str]:
        """The names of all ports that can be read."""
        return self._ports.inputs()

    @property
    def changes(self) -> int:
        """How often what is there has changed."""
        return self._ports.changes

    def open_output(self, name: str) -> OutPort:
        """Open a port for sending. Raises PortError."""
        return self._ports.open_output(name)

    def open_input(self, name: str) -> InPort:
        """Open a port for reading. Raises PortError."""
        return self._ports.open_input(name)

    def wait(self, seconds: float) -> None:
        """Sleep so long, or until a message comes in."""
        self._ports.wait(seconds)

    def wake(self) -> None:
        """End a `wait`."""
        self._ports.wake()

    def close(self) -> None:
        """Let go of everything."""
        self._ports.close()


def wires_of(
    name: str, rig: Rig, given: Sequence[str], outputs: Sequence[str]
) -> tuple[dict[str, Wire], tuple[str, ...]]:
    """Return the wire of each port of a rig, and what has to be said of the choice.

    What is given comes first, then what the rig's wires say. One port there and one here belong together.
    "PORT=" with nothing behind it leaves a port to its sender, or to hands.

    Raises:
        UnknownNameError: the rig has no such port.
        PortError: it is not said for which port a MIDI port is, or the loopback is named.
        BadValueError: the rig's sender serves a port that a MIDI port is named for.
    """
    wires = all_wires(rig, {})
    for port, midi in _split(rig, given).items():
        wires[port] = wires[port].model_copy(update={"midi": midi})
    for fault in check_sent_once(rig, {port: wire.midi for port, wire in wires.items()}, place_text("rig", name)):
        raise fault
    served = rig.sender.ports if rig.sender else ()
    bare = [port for port, wire in wires.items() if not wire.midi and port not in served]
    if given or len(wires) != 1 or not bare or len(outputs) != 1:
        return wires, ()
    wires[bare[0]] = wires[bare[0]].model_copy(update={"midi": outputs[0]})
    return wires, (f"Port {bare[0]} goes to {outputs[0]!r}, the only MIDI port there is.",)


def checked_names(
    given: Sequence[str], listens: Sequence[str], wires: Mapping[str, Wire], ports: OnlyInputs, *, goes_on: bool
) -> tuple[str, ...]:
    """Return what has to be said of MIDI ports that are not there.

    A name typed wrongly ends the command; where a gig goes on nothing does, since its port may be what has failed. How
    it is with the rig's own ports is told by the snapshot.

    Raises:
        PortError: a port that was named is not there.
    """
    outputs, inputs, said = ports.outputs(), ports.every_input, []
    if not outputs and wires:
        said.append(
            "Note: this computer has no MIDI port now. The gig runs by hand; a port is joined when it is there."
        )
    if outputs and not goes_on:
        for name in filter(None, (text.rpartition("=")[2].strip() for text in given)):
            port_named(name, outputs)
    for name in listens:
        try:
            port_named(name, inputs, kind="input port")
        except PortError as error:
            if inputs and not goes_on:
                raise
            said.append(f"Note: {error}")
    return tuple(said)


def _split(rig: Rig, given: Sequence[str]) -> dict[str, str]:
    """Return the MIDI port that is given for each port of the rig."""
    found: dict[str, str] = {}
    for text in given:
        port, sign, midi = text.partition("=")
        if not rig.ports:
            raise PortError(f"{text!r} is given, but no unit of this rig hears MIDI", remedy="Leave --port out")
        if sign:
            port = find_name(port, rig.ports, "port of the rig")
        elif len(rig.ports) == 1:
            port, midi = rig.ports[0], text
        else:
            raise _say_which(rig.ports, f"{text!r} does not say for which port of the rig")
        if port in found:
            raise _say_which(rig.ports, f"two MIDI ports are named for port {port!r}")
        if midi.strip().casefold() in (LOOPBACK, "loopback"):
            raise PortError("the built-in loopback is for proofs, and no unit hears it", remedy="Name a MIDI port")
        found[port] = midi.strip()
    return found


def _say_which(ports: Sequence[str], found: str) -> PortError:
    example = " ".join(f'--port "{port}=NAME"' for port in ports)
    return PortError(found, remedy=f"Name one for each port of the rig: {example}")


def _named_or_none(text: str, names: Sequence[str]) -> str | None:
    try:
        return port_named(text, names, kind="input port")
    except PortError:
        return None
