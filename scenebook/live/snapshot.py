"""How a running gig stands at one moment: a frozen value that any number of pages can read while the gig goes on."""

from dataclasses import dataclass, field
from enum import StrEnum

from scenebook.cueing.cues import ByHand
from scenebook.live.places import Place
from scenebook.live.programme import Programme, Step
from scenebook.live.tonight import Tonight
from scenebook.live.walking import Checking

__all__ = ["Beat", "Form", "Learned", "Notice", "PortNow", "PortState", "Role", "Sent", "Snapshot"]


class Role(StrEnum):
    """Whether this stand sends, or follows another one silently."""

    CALLING = "calling"
    FOLLOWING = "following"


class Form(StrEnum):
    """How a step went out."""

    LEAN = "lean"
    FULL = "full"
    NOTHING = "nothing"  # offered only: after a start, a sleep


class PortState(StrEnum):
    """How it is with one of the rig's ports."""

    THERE = "there"
    GONE = "gone"  # it was there; the gig goes on by hand until it is back
    NONE = "none"  # no MIDI port was named for it, or another sender serves it


@dataclass(frozen=True, slots=True)
class PortNow:
    """One of the rig's ports, the MIDI port that it is joined to, and how it is with it."""

    port: str
    midi: str
    state: PortState
    words: str = ""


@dataclass(frozen=True, slots=True)
class Sent:
    """What went out for the step that stands: which form, by what it was asked, when, and whether all of it has gone.

    `full` are the rig's ports that got everything. `done` is false while messages wait for their time.
    """

    form: Form
    by: str
    at: float  # seconds since the epoch
    messages: int
    full: tuple[str, ...] = ()
    done: bool = True


@dataclass(frozen=True, slots=True)
class Notice:
    """Something that the player has to be told, in a sentence; it stays until what it tells of is over."""

    words: str
    about: str = ""  # what it is about: "port front", "unit fuzz"; a newer notice about the same takes its place


@dataclass(frozen=True, slots=True)
class Beat:
    """The tempo that clock goes out with, in quarter notes a minute; `waits` says why a wanted one is not there yet."""

    running: float | None = None
    wanted: float | None = None
    waits: str = ""


@dataclass(frozen=True, slots=True)
class Learned:
    """A message that was pressed while learning: where it came in, its bytes, and what it is to do.

    `is_new` is false where it did that already; only the snapshot tells it.
    """

    listens: str
    data: bytes
    does: str
    is_new: bool = field(default=True, compare=False)


@dataclass(frozen=True, slots=True)
class Snapshot:
    """Everything that a page shows.

    `check` is what hands and feet have to look at after a jump, and what they would have prepared before it. `in_turn`
    says that the step came after its neighbour, so that its own moves by hand (lean) are what there is to do.
    `ahead` is where NEXT leads, `left` where the set was left, if it was. `refused` is why the last act was not done.
    `checking` is the line check that goes on. `unfinished` is only in what `ask` returns when it has waited for long:
    what was asked is still being worked out, and may be refused yet.
    """

    version: int
    programme: Programme
    step: Step
    ahead: Step | None
    left: Place | None
    role: Role
    sent: Sent
    ports: tuple[PortNow, ...]
    tonight: Tonight = field(default_factory=Tonight)
    check: tuple[ByHand, ...] = ()
    in_turn: bool = False
    notices: tuple[Notice, ...] = ()
    beat: Beat = Beat()
    learning: str = ""
    learned: Learned | None = None
    offer: str = ""  # "the rig may stand anywhere: send again" after a start, a sleep, a return
    refused: str = ""
    checking: Checking | None = None
    unfinished: str = ""
