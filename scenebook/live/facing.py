"""What a face (a page, a terminal) may do with a running gig, and what the gig is given to run with."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Protocol

from scenebook.live.acts import Act
from scenebook.live.snapshot import Snapshot
from scenebook.midi import InPort, OutPort

__all__ = ["Journal", "Ports", "Stand"]


class Stand(Protocol):
    """A running gig as a face sees it. Every method may be called from any thread and none waits for a port."""

    @property
    def snapshot(self) -> Snapshot:
        """How the gig stands now."""

    def act(self, act: Act) -> None:
        """Ask for something; it is done within a millisecond or so, and the next snapshot tells."""

    def ask(self, act: Act, *, seconds: float = 2.0) -> Snapshot:
        """Ask for something and return the snapshot after it; its `refused` says why it was not done."""

    def watch(self, told: Callable[[Snapshot], None]) -> Callable[[], None]:
        """Call `told` with every new snapshot, in the gig's own thread, so it must be quick; return how to stop it."""

    def close(self) -> None:
        """End the gig's thread; what was done stays in the journal."""


class Journal(Protocol):
    """Where a running gig writes what happens, one small record at a time; on disk when `write` returns."""

    def write(self, record: Mapping[str, Any]) -> None:
        """Add one record. A process that is killed afterwards has not lost it."""


class Ports(Protocol):
    """The MIDI ports of the machine as a running gig sees them; which are there is known without waiting."""

    def outputs(self) -> Sequence[str]:
        """Return the names of the ports that can be sent to, as last seen."""

    def inputs(self) -> Sequence[str]:
        """Return the names of the ports that can be read, as last seen."""

    @property
    def changes(self) -> int:
        """How often what is there has changed: a gig looks only when it has grown."""

    def open_output(self, name: str) -> OutPort:
        """Open a port for sending. Raises PortError."""

    def open_input(self, name: str) -> InPort:
        """Open a port for reading. Raises PortError."""

    def wait(self, seconds: float) -> None:
        """Sleep so long; return earlier when a message may have come in or `wake` was called."""

    def wake(self) -> None:
        """End a `wait`, from any thread; one that begins soon after ends at once."""
