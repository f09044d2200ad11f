"""A gig that runs in a test: ports in memory that can be pulled out, a clock that only the test moves, a kept journal.

The engine, the caller and everything below are real.
"""

import threading
import time
from collections import deque
from collections.abc import Mapping
from typing import Any

from scenebook.errors import PortError
from scenebook.live.acts import Act, Verb
from scenebook.live.caller import Caller
from scenebook.live.clock import Clock
from scenebook.live.engine import Engine
from scenebook.live.places import Part, Place
from scenebook.live.records import replayed
from scenebook.live.snapshot import Role, Snapshot
from scenebook.midi import InPort, OutPort
from scenebook.midi.names import port_named
from scenebook.model import Library
from scenebook.model.on_stage import Wire
from tests.support.build import GIG, RIG

__all__ = [
    "CHORUS",
    "FIRST",
    "SECOND",
    "Kept",
    "MemoryPorts",
    "Running",
    "StillClock",
    "begun",
    "gig",
    "library_on_stage",
]

MICRO = 1_000_000
FIRST, CHORUS, SECOND = Place(Part.SET, 0, 0), Place(Part.SET, 0, 1), Place(Part.SET, 1, 0)


class StillClock:
    """A clock that stands still until it is moved."""

    def __init__(self) -> None:
        self.seconds, self.asleep = 100.0, 0.0

    def now(self) -> float:
        return self.seconds

    def real(self) -> float:
        return self.seconds + self.asleep

    def wall(self) -> float:
        return 1_790_000_000 + self.real()

    @property
    def clock(self) -> Clock:
        return Clock(self.now, self.real, self.wall)


class Kept(list[Mapping[str, Any]]):
    """A journal that keeps its records; full, it takes none."""

    is_full = False

    def write(self, record: Mapping[str, Any]) -> None:
        if self.is_full:
            raise OSError("no space left on the device")
        self.append(record)

    def kinds(self) -> list[str]:
        return [record["kind"] for record in self]


class _Out(OutPort):
    def __init__(self, name: str, ports: "MemoryPorts") -> None:
        self.name, self._ports, self.is_closed = name, ports, False

    def send(self, message: bytes) -> None:
        if self.is_closed or self.name not in self._ports.outs:
            raise PortError(f"the port '{self.name}' is gone")
        self._ports.sent.append((self._ports.now(), self.name, message))

    def close(self) -> None:
        self.is_closed = True


class _In(InPort):
    def __init__(self, name: str, ports: "MemoryPorts") -> None:
        self.name, self._ports, self._queue = name, ports, deque[bytes]()

    def hear(self, data: bytes) -> None:
        self._queue.append(data)

    def poll(self) -> list[bytes]:
        if self.name not in self._ports.ins:
            raise PortError(f"the port '{self.name}' is gone")
        return [self._queue.popleft() for _ in range(len(self._queue))]

    def close(self) -> None:
        pass


class MemoryPorts:
    """Ports in memory. What was sent is kept with the moment, in microseconds, and the name of the port."""

    def __init__(self, outs: tuple[str, ...], ins: tuple[str, ...] = (), now: Any = None) -> None:
        self.outs, self.ins, self.changes = list(outs), list(ins), 0
        self.now = now or (lambda: int(time.monotonic() * MICRO))
        self.sent: list[tuple[int, str, bytes]] = []
        self.refused: set[str] = set()  # there, and not to be opened
        self.open: list[_Out] = []
        self._heard: dict[str, _In] = {}
        self._woken = threading.Event()

    def outputs(self) -> list[str]:
        return list(self.outs)

    def inputs(self) -> list[str]:
        return list(self.ins)

    def open_output(self, name: str) -> OutPort:
        full = port_named(name, self.outs)
        if full in self.refused:
            raise PortError("another program holds it")
        self.open.append(_Out(full, self))
        return self.open[-1]

    def open_input(self, name: str) -> InPort:
        full = port_named(name, self.ins, kind="input port")
        self._heard[full] = _In(full, self)
        return self._heard[full]

    def wait(self, seconds: float) -> None:
        self._woken.wait(seconds)
        self._woken.clear()

    def wake(self) -> None:
        self._woken.set()

    def press(self, name: str, data: str) -> None:
        """Let a message come in."""
        self._heard[name].hear(bytes.fromhex(data))
        self.wake()

    def pull(self, name: str) -> None:
        """Take a port away."""
        (self.outs if name in self.outs else self.ins).remove(name)
        self.changes += 1

    def plug(self, name: str, *, is_input: bool = False) -> None:
        """Put a port back."""
        (self.ins if is_input else self.outs).append(name)
        self.changes += 1

    def take_sent(self) -> list[tuple[str, str]]:
        """Return what was sent since the last time: port and bytes."""
        taken = [(name, data.hex(" ").upper()) for _, name, data in self.sent]
        self.sent.clear()
        return taken


