"""An evening as it stands tonight, compiled: what the caller reads, and what a change for tonight makes anew. Pure."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

from scenebook.cueing.cues import Message, MessageKind, UnitState
from scenebook.errors import ScenebookError
from scenebook.live.acts import Act, Verb
from scenebook.live.changing import changed
from scenebook.live.places import Place
from scenebook.live.programme import Programme, Step, programme_of
from scenebook.live.snapshot import Notice
from scenebook.live.tonight import Tonight, applied, tonight_of
from scenebook.live.walking import Checking, Walk
from scenebook.model import Library
from scenebook.model.base import listed
from scenebook.planning.line_check import Touching
from scenebook.states.stage import Carried, Stage, Way, stage_of

__all__ = ["Evening", "Leans", "Split", "changed_evening", "evening_of", "told_by"]

Split = Mapping[str, tuple[Message, ...]]
_SETS = (MessageKind.OFF, MessageKind.CONTROL, MessageKind.ON)
_NO_SPLIT: Split = {}


class Leans(NamedTuple):
    """What the lean list of a step believes of one unit, and what it makes sure: members that messages work."""

    unit: str
    believed: frozenset[str]  # asked for, and not sent: they stand so already
    sure: frozenset[str]  # what the step asks for, what it sends, what its recalls store


@dataclass(frozen=True)
class Evening:
    """The library as the player wrote it, what is different tonight, and the programme that comes of both."""

    library: Library
    gig: str
    rig: str
    tonight: Tonight
    programme: Programme

    @property
    def ports(self) -> tuple[str, ...]:
        """The ports of the rig, those of which nobody hears anything tonight included."""
        return self.library.rigs[self.rig].ports

    @cached_property
    def hearing(self) -> Mapping[str, tuple[Carried, ...]]:
        """The carried units that hear each port tonight."""
        found: defaultdict[str, list[Carried]] = defaultdict(list)
        for each in self._stage.carried:
            if each.placement.port is not None:
                found[each.placement.port].append(each)
        return {port: tuple(units) for port, units in found.items()}

    @cached_property
    def toggling(self) -> frozenset[tuple[str, str]]:
        """The switches, by unit, that a message can only flip."""
        return frozenset(
            (each.name, member)
            for units in self.hearing.values()
            for each in units
            for member, way in each.ways.items()
            if way is Way.TOGGLE
        )

    @cached_property
    def _stage(self) -> Stage:
        there = applied(self.library, self.gig, self.rig, self.tonight, stays=self.programme.stays)
        return stage_of(there, self.rig, there.gigs[self.gig])

    @cached_property
    def checkable(self) -> tuple[Step, ...]:
        """The steps that may serve in a line check: all but home and the safe state."""
        programme = self.programme
        return (*programme.steps[1:], *(step for spare in programme.spares for step in spare), *programme.house)

    @cached_property
    def touching(self) -> Touching:
        """What each of `checkable` touches."""
        sent = self.programme.whole
        cues = [sent.get(step.place, step.full) for step in self.checkable]
        found = Touching(cues, self._stage, self.library.songs)
        _ = found.held
        return found

    @cached_property
    def to_check(self) -> tuple[Place, ...]:
        """The places of the shortest line check; the first time it takes some tenths of a second.

        Raises:
            BadValueError: no shortest list was proved in a minute.
        """
        return tuple(self.checkable[number].place for number in self.touching.shortest())

    def checking(self, walk: Walk) -> Checking:
        """Return what is told of a line check; all its places have to be there."""
        numbers = {step.place: number for number, step in enumerate(self.checkable)}
        checks = self.touching.walked([numbers[place] for place in walk.places])
        return Checking(walk.at, checks, self.touching.untouched, self.touching.loudness)

    @cached_property
    def _splits(self) -> dict[tuple[Place, bool], Split]:
        return {}

    @cached_property
    def _leans(self) -> dict[Place, Mapping[str, tuple[Leans, ...]]]:
        return {}

    def split(self, step: Step, *, full: bool) -> Split:
        """Return a step's messages by port, in order; worked out once for each step of this evening's programme."""
        found = self._splits.get((step.place, full))
        if found is None:
            by_port: defaultdict[str, list[Message]] = defaultdict(list)
            for message in step.full.messages if full else step.lean.messages:
                by_port[message.port].append(message)
            found = {port: tuple(each) for port, each in by_port.items()} if by_port else _NO_SPLIT
            self._splits[step.place, full] = found
        return found

    def leans(self, step: Step) -> Mapping[str, tuple[Leans, ...]]:
        """Return by port what the lean list of a step takes for granted; worked out once as well."""
        found = self._leans.get(step.place)
        if found is None:
            found = {port: tuple(_leans(each, step) for each in units) for port, units in self.hearing.items()}
            self._leans[step.place] = found
        return found


def _leans(unit: Carried, step: Step) -> Leans:
    state = step.lean.states[unit.index]
    asked = frozenset(member for member in state.values if unit.ways[member] is Way.MESSAGE)
    settled = _settled(unit, state, [message for message in step.lean.messages if message.unit == unit.name])
    return Leans(unit.name, asked - settled, asked | settled)


def _settled(unit: Carried, state: UnitState, messages: Sequence[Message]) -> frozenset[str]:
    """Return the members of which messages take care: they set them, or recall what stores them (rule S5)."""
    found: set[str] = set()
    for message in messages:
        if message.kind in _SETS:
            found.add(message.member)
        elif message.kind is MessageKind.RECALL:
            found |= unit.unit.stored
        elif message.kind is MessageKind.VARIANT and state.preset is not None:
            _, preset = unit.unit.preset_at(state.preset)
            found.update(member for variant in preset.variants.values() for member in variant.stores)
    return frozenset(found)


def evening_of(library: Library, gig: str, rig: str, tonight: Tonight | None = None) -> Evening:
    """Return an evening, compiled; without `tonight` as the gig says.

    Raises:
        ScenebookError: the gig cannot be played so, as the compiler says it.
    """
    tonight = tonight if tonight is not None else tonight_of(library.gigs[gig])
    return _looked_at(Evening(library, gig, rig, tonight, programme_of(library, gig, rig, tonight)))


def changed_evening(evening: Evening, act: Act) -> Evening:
    """Return the evening after a change for tonight.

    Raises:
        ScenebookError: it cannot be done, or played so.
    """
    library, gig, rig = evening.library, evening.gig, evening.rig
    tonight = changed(library, gig, rig, evening.tonight, act)
    if act.verb is Verb.KEY:  # nothing is sent for a key
        return _looked_at(replace(evening, tonight=tonight))
    try:
        return evening_of(library, gig, rig, tonight)
    except ScenebookError as error:
        raise error.at("played so") from None


def told_by(evening: Evening) -> tuple[Notice, ...]:
    """Return what a player has to be told of an evening: units that stay as they stood, borrowed ones that mishear."""
    stays = [
        Notice(f"{name} hears nothing and cannot be worked by hand: it stays as it stood", f"unit {name}")
        for name in evening.programme.stays
    ]
    for name in evening.tonight.played_by.values():
        of_it = [text for text in evening.programme.warnings if text.startswith(f"{name!r} ")]
        if of_it:
            more = f", and {len(of_it) - 1} more like it" if of_it[1:] else ""
            stays.append(Notice(f"{of_it[0]}{more}", f"unit {name}"))
    return (*stays, *_of_the_sender(evening))


def _of_the_sender(evening: Evening) -> Iterator[Notice]:
    """Yield what has to be told of the unit that holds the lists: scenes that it has none of, that it is not there."""
    programme, sender = evening.programme, evening.library.rigs[evening.rig].sender
    if programme.unstored:
        scenes = listed(programme.unstored)
        yield Notice(f"The sender has no list of {scenes} as it is tonight: hands do what they can", "sender lists")
    if programme.silent and sender is not None:
        words = f"{programme.silent} is not there, and nothing else has its lists"
        remedy = "say of what hears it that it is deaf, and hands work it"
        yield Notice(f"{words}: unless this computer serves {listed(sender.ports)}, {remedy}", "sender")


def _looked_at(evening: Evening) -> Evening:
    """Work out what the steps need here, where there is time."""
    programme = evening.programme
    _ = evening.hearing, evening.toggling, programme.row(programme.home.place)
    for step in programme.by_place.values():
        _ = evening.leans(step), evening.split(step, full=True), evening.split(step, full=False)
    return evening
