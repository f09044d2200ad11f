"""What comes of something asked of the caller: what goes out, what is written down, or why it is not done."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from scenebook.cueing.cues import ByHand, Message
from scenebook.live.acts import Act
from scenebook.live.evening import Evening
from scenebook.live.places import Place
from scenebook.live.programme import Programme, Step
from scenebook.live.snapshot import Form, Notice, Role
from scenebook.live.tonight import Tonight
from scenebook.live.walking import Checking

__all__ = ["Asked", "Outcome", "Parts", "Plan", "PortPlan", "Ready", "Record"]

Record = Mapping[str, Any]
Asked = Act | Record  # a record: what the stand that is followed has written


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
        """LEAN if all that goes out is; NOTHING where no port is there."""
        return Form.FULL if self.full else Form.LEAN if self.ports else Form.NOTHING

    @property
    def full(self) -> tuple[str, ...]:
        """The ports that get everything."""
        return tuple(each.port for each in self.ports if each.form is Form.FULL)

    @property
    def whole(self) -> tuple[str, ...]:
        """Those of them for which there is anything."""
        return tuple(each.port for each in self.ports if each.form is Form.FULL and each.messages)

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
    """Something asked, with all that takes time done beforehand: the evening as it is then, or why it cannot be.

    `basis` is the evening that it was made from.
    """

    asked: Asked
    basis: Evening | None = None
    evening: Evening | None = None
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
    in_turn: bool
    notices: tuple[Notice, ...]
    offer: str
    checking: Checking | None = None