class Running:
    """A gig in a test: nothing runs but by `turns`."""

    def __init__(
        self,
        library: Library,
        *,
        ports: MemoryPorts | None = None,
        wires: Mapping[str, Wire] | None = None,
        journal: Kept | None = None,
        role: Role = Role.CALLING,
    ) -> None:
        self.time = StillClock()
        self.ports = ports or MemoryPorts(("box front", "box second"), ("pedal", "player"))
        self.ports.now = lambda: round(self.time.seconds * MICRO)
        self.journal = Kept() if journal is None else journal
        caller = Caller(library, GIG, RIG, standing=replayed(self.journal), role=role)
        wires = {"front": Wire(midi="box front", plug="usb")} if wires is None else wires
        self.engine = Engine(
            caller,
            self.ports,
            self.journal,
            wires,
            library=library,
            gig=GIG,
            rig=RIG,
            clock=self.time.clock,
            work=lambda work: work(),
        )
        self.turns(3)

    @property
    def snapshot(self) -> Snapshot:
        return self.engine.snapshot

    @property
    def place(self) -> Place:
        return self.snapshot.step.place

    def turns(self, count: int = 1) -> Snapshot:
        for _ in range(count):
            self.engine.turn()
        return self.snapshot

    def act(self, verb: Verb, **said: Any) -> Snapshot:
        """Ask for something and let it be done; whatever can go at this moment goes."""
        self.engine.act(Act(verb, said.pop("by", "key"), **said))
        return self.turns(3)

    def run(self, seconds: float) -> None:
        """Let time pass, as the engine itself would: it is called whenever it has asked to be."""
        end = self.time.seconds + seconds
        while (wait := self.engine.turn()) < end - self.time.seconds:
            self.time.seconds += max(wait, 0.000_001)
        self.time.seconds = end
        self.engine.turn()

    def press(self, data: str, name: str = "pedal") -> Snapshot:
        self.ports.press(name, data)
        return self.turns(2)


def library_on_stage(**said: Any) -> Library:
    """Return three songs of two scenes on a fuzz and a multi-effects that settles for 30 ms, both on port "front"."""
    units = {
        "fuzz": {"switches": {"main": {"message": {"controller": 80}}}},
        "multi": {
            "switches": {"main": {"message": {"controller": 81}}},
            "controls": {"mix": {"scale": "percent", "message": {"controller": 20}}},
            "programs": {"count": 128, "first": "0", "settle_ms": 30},
            "presets": [{"slot": str(n), "stores": {"main": "on"}} for n in range(8)],
        },
        "delay": {"switches": {"main": {"message": {"controller": 82}}}, "bends_ms": 2000},
        "sampler": {"triggers": {"hit": {"note": 60}}, "switches": {}},
    }
    songs = {
        name: {
            "tempo": tempo,
            "scenes": {
                "verse": {"units": {"multi": {"preset": str(n), "mix": "50"}}},
                "chorus": {"units": {"multi": {"preset": str(n), "mix": "80"}, "fuzz": "on", **extra}},
            },
            "form": [{"scene": "verse", "bars": 8}, {"scene": "chorus", "bars": 8}],
        }
        for n, (name, tempo, extra) in enumerate(
            [("one", 100, {"delay": "on"}), ("two", 120, {}), ("three", 90, {})], start=1
        )
    }
    songs["one"]["scenes"]["chorus"]["triggers"] = ["sampler.hit"]
    songs["spare"] = {"scenes": {"all": {"units": {"fuzz": "on"}}}, "tempo": 140}
    places = {name: {"port": "front", "channel": n} for n, name in enumerate(units, start=1)}
    rig = {"chain": list(units), "units": places, "home": {"multi": "0"}, "wires": {"front": {"midi": "box front"}}}
    gig = {
        "rig": RIG,
        "sets": [{"name": "first", "songs": ["one", "two"]}, {"name": "second", "songs": ["three"]}],
        "spares": ["spare"],
    }
    return Library.model_validate({"units": units, "rigs": {RIG: {**rig, **said}}, "songs": songs, "gigs": {GIG: gig}})


def gig(**said: Any) -> Running:
    """Return the running gig of `library_on_stage`, its rig changed as said."""
    return Running(library_on_stage(**said))


def begun(running: Running) -> Running:
    """Let the first cue of the first song have gone out."""
    running.act(Verb.NEXT)
    running.run(1)
    running.ports.take_sent()
    return running
