"""An evening of the demo library, served to a real browser: a real engine on ports in memory, and its pages."""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any, Self

from scenebook.live.acts import Act, Verb
from scenebook.live.caller import Caller
from scenebook.live.engine import Engine
from scenebook.live.places import Part, Place
from scenebook.live.records import replayed
from scenebook.live.snapshot import Snapshot
from scenebook.model import Library
from scenebook.model.on_stage import Wire
from scenebook.storage.folder import read_folder
from scenebook.web.app import create_app
from scenebook.web.keys import Keys, MemoryKeyStore, Right
from scenebook.web.serving import Serving, serve
from tests.demo_library.reading import DEMO
from tests.support.running import MemoryPorts
from tests.web.support import Written, until

__all__ = ["HALL", "NO_MIDI", "Evening", "demo", "evening"]

HALL, NO_MIDI = "Pell Quay hall", "Tallow reading room"


@cache
def demo() -> Library:
    """Return the demo library."""
    return read_folder(DEMO)[0]


class Evening:
    """One laptop on stage. It can be ended and begun again on the same port, journal and keys."""

    def __init__(self, gig: str = HALL, **said: Any) -> None:
        self.library, self.gig = said.get("library") or demo(), gig
        self.rig = self.library.gigs[gig].rig or ""
        self.journal, self.store = Written(), MemoryKeyStore()
        self.wires = {port: Wire(midi=f"box {port}") for port in self.library.rigs[self.rig].ports}
        self.ports = MemoryPorts(tuple(f"box {port}" for port in self.wires), ("pedal",))
        self.begin(0)

    def begin(self, port: int) -> None:
        """Start the gig and serve it; the gig stands where its journal says."""
        caller = Caller(self.library, self.gig, self.rig, standing=replayed(self.journal))
        self.engine = Engine(
            caller, self.ports, self.journal, self.wires, library=self.library, gig=self.gig, rig=self.rig
        )
        self.keys = Keys(self.store)
        self.serving: Serving = serve(create_app(self.engine, self.keys, records=self.journal), port=port)
        self.engine.start()
        until(lambda: all(each.state == "there" for each in self.snapshot.ports) or not self.wires)

    def end(self) -> None:
        """Take the laptop away."""
        self.serving.close()
        self.engine.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.end()

    @property
    def snapshot(self) -> Snapshot:
        """How the gig stands."""
        return self.engine.snapshot

    @property
    def place(self) -> Place:
        """Where it stands."""
        return self.snapshot.step.place

    def cookie(self, right: Right = Right.STEP) -> dict[str, Any]:
        """Return the cookie of a browser that has opened the stand."""
        return {"name": self.keys.cookie, "value": self.keys.admitted(right), "url": self.serving.address("/")}

    def go(self, entry: int, form: int = 0, part: Part = Part.SET) -> Snapshot:
        """Go somewhere, as another page would."""
        return self.engine.ask(Act(Verb.GO, by="page", place=Place(part, entry, form)))

    def act(self, verb: Verb, **said: Any) -> Snapshot:
        """Ask for anything."""
        return self.engine.ask(Act(verb, by="page", **said), seconds=20)


@contextmanager
def evening(gig: str = HALL, **said: Any) -> Iterator[Evening]:
    """Run one evening."""
    with Evening(gig, **said) as made:
        yield made
