"""The rig's ports on this computer: which MIDI port each is joined to, when one vanishes, and when it is back."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Final, NamedTuple

from scenebook.cueing.cues import Message
from scenebook.errors import PortError
from scenebook.live.doors import Doors, Worker
from scenebook.live.facing import Ports
from scenebook.live.outputs import Output
from scenebook.live.pacing import Needs
from scenebook.live.snapshot import PortNow, PortState
from scenebook.midi import OutPort
from scenebook.midi.names import port_named
from scenebook.model.on_stage import Wire
from scenebook.model.rigs import Rig

__all__ = ["Change", "RigPorts", "all_wires"]

_AGAIN_US: Final = 1_000_000  # before a port that is there and does not open is tried again


class Change(NamedTuple):
    """A port of the rig can be sent to from now on, or no more; `lost` is what waited for it."""

    port: str
    midi: str
    is_there: bool
    lost: tuple[Message, ...] = ()


def all_wires(rig: Rig, wires: Mapping[str, Wire]) -> dict[str, Wire]:
    """Return a wire for each of the rig's ports: the one given, else the rig's own, else a 5-pin plug."""
    return {port: wires.get(port) or rig.wires.get(port) or Wire() for port in rig.ports}


class RigPorts:
    """All outputs of a rig, and how it is with each."""

    def __init__(
        self,
        wires: Mapping[str, Wire],
        needs: Needs,
        ports: Ports,
        work: Worker,
        *,
        told: Callable[[bytes, int], None],
        elsewhere: Iterable[str] = (),
    ) -> None:
        """Take the wire of each port; those in `elsewhere` are served by a sender, unless a MIDI port is named.

        `told` hears of each message that goes, with its moment.
        """
        self.outputs = {port: Output(port, wire, needs, told) for port, wire in wires.items()}
        self._ports, self._doors = ports, Doors[OutPort](work, ports.wake)
        self._elsewhere = frozenset(elsewhere)
        self._words = dict.fromkeys(wires, "")
        self._again = dict.fromkeys(wires, 0)  # not to be opened before
        self._since = dict.fromkeys(wires, 0)  # opened when
        self._look_at = 0  # even if nothing seems to have changed
        self._seen = -1

    @property
    def waiting(self) -> list[Message]:
        """Everything that has not gone, on all ports."""
        return [message for output in self.outputs.values() for message in output.waiting]

    @property
    def is_idle(self) -> bool:
        """Whether everything has gone."""
        return all(output.is_idle for output in self.outputs.values())

    def pump(self, now: int) -> None:
        """Send everything whose time has come."""
        for output in self.outputs.values():
            output.pump(now)

    def due(self, now: int) -> int | None:
        """Return when the next message may start."""
        moments = [due for output in self.outputs.values() if (due := output.due(now)) is not None]
        return min(moments, default=None)

    def look(self, now: int) -> Iterator[Change]:
        """Yield what has changed: faults first, then ports that were opened, then what the machine says is there."""
        for output in self.outputs.values():
            if output.fault:
                self._try_again(output.port, now)
                yield self._lose(output, output.fault)
        while (found := self._doors.opened()) is not None:
            change = self._joined(str(found[0]), found[1], now)
            if change is not None:
                yield change
        changes = self._ports.changes
        if changes != self._seen or 0 < self._look_at <= now:
            self._look_at = 0
            yield from self._compare(now)
            self._seen = changes

    def lose_all(self, why: str) -> Iterator[Change]:
        """Let go of every port, to open it anew: after a sleep."""
        for output in self.outputs.values():
            if output.is_there:
                yield self._lose(output, why)
        self._seen = -1

    def now(self) -> tuple[PortNow, ...]:
        """Return how it is with each port."""
        return tuple(self._now(output) for output in self.outputs.values())

    def _now(self, output: Output) -> PortNow:
        port, midi = output.port, output.wire.midi
        if output.is_there:
            return PortNow(port, output.midi, PortState.THERE)
        if midi:
            return PortNow(port, midi, PortState.GONE, self._words[port])
        words = "its sender serves it" if port in self._elsewhere else "no MIDI port is named for it"
        return PortNow(port, "", PortState.NONE, words)

    def _compare(self, now: int) -> Iterator[Change]:
        """Hold what is there against what is joined."""
        names = self._ports.outputs()
        for output in self.outputs.values():
            if not output.wire.midi:
                continue
            if output.is_there and output.midi in names:
                continue
            try:
                full = port_named(output.wire.midi, names)
            except PortError as error:
                self._words[output.port] = str(error)
                if output.is_there:
                    yield self._lose(output, str(error))
                continue
            if output.is_there:  # it is there under another name
                yield self._lose(output, f"the port '{output.midi}' is gone")
            if self._again[output.port] <= now:
                self._open(output.port, full)

    def _open(self, port: str, full: str) -> None:
        self._doors.open(port, lambda: self._ports.open_output(full))

    def _try_again(self, port: str, now: int, *, is_new: bool = False) -> None:
        """Open a port anew: at once if it worked for a while, so that one that always fails is left some time."""
        self._look_at = now + _AGAIN_US
        if not is_new and now - self._since[port] > _AGAIN_US:
            self._seen = -1
        else:
            self._again[port] = self._look_at

    def _joined(self, port: str, opened: OutPort | PortError, now: int) -> Change | None:
        output = self.outputs[port]
        if isinstance(opened, PortError):
            self._words[port] = str(opened)
            self._try_again(port, now, is_new=True)
            return None
        if output.is_there or opened.name not in self._ports.outputs():  # it has gone again meanwhile
            self._doors.close(opened)
            self._seen = -1
            return None
        output.attach(opened)
        self._words[port], self._since[port] = "", now
        return Change(port, opened.name, True)

    def _lose(self, output: Output, why: str) -> Change:
        lost, midi = output.drop(), output.midi
        self._doors.close(output.detach())
        output.fault = ""
        self._words[output.port] = why
        return Change(output.port, midi, False, lost)

    def close(self) -> None:
        """Let go of every port."""
        for output in self.outputs.values():
            self._doors.close(output.detach())
