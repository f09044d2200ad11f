"""What hands do at a cue of which a sender stores no list: each member that a message would have set, if hands can.

Pure. Such a cue comes of what was changed tonight. What no hand can do is lacking there, and said.
"""

from collections.abc import Container, Iterator, Mapping, Sequence
from typing import NamedTuple

from scenebook.cueing.cues import Action, ByHand, Cue, MessageKind, Moment, UnitState
from scenebook.cueing.sender import UNSTORED, Flip, Needs, flips_in
from scenebook.cueing.sender_walk import stored_at
from scenebook.model import MAIN, Settings, Switch
from scenebook.states.stage import Carried, Stage, Way

__all__ = ["Instead", "Work"]

_WHY = "no list of the sender does it"
_BY_MESSAGE = (Way.MESSAGE, Way.TOGGLE)


class Work(NamedTuple):
    """The moves of hands and feet at one cue, and what nobody can do there."""

    moves: tuple[ByHand, ...] = ()
    lacks: tuple[str, ...] = ()


class _Stands(NamedTuple):
    """How one unit stands, as far as it is known: the preset and variant recalled last, and its members."""

    preset: str | None
    variant: str | None
    values: Mapping[str, str]


class _Asked(NamedTuple):
    """One thing that a cue asks of a unit: a member, or its preset."""

    member: str
    before: str
    after: str
    action: Action | None  # None: no hand can


_Standing = dict[str, _Stands]
_NOWHERE = _Stands(None, None, {})


class Instead:
    """Walks through cues in their order, and says what hands do at each that no list serves.

    `flips` are the toggling switches that have a list which flips them.
    """

    def __init__(self, stage: Stage, ports: Container[str], flips: Container[Flip], settings: Settings) -> None:
        self._served = tuple(each for each in stage.carried if each.placement.port in ports)
        self._stage, self._ports, self._flips = stage, ports, flips
        self._press_us, self._turn_us = round(1000 * settings.press_ms), round(1000 * settings.turn_ms)

    def walked(self, full: Sequence[Cue], lean: Sequence[Cue], needs: Sequence[Needs]) -> list[Work]:
        """Return the work at each of some cues in both forms; how units stand before the first nobody knows."""
        stands: _Standing = {}
        found = []
        for whole, cue, need in zip(full, lean, needs, strict=True):
            if need == UNSTORED:
                found.append(self._work(whole, stands))
            else:
                found.append(self._flipped(whole, cue))
                states = {each.name: whole.states[each.index] for each in self._served}
                stands = {name: _Stands(each.preset, each.variant, each.values) for name, each in states.items()}
        return found

    def alone(self, full: Cue, need: Needs) -> Work:
        """Return the work at a cue that may follow any other: everything is looked at."""
        if need != UNSTORED:
            return Work()
        found = self._work(full, {}, silent=True)
        kept = (Action.FIRE, Action.RECALL)
        moves = (m if m.action in kept else m._replace(action=Action.CHECK, before="") for m in found.moves)
        return found._replace(moves=tuple(moves))

    def _work(self, cue: Cue, stands: _Standing, *, silent: bool = False) -> Work:
        """Return what hands do at a cue without a list, and note how the units stand then.

        `silent`: units that do not sound are set as well.
        """
        moves: list[ByHand] = []
        lacks: list[str] = []
        for each in self._served:
            state, was = cue.states[each.index], stands.get(each.name, _NOWHERE)
            asked = list(self._asked(each, state, was, silent=silent))
            moves += [self._move(cue, each.name, thing, thing.action) for thing in asked if thing.action]
            lacks += [_lack(each.name, thing) for thing in asked if thing.action is None]
            stands[each.name] = _after(state, was, asked)
        fired = self._fired(cue)
        moves += [self._move(cue, unit, thing, thing.action) for unit, thing in fired if thing.action]
        lacks += [f"{unit} {thing.member} does not fire: {_WHY}" for unit, thing in fired if thing.action is None]
        return Work(tuple(moves), tuple(lacks))

    def _flipped(self, whole: Cue, lean: Cue) -> Work:
        """Return the flips that a lean cue asks for and that no list does."""
        inside = flips_in(whole, self._stage.units, self._ports)
        asked = []
        for flip in flips_in(lean, self._stage.units, self._ports):
            if flip not in self._flips and flip not in inside:
                carried = self._stage.by_name[flip.unit]
                value = lean.states[carried.index].values[flip.member]
                asked.append((flip.unit, _Asked(flip.member, "", value, _action(carried, flip.member))))
        moves = tuple(self._move(lean, unit, thing, thing.action) for unit, thing in asked if thing.action)
        return Work(moves, tuple(_lack(unit, thing) for unit, thing in asked if thing.action is None))

    def _asked(self, unit: Carried, state: UnitState, was: _Stands, *, silent: bool) -> Iterator[_Asked]:
        """Yield what a unit needs at a cue; what waits while it does not sound is left for later."""
        if not (state.sounds or silent):
            if MAIN in state.values and was.values.get(MAIN) != state.values[MAIN]:
                yield from self._members(unit, state, was, (MAIN,))
            return
        members, action = list(state.values), _recall_action(unit, state)
        if state.named and (state.preset, state.variant) != (was.preset, was.variant):
            yield _Asked("preset", was.preset or "", state.preset or "", action)
            if action is not None:
                was = was._replace(values={m: v for m, v in was.values.items() if m not in unit.unit.stored})
                members = [m for m in members if stored_at(unit.unit, state, m) != state.values[m]]
        yield from self._members(unit, state, was, members)

    def _members(self, unit: Carried, state: UnitState, was: _Stands, members: Sequence[str]) -> Iterator[_Asked]:
        for member in members:
            is_ours = unit.ways[member] in _BY_MESSAGE and (unit.name, member) not in self._flips
            if is_ours and was.values.get(member) != state.values[member]:
                before, action = was.values.get(member, ""), _action(unit, member)
                yield _Asked(member, before, state.values[member], action)

    def _fired(self, cue: Cue) -> list[tuple[str, _Asked]]:
        """Return the triggers that a cue's messages on the sender's ports fire, by unit."""
        found = []
        for each in cue.messages:
            if each.kind is MessageKind.TRIGGER and each.value != "release" and each.port in self._ports:
                trigger = self._stage.units[each.unit].triggers[each.member]
                found.append((each.unit, _Asked(each.member, "", each.value, Action.FIRE if trigger.foot else None)))
        return list(dict.fromkeys(found))

    def _move(self, cue: Cue, unit: str, asked: _Asked, action: Action) -> ByHand:
        taken = self._turn_us if action in (Action.TURN, Action.PEDAL) else self._press_us
        return ByHand(action, unit, asked.member, asked.before, asked.after, Moment.CUE, cue.number, taken)


