"""MIDI clock for the ports that ask for it: 24 bytes a quarter note, on an absolute schedule that does not drift.

A change of tempo bends what still rings in a delay that follows the clock. Where a unit says so (`bends_ms`), the
change waits until it has been silent for that long; a unit that begins to sound with the change itself has no tail yet.
Start and Stop go out only where the wire asks for them: Start with the first step of a song, and when the clock begins
anew in the middle of one (after a sleep, or when this stand takes over). A port that was lost and comes back gets clock
at once and Start with the next song: Start means the top of the song, and in the middle of it what plays along would be
somewhere else than the band. Pure: times are whole microseconds on the gig's clock.
"""

from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from scenebook.live.places import Part
from scenebook.live.programme import Step
from scenebook.live.snapshot import Beat
from scenebook.model.on_stage import Wire
from scenebook.model.protocol import CLOCK, CLOCKS_PER_QUARTER
from scenebook.model.rigs import Rig
from scenebook.model.units import Unit

__all__ = ["Pulse", "Tails", "Tempo", "bends_of"]

_TICK: Final = bytes((CLOCK,))
_START: Final = b"\xfa"
_STOP: Final = b"\xfc"
_AFTER_START_US: Final = 1_000  # MIDI 1.0 wants the first clock at least a millisecond after Start
_STALE_US: Final = 500_000  # further behind (a machine that slept) the lost bytes are not sent after


def bends_of(rig: Rig, units: Mapping[str, Unit], played_by: Mapping[str, str]) -> dict[str, dict[str, int]]:
    """Return by port the units on it whose tails bend, each with the microseconds for which they ring.

    A unit that is played by another tonight has it in its place.
    """
    found: dict[str, dict[str, int]] = {}
    for carried in rig.carried:
        name, port = played_by.get(carried, carried), rig.placement(carried).port
        unit = units.get(name)
        if port is not None and unit is not None and unit.bends_ms:
            found.setdefault(port, {})[name] = round(unit.bends_ms * 1000)
    return found


