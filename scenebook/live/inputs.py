"""What comes in: every MIDI port that something listens to, opened when it is there and let go of when it is not."""

from collections.abc import Iterator, Sequence
from typing import Final

from scenebook.errors import PortError
from scenebook.live.doors import Doors, Worker
from scenebook.live.facing import Ports
from scenebook.midi import InPort
from scenebook.midi.names import port_named

__all__ = ["Inputs"]

_AGAIN_US: Final = 1_000_000


class Inputs:
    """The inputs of a running gig."""

    def __init__(self, ports: Ports, work: Worker) -> None:
        """Begin with none open."""
        self._ports, self._doors = ports, Doors[InPort](work, ports.wake)
        self._open: dict[str, InPort] = {}
        self._wanted: tuple[str, ...] = ()
        self._lacking: tuple[str, ...] = ()
        self._again: dict[str, int] = {}  # not to be opened before
        self._since: dict[str, int] = {}  # opened when
        self._look_at = 0  # even if nothing seems to have changed
        self._seen = -1

    def listen(self, wanted: tuple[str, ...]) -> None:
        """Listen to the MIDI ports of these names; "" is every one."""
        if wanted != self._wanted:
            self._wanted, self._seen = wanted, -1

    @property
    def lacking(self) -> tuple[str, ...]:
        """The names that are listened to and not there."""
        return self._lacking

    def poll(self, now: int) -> Iterator[tuple[str, bytes]]:
        """Yield what has come in, each message with the name of its port; an input that fails is let go of."""
        failed = []
        for name, port in self._open.items():
            try:
                messages = port.poll()
            except PortError:
                failed.append(name)
                continue
            for message in messages:
                yield name, message
        for name in failed:
            self._let_go(name)
            self._try_again(name, now, at_once=now - self._since.get(name, now) > _AGAIN_US)

    def look(self, now: int) -> None:
        """Open what is wanted and there, let go of what is not."""
        while (found := self._doors.opened()) is not None:
            self._opened(str(found[0]), found[1], now)
        changes = self._ports.changes
        if changes != self._seen or 0 < self._look_at <= now:
            self._look_at = 0
            self._compare(now)
            self._seen = changes

    def let_go(self) -> None:
        """Let go of every input, to open it anew: after a sleep, at the end."""
        for name in list(self._open):
            self._let_go(name)
        self._seen = -1

    def _compare(self, now: int) -> None:
        there = self._ports.inputs()
        aimed, self._lacking = self._aimed(there)
        self._again = {name: at for name, at in self._again.items() if at > now}
        for name in list(self._open):
            if name not in aimed:
                self._let_go(name)
        for name in aimed:
            if name not in self._open and name not in self._again:
                self._doors.open(name, lambda name=name: self._ports.open_input(name))  # type: ignore[misc]

    def _aimed(self, there: Sequence[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
        aimed: dict[str, None] = {}
        lacking = []
        for wanted in self._wanted:
            try:
                aimed.update(dict.fromkeys(there if wanted == "" else (port_named(wanted, there, kind="input port"),)))
            except PortError:
                lacking.append(wanted)
        return tuple(aimed), tuple(lacking)

    def _opened(self, name: str, opened: InPort | PortError, now: int) -> None:
        if isinstance(opened, PortError):
            self._try_again(name, now, at_once=False)
        elif name in self._open or name not in self._ports.inputs():
            self._doors.close(opened)
        else:
            self._open[name], self._since[name] = opened, now

    def _try_again(self, name: str, now: int, *, at_once: bool) -> None:
        """Open a port anew: at once if it worked for a while, so that one that always fails is left some time."""
        self._look_at = now + _AGAIN_US
        if at_once:
            self._seen = -1
        else:
            self._again[name] = self._look_at

    def _let_go(self, name: str) -> None:
        self._doors.close(self._open.pop(name))
