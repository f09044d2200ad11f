"""The line check: the shortest list of a gig's cues that touches all that the gig uses, before anybody listens.

Pure. What a cue touches is read from its full list, since that is what goes out: the check does not depend on what
came before. Loudness in dB is what the player noted with scenes; where no scene has any, it is assumed from how many
drive, fuzz and preamp units sound, and said to be.
"""

from collections.abc import Iterator, Mapping, Sequence
from enum import StrEnum
from functools import cached_property
from typing import NamedTuple

from scenebook.cueing.cues import Action, Cue, MessageKind, UnitState
from scenebook.model import MAIN, Control, Role, Song
from scenebook.planning.covering import smallest_cover
from scenebook.states.stage import Carried, Stage

__all__ = ["Check", "Kind", "LineCheck", "Thing", "Touching", "line_check"]

ASSUMED = "assumed from how many drive, fuzz and preamp units sound, since no scene has a level"
NOTED = "as the scenes have it, in dB"
_GAIN = frozenset({Role.DRIVE, Role.FUZZ, Role.PREAMP})


class Kind(StrEnum):
    """In which way a thing is touched."""

    PORT = "a message goes out"
    SOUNDS = "sounds"
    RECALLED = "recalled"
    ON = "on"
    PEDAL = "pedal to move"
    FIRED = "fired"
    LOUDEST = "loudest scene"
    QUIETEST = "quietest scene"


class Thing(NamedTuple):
    """One thing to be touched: a unit or a member of it, a port by its name, or the loudest or quietest scene."""

    kind: Kind
    name: str = ""
    member: str = ""

    def __str__(self) -> str:
        """Say what is touched: "fuzz, silicon", "multi delay", "front"."""
        return f"{self.name} {self.member}".strip()


class Check(NamedTuple):
    """One cue of a line check: its number among the cues asked about, and what it is the first to touch.

    `caution` is what has to be said before it: it is the loudest.
    """

    number: int
    cue: Cue
    first: tuple[Thing, ...]
    caution: str = ""


class LineCheck(NamedTuple):
    """The cues in order, what no cue of the gig touches, and how it is known which is the loudest."""

    checks: tuple[Check, ...]
    untouched: tuple[Thing, ...]
    loudness: str


def line_check(cues: Sequence[Cue], stage: Stage, songs: Mapping[str, Song]) -> LineCheck:
    """Return the shortest list of cues that touches all that any of them touches; of several the earliest.

    `cues` are full ones: those of the sets, of spare songs, of house sounds; `stage` is the rig as it stands tonight,
    and `songs` are theirs, which have the scenes' levels. Touched is a unit when it sounds (each that has presets when
    one is recalled), a switch when it is on or held while its unit sounds, an expression pedal when its unit sounds, a
    trigger when it fires, a port when a message goes out; the loudest and the quietest scene are among them.

    Raises:
        BadValueError: no shortest list was proved in a minute.
    """
    touching = Touching(cues, stage, songs)
    return LineCheck(touching.walked(touching.shortest()), touching.untouched, touching.loudness)


