"""An evening as it stands tonight, compiled: what the caller reads, and what a change for tonight makes anew. Pure."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from scenebook.cueing.cues import Message
from scenebook.errors import ScenebookError
from scenebook.live.acts import Act, Verb
from scenebook.live.changing import changed
from scenebook.live.programme import Programme, Step, programme_of
from scenebook.live.tonight import Tonight, applied, tonight_of
from scenebook.model import Library
from scenebook.states.stage import Carried, Way, stage_of

__all__ = ["Evening", "Split", "changed_evening", "evening_of"]

Split = Mapping[str, tuple[Message, ...]]


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
        there = applied(self.library, self.gig, self.rig, self.tonight, stays=self.programme.stays)
        found: defaultdict[str, list[Carried]] = defaultdict(list)
        for each in stage_of(there, self.rig, there.gigs[self.gig]).carried:
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
    def _split(self) -> dict[int, Split]:
        return {}

    def split(self, step: Step, *, full: bool) -> Split:
        """Return a step's messages by port, in order; worked out once for each step."""
        messages = step.full.messages if full else step.lean.messages
        found = self._split.get(id(messages))  # the programme holds them as long as this evening lives
        if found is None:
            by_port: defaultdict[str, list[Message]] = defaultdict(list)
            for message in messages:
                by_port[message.port].append(message)
            found = self._split[id(messages)] = {port: tuple(each) for port, each in by_port.items()}
        return found


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


def _looked_at(evening: Evening) -> Evening:
    """Work out what a step needs here, where there is time."""
    _ = evening.hearing, evening.toggling, evening.programme.by_place
    evening.programme.row(evening.programme.home.place)
    return evening
