"""What a face (a page, a terminal) may do with a running gig, and what the gig is given to run with."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Protocol

from scenebook.live.acts import Act
from scenebook.live.snapshot import Snapshot
from scenebook.midi import InPort, OutPort

__all__ = ["Follows", "Journal", "Ports", "Records", "Stand"]


class Stand(Protocol):
    """A running gig as a face sees it. Every method may be called from any thread and none waits for a port."""

    @property
    def snapshot(self) -> Snapshot:
        """How the gig stands now."""

    def act(self, act: Act) -> None:
        """Ask for something; it is done within a millisecond or so, and the next snapshot tells."""

    def ask(self, act: Act, *, seconds: float = 2.0) -> Snapshot:
        """Ask for something and return the snapshot after it; its `refused` says why it was not done.

        Where that takes longer than so many seconds, return the newest; its `unfinished` says so.
        """

    def watch(self, told: Callable[[Snapshot], None]) -> Callable[[], None]:
        """Call `told` with every new snapshot, in the gig's own thread, so it must be quick; return how to stop it."""

    def close(self) -> None:
        """End the gig's thread; what was done stays in the journal."""


class Journal(Protocol):
    """Where a running gig writes what happens, one small record at a time; on disk when `write` returns."""

    def write(self, record: Mapping[str, Any]) -> None:
        """Add one record. A process that is killed afterwards has not lost it."""


class Records(Protocol):
    """What a running gig has written, to be read by another stand or shown to a tech; from any thread."""

    def read(self, after: int, count: int) -> tuple[Sequence[Mapping[str, Any]], int]:
        """Return up to `count` records from a cursor on, and the cursor after them.

        0 is the beginning; any other cursor is what an earlier call returned. One that means nothing gives what follows
        it as well as can be told, or nothing, and never an error.
        """

    def last(self, count: int) -> Sequence[Mapping[str, Any]]:
        """Return the newest records, the oldest of them first."""


class Follows(Protocol):
    """A running gig that can go where another one has gone, in silence."""

    def follow(self, record: Mapping[str, Any]) -> None:
        """Take over a record that the other gig has written; from any thread. It is kept in the own journal too.

        A gig that calls takes none.
        """


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