class Touching:
    """What each of some cues touches."""

    def __init__(self, cues: Sequence[Cue], stage: Stage, songs: Mapping[str, Song]) -> None:
        self._cues, self._stage = cues, stage
        levels = [songs[cue.song].scenes[cue.scene].level for cue in cues]
        self.loudness = _loudness_words(levels)
        self._levels = levels if any(level is not None for level in levels) else [self._gain(cue) for cue in cues]
        self._is_noted = self._levels is levels

    @cached_property
    def held(self) -> tuple[frozenset[Thing], ...]:
        """What each cue touches."""
        known = [level for level in self._levels if level is not None]
        ends = {Thing(Kind.LOUDEST): max(known, default=0), Thing(Kind.QUIETEST): min(known, default=0)}
        return tuple(
            frozenset([*self._touched(cue), *(thing for thing, end in ends.items() if level == end)])
            for cue, level in zip(self._cues, self._levels, strict=True)
        )

    @property
    def untouched(self) -> tuple[Thing, ...]:
        """What no cue touches, along the chain; of a unit that never sounds, no switches and pedals by themselves."""
        touched = frozenset[Thing]().union(*self.held)
        silent = {each.name for each in self._stage.carried if Thing(Kind.SOUNDS, each.name) not in touched}
        return tuple(
            thing
            for thing in self._things()
            if thing not in touched and not (thing.kind in (Kind.ON, Kind.PEDAL) and thing.name in silent)
        )

    def shortest(self) -> tuple[int, ...]:
        """Return the numbers of the fewest cues that touch everything that any touches."""
        return smallest_cover(self.held)

    def walked(self, numbers: Sequence[int]) -> tuple[Check, ...]:
        """Return cues in an order, each with what it is the first to touch."""
        order = [*self._things(), Thing(Kind.QUIETEST), Thing(Kind.LOUDEST)]
        seen: set[Thing] = set()
        checks = []
        for number in numbers:
            new = self.held[number] - seen
            seen |= new
            caution = self._caution(number) if Thing(Kind.LOUDEST) in self.held[number] else ""
            checks.append(Check(number, self._cues[number], tuple(each for each in order if each in new), caution))
        return tuple(checks)

    def _things(self) -> Iterator[Thing]:
        """Yield all that there is to touch on the stage, each once."""
        carried = self._stage.carried
        yield from (Thing(Kind.PORT, port) for port in dict.fromkeys(c.placement.port for c in carried) if port)
        yield from (Thing(Kind.SOUNDS, each.name) for each in carried)
        yield from (Thing(Kind.RECALLED, each.name) for each in carried if each.recall is not None)
        for each in carried:
            yield from (Thing(Kind.ON, each.name, name) for name in each.unit.switches if name != MAIN)
        yield from (Thing(Kind.PEDAL, each.name, name) for each in carried for name in _pedals(each))
        yield from (Thing(Kind.FIRED, each.name, name) for each in carried for name in each.unit.triggers)

    def _touched(self, cue: Cue) -> Iterator[Thing]:
        yield from (Thing(Kind.PORT, message.port) for message in cue.messages)
        for message in cue.messages:
            if message.kind is MessageKind.TRIGGER:
                yield Thing(Kind.FIRED, message.unit, message.member)
        for move in cue.by_hand:
            kind = {Action.FIRE: Kind.FIRED, Action.HOLD: Kind.ON}.get(move.action)
            if kind is not None and move.for_cue == cue.number:
                yield Thing(kind, move.unit, move.member)
        for state in cue.states:
            yield from self._touched_of(state, self._stage.by_name[state.unit])

    def _touched_of(self, state: UnitState, carried: Carried) -> Iterator[Thing]:
        if state.preset is not None:
            yield Thing(Kind.RECALLED, state.unit)
        if state.sounds:
            yield Thing(Kind.SOUNDS, state.unit)
            yield from (Thing(Kind.ON, state.unit, name) for name in _on(state, carried) if name != MAIN)
            yield from (Thing(Kind.PEDAL, state.unit, name) for name in _pedals(carried))

    def _gain(self, cue: Cue) -> float:
        """Return how many drives, fuzzes and preamps sound in a cue: a unit's sections where it has any, else units."""
        count = 0
        for state in cue.states:
            unit = self._stage.by_name[state.unit].unit
            sections = [name for name, switch in unit.switches.items() if switch.section in _GAIN]
            if state.sounds and sections:
                count += sum(state.values.get(name) == "on" for name in sections)
            elif state.sounds:
                count += bool(_GAIN.intersection(unit.roles))
        return count

    def _caution(self, number: int) -> str:
        known = [level for level in self._levels if level is not None]
        level = self._levels[number]
        assert level is not None, "it is the loudest of those that have one"
        above = f", {level - min(known):g} dB above the quietest" if self._is_noted and level > min(known) else ""
        return (
            f"The loudest scene of the gig{above}: agree with the house before it sounds, protect your hearing, "
            "and warn whoever stands near the loudspeakers"
        )


def _loudness_words(levels: Sequence[float | None]) -> str:
    lacking = sum(level is None for level in levels)
    if lacking == len(levels):
        return ASSUMED
    return f"{NOTED}; {lacking} of {len(levels)} cues have none and may be louder" if lacking else NOTED


def _on(state: UnitState, carried: Carried) -> list[str]:
    return [name for name, text in state.values.items() if text == "on" and name in carried.unit.switches]


def _pedals(carried: Carried) -> list[str]:
    return [name for name, thing in carried.unit.members.items() if isinstance(thing, Control) and thing.pedal]
