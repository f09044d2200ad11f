"""The caller: it owns the position of a running gig and says what must go out. No clock, no port, no file in it.

One thread owns a caller. `prepare` alone may run in another: it reads values that never change and changes nothing.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from scenebook.cueing.cues import ByHand, Message
from scenebook.live.acts import Act, Verb
from scenebook.live.places import Place
from scenebook.live.programme import Programme, Step
from scenebook.live.snapshot import Form, Learned, Notice, Role
from scenebook.live.stepping import Standing
from scenebook.live.tonight import Tonight
from scenebook.model import Library

__all__ = ["SLOW", "Asked", "Caller", "Outcome", "Parts", "Plan", "PortPlan", "Ready", "Record"]

Record = Mapping[str, Any]
Asked = Act | Record  # a record: what the stand that is followed has written

SLOW = frozenset({Verb.OUT, Verb.IN, Verb.PLAYED_BY, Verb.DEAF, Verb.HEARS, Verb.TEMPO, Verb.CUT, Verb.KEEP})
"""What compiles the evening anew: a tenth of a second and more, so it is prepared outside the gig's own thread."""


@dataclass(frozen=True, slots=True)
class PortPlan:
    """What one of the rig's ports is to get, in order; times (`at_us`) are the cue's own, on the port's own clock."""

    port: str
    form: Form
    messages: tuple[Message, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """What must go out now, port by port.

    What still waits for its time on a port that the plan names is dropped (it has been reckoned with); what waits on
    another port goes on. Only the release of a trigger's note that has gone keeps its time and is never dropped.
    A port that is not there is not named, even where the step is a new one.
    """

    step: Step
    by: str
    ports: tuple[PortPlan, ...]

    @property
    def form(self) -> Form:
        """LEAN if all that goes out is."""
        return Form.FULL if self.full else Form.LEAN

    @property
    def full(self) -> tuple[str, ...]:
        """The ports that get everything."""
        return tuple(each.port for each in self.ports if each.form is Form.FULL)

    @property
    def messages(self) -> int:
        """How many messages go out."""
        return sum(len(each.messages) for each in self.ports)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What comes of something asked: what goes out, the records to write before its first byte, why it is not done.

    With `refused` nothing has changed, and neither plan nor records are there.
    """

    plan: Plan | None = None
    records: tuple[Record, ...] = ()
    refused: str = ""


@dataclass(frozen=True, slots=True)
class Ready:
    """Something asked, with all that takes time done beforehand; `Caller.take` swaps it in."""

    asked: Asked
    evening: Any = None
    basis: Any = None
    refused: str = ""


@dataclass(frozen=True, slots=True)
class Parts:
    """The caller's parts of a snapshot; each has the meaning of the snapshot's field of that name."""

    programme: Programme
    step: Step
    ahead: Step | None
    left: Place | None
    role: Role
    tonight: Tonight
    check: tuple[ByHand, ...]
    notices: tuple[Notice, ...]
    offer: str


class Caller:
    """Owns the position. A gig begins at `standing` (as `records.replayed` gives it), else at home; nothing is sent.

    Raises:
        ScenebookError: the gig cannot be played on the rig, as the compiler says it.
    """

    def __init__(
        self,
        library: Library,
        gig: str,
        rig: str,
        *,
        standing: Standing | None = None,
        role: Role = Role.CALLING,
    ) -> None:
        raise NotImplementedError

    def begin(self, now: float) -> tuple[Record, ...]:
        """Return the records with which the journal of this run begins ("opened": it holds the whole standing)."""
        raise NotImplementedError

    def prepare(self, asked: Asked) -> Ready:
        """Do what takes time of an act (a change for tonight) or of a record that is followed; change nothing.

        Any thread. It is needed for verbs in SLOW and for records of the kind "tonight" and "opened"; for all else it
        costs nothing and may be left out.
        """
        raise NotImplementedError

    def take(self, asked: Asked | Ready, now: float, waiting: Iterable[Message] = ()) -> Outcome:
        """Do what is asked. `waiting` are all messages of earlier plans that have not gone, on any port.

        Never raises for anything that a player can ask: what cannot be done is refused in a sentence. A ready that was
        prepared before another change is prepared again here, which takes its time. A caller that follows plans nothing
        and takes acts only to take over; it takes records of the stand that it follows, which come back as its own.
        """
        raise NotImplementedError

    def port_back(self, port: str, now: float, *, midi: str = "", waiting: Iterable[Message] = ()) -> Outcome:
        """Say that a port of the rig can be sent to: what stands goes out full to it, without triggers.

        At a start, after `offered`, and while following nothing goes out. Every port counts as gone until
        this is called.
        """
        raise NotImplementedError

    def port_gone(self, port: str, now: float, *, midi: str = "", waiting: Iterable[Message] = ()) -> Outcome:
        """Say that a port cannot be sent to; what waits on it is lost."""
        raise NotImplementedError

    def dropped(self, messages: Iterable[Message]) -> None:
        """Say that messages of a plan will never go out, where no plan took their place (a write that failed)."""
        raise NotImplementedError

    def offered(self, why: str, now: float) -> Outcome:
        """After a sleep: the rig may stand anywhere; nothing is sent until something is asked. `why` is the notice."""
        raise NotImplementedError

    def learn(self, learned: Learned, now: float) -> Outcome:
        """Keep what a message does from now on; it is in `standing.learned`. What the same message did is forgotten."""
        raise NotImplementedError

    @property
    def standing(self) -> Standing:
        """All that has to outlast the gig's own process; the records say the same."""
        raise NotImplementedError

    @property
    def parts(self) -> Parts:
        """The caller's parts of a snapshot."""
        raise NotImplementedError