class Pulse:
    """The clock of one port. Every byte's time is counted from one moment, so that no error adds up."""

    def __init__(self) -> None:
        """Begin silent."""
        self.tempo: float | None = None  # quarter notes a minute
        self._from = 0.0
        self._count = 0

    @property
    def due(self) -> float | None:
        """When the next byte goes, or None while it is silent."""
        return None if self.tempo is None else self._from + self._count * self._step

    @property
    def _step(self) -> float:
        assert self.tempo is not None
        return 60_000_000 / (CLOCKS_PER_QUARTER * self.tempo)

    def run(self, tempo: float, now: float) -> None:
        """Go on at `tempo`: the byte that is due next keeps its time, and the new step is counted from there."""
        due = self.due
        self.tempo, self._from, self._count = tempo, now if due is None else due, 0

    def begin(self, at: float) -> None:
        """Put a quarter note's first byte at `at`."""
        self._from, self._count = at, 0

    def stop(self) -> None:
        """Be silent."""
        self.tempo = None

    def take(self, now: float) -> int:
        """Return how many bytes are due; none is left out unless the gig has stood still for half a second."""
        due = self.due
        if due is None or due > now:
            return 0
        if now - due > _STALE_US:
            self.begin(now)
        taken = int((now - self._from) // self._step) + 1 - self._count
        self._count += taken
        return taken


class Tails:
    """Which units of a port sound or still ring, so that a change of tempo would be heard bending."""

    def __init__(self, bends: Mapping[str, int]) -> None:
        """Take the units that bend, with the microseconds for which they ring."""
        self.bends = bends
        self._sounding: frozenset[str] = frozenset()
        self._until: dict[str, int] = {}

    def step(self, sounding: Iterable[str], now: int) -> None:
        """Say which units sound from now on."""
        after = frozenset(sounding) & self.bends.keys()
        for unit in self._sounding - after:
            self._until[unit] = now + self.bends.get(unit, 0)
        self._sounding = after

    def ringing(self, now: int) -> tuple[str, ...]:
        """Return the units that a change of tempo would bend now."""
        return tuple(unit for unit in self.bends if unit in self._sounding or self._until.get(unit, 0) > now)


class _Port:
    """The clock of one port with what holds it back."""

    def __init__(self, wire: Wire, bends: Mapping[str, int]) -> None:
        self.wire, self.pulse, self.tails = wire, Pulse(), Tails(bends)
        self.wanted: float | None = None
        self.started = False
        self.held: tuple[str, ...] = ()

    @property
    def waits(self) -> bool:
        return self.wanted is not None and self.wanted != self.pulse.tempo

    def settle(self, now: int) -> None:
        """Go over to the wanted tempo if nothing holds it back."""
        if self.wanted is None or not self.waits:
            self.held = ()
            return
        self.held = self.tails.ringing(now) if self.pulse.tempo is not None else ()
        if not self.held:
            self.pulse.run(self.wanted, now)

    def around(self, is_song: bool, is_new: bool, now: int) -> Iterator[bytes]:
        """Yield Stop where a song is left, and Start where one begins with a known tempo."""
        if self.started and (is_new or not is_song):
            self.started = False
            yield _STOP
        if is_song and is_new and self.pulse.tempo is not None:
            self.started = True
            self.pulse.begin(now + _AFTER_START_US)
            yield _START


class Tempo:
    """The clocks of all ports of a rig."""

    def __init__(self, wires: Mapping[str, Wire], bends: Mapping[str, Mapping[str, int]]) -> None:
        """Take the ports with their wires, and by port the units that bend (see `bends_of`)."""
        self._ports = {port: _Port(wire, bends.get(port, {})) for port, wire in wires.items() if wire.clock}
        self._song: tuple[Part, int] | None = None

    def step(self, step: Step, tempo: float | None, now: int) -> list[tuple[str, bytes]]:
        """Go to a step whose song has this tempo (None: not known, and the clock stays); return bytes to send now."""
        song = (step.place.part, step.place.entry)
        is_song = step.place.part in (Part.SET, Part.SPARE) and step.place.entry >= 0
        is_new, self._song = song != self._song, song
        sounding = [state.unit for state in step.full.states if state.sounds]
        sent: list[tuple[str, bytes]] = []
        for name, port in self._ports.items():
            port.wanted = port.wanted if tempo is None else tempo
            port.settle(now)  # before the step's own units count: what begins to sound now has no tail
            port.tails.step(sounding, now)
            if port.wire.start_stop:
                sent += [(name, byte) for byte in port.around(is_song, is_new, now)]
        return sent

    def pump(self, now: int) -> list[tuple[str, bytes]]:
        """Return the bytes that are due, each with its port."""
        sent: list[tuple[str, bytes]] = []
        for name, port in self._ports.items():
            if port.held:
                port.settle(now)
            sent += [(name, _TICK)] * port.pulse.take(now)
        return sent

    def due(self) -> int | None:
        """Return when to pump next, or None while all is silent."""
        moments = [port.pulse.due for port in self._ports.values()]
        return min((int(due) + 1 for due in moments if due is not None), default=None)

    def stop(self) -> list[tuple[str, bytes]]:
        """End every clock; return the Stops that belong to it."""
        self._song = None  # whatever stands next, its clock begins anew, and Start goes with it
        sent = [(name, _STOP) for name, port in self._ports.items() if port.started]
        for port in self._ports.values():
            port.pulse.stop()
            port.started, port.wanted, port.held = False, None, ()
        return sent

    def anew(self, bends: Mapping[str, Mapping[str, int]], tempo: float | None, now: int) -> None:
        """Take other units that bend, and the tempo of the song that stands: something has changed for tonight.

        A clock that runs goes over to it as at a step; none is begun.
        """
        for name, port in self._ports.items():
            port.tails.bends = bends.get(name, {})
            if tempo is not None and port.pulse.tempo is not None:
                port.wanted = tempo
                port.settle(now)

    @property
    def beat(self) -> Beat:
        """The tempo that goes out; of several ports the one that waits, if one does."""
        ports = sorted(self._ports.values(), key=lambda port: not port.held)
        if not ports:
            return Beat()
        first = ports[0]
        return Beat(first.pulse.tempo, first.wanted, _waits(first.held))


def _waits(held: tuple[str, ...]) -> str:
    if not held:
        return ""
    return f"the tail of {', '.join(held)} would bend: the new tempo goes out once that is silent"
