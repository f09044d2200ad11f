"""What the compiler gives: cues, each with its moves in order, its times, and what the player must know of it.

Plain frozen values; times are whole microseconds from the cue on the port's own clock (rule C7).
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

__all__ = ["Action", "ByHand", "Cue", "CueList", "Message", "MessageKind", "Moment", "SongCues", "UnitState"]
__all__ += ["recalled_slots"]


class MessageKind(StrEnum):
    """What a message is for, in the order in which a cue sends them (rule C6)."""

    OFF = "off"
    RECALL = "recall"
    VARIANT = "variant"
    CONTROL = "control"
    ON = "on"
    TRIGGER = "trigger"


class Message(NamedTuple):
    """One message sent: its bytes, and when its first byte starts."""

    port: str
    unit: str
    kind: MessageKind
    member: str
    value: str  # as the player would say it: on, off, 2 o'clock, slot as displayed
    data: bytes
    at_us: int


class Action(StrEnum):
    """What a hand or foot does."""

    PRESS = "press"  # a footswitch
    RECALL = "recall"  # a preset, by foot or hand
    TURN = "turn"  # a knob, a hand switch
    PEDAL = "pedal"  # an expression pedal
    HOLD = "hold"  # a momentary switch, as long as the scene says
    FIRE = "fire"  # a trigger by foot
    CHANGE = "change"  # another instrument, tuning or capo
    CHECK = "check"  # full: see that it stands so, by the lamp


class Moment(StrEnum):
    """Where in its window a move by hand is listed (rule C9)."""

    BEFORE = "before the first song"
    GAP = "in the gap before"
    FREE = "in the free bars before"
    CUE = "at the cue"


class ByHand(NamedTuple):
    """One thing that a hand or foot does.

    `before` is how it stood ("" where nobody knows), `after` how it must stand. `for_cue` is the cue that needs it; it
    is listed at the cue before which it is made.
    """

    action: Action
    unit: str
    member: str
    before: str
    after: str
    moment: Moment
    for_cue: int
    us: int  # how long it takes
    presses: int = 1


class UnitState(NamedTuple):
    """How one unit stands after a cue, in words: whether it sounds, preset and variant, its members as written."""

    unit: str
    sounds: bool
    preset: str | None  # slot as displayed, of the preset that was recalled last; None where that is not known
    named: bool  # whether the scene asks for that preset
    variant: str | None
    values: Mapping[str, str]  # determined members; those that are free are not in it
    left: frozenset[str]  # members that the scene leaves as they were; all, for a unit that is left


class Cue(NamedTuple):
    """One step through a gig.

    `entry` counts the songs of all sets from 0, `form` the entries of the song's form from 0; cue 0 (home) has neither.
    """

    number: int
    entry: int | None
    form: int | None
    song: str
    scene: str
    bars: float | None
    free: float
    words: str
    messages: tuple[Message, ...]
    by_hand: tuple[ByHand, ...]
    lacks: tuple[str, ...]
    without: tuple[str, ...]
    stand_ins: tuple[str, ...]  # "fuzz: multi-effects drive, likeness 0.7"
    not_carried: tuple[str, ...]
    notes: tuple[str, ...]  # what cannot be promised, what is not heard, sounds that overlap
    late: str  # "" in time; "late by 1.2 s"; "time not known: why"
    silence_us: int
    tails_cut: tuple[str, ...]  # units of which a recall cuts what rings on
    overlap_us: int  # an old sound goes on past a new one
    interrupted_us: int  # a left member was away for so long
    bytes: int
    running_bytes: int  # an estimate: with running status
    settled_us: int
    states: tuple[UnitState, ...]  # one for each carried unit, in chain order


@dataclass(frozen=True, slots=True)
class SongCues:
    """A song outside the sets, compiled by itself from home: a spare song, or the house sounds."""

    song: str
    cues: tuple[Cue, ...]


@dataclass(frozen=True, slots=True)
class CueList:
    """A gig, compiled: cue 0 is home, then every entry of every form in order."""

    gig: str
    rig: str
    full: bool
    cues: tuple[Cue, ...]
    spares: tuple[SongCues, ...]
    house: SongCues | None
    warnings: tuple[str, ...]


def recalled_slots(cues: CueList) -> Iterator[tuple[str, str]]:
    """Yield (unit, slot as displayed) of every preset that the gig's cues are in."""
    songs = (*cues.spares, *([cues.house] if cues.house else []))
    for cue in (*cues.cues, *(cue for song in songs for cue in song.cues)):
        yield from ((state.unit, state.preset) for state in cue.states if state.preset is not None)