def _action(unit: Carried, member: str) -> Action | None:
    """Return how a hand or foot works a member that else a message works; None where neither can."""
    thing = unit.unit.members[member]
    if isinstance(thing, Switch):
        if thing.foot or thing.contact is not None:
            return Action.PRESS
        return Action.TURN if thing.hand else None
    return Action.TURN if thing.by_hand else Action.PEDAL if thing.pedal else None


def _recall_action(unit: Carried, state: UnitState) -> Action | None:
    """Return RECALL where foot or hand recalls presets; a variant inside one they do not reach."""
    programs = unit.unit.programs
    can = programs is not None and (programs.foot or programs.hand) and state.variant is None
    return Action.RECALL if can else None


def _after(state: UnitState, was: _Stands, asked: Sequence[_Asked]) -> _Stands:
    """Return how a unit stands after what hands have done of what was asked."""
    done = {each.member: each.after for each in asked if each.action is not None}
    failed = {each.member for each in asked if each.action is None}
    preset, variant = (state.preset, state.variant) if "preset" in done else (was.preset, was.variant)
    if "preset" in done or not ({"preset"} & failed or not state.sounds):
        kept: Mapping[str, str] = {m: v for m, v in state.values.items() if m not in failed}
    else:
        kept = {m: v for m, v in was.values.items() if state.values.get(m) == v}
        kept = {**kept, **{m: v for m, v in done.items() if m != "preset"}}
    return _Stands(preset, variant, kept)


def _lack(unit: str, asked: _Asked) -> str:
    member = "" if asked.member == MAIN else f" {asked.member}"
    return f"{unit}{member} {asked.after}: {_WHY}"
