"""Walk through cues in their order as a player with a sender does: which lists are pressed, what stands how after.

Pure. What a list sets by message stands as its cue asks. Two things do not follow from the list alone, so they are
walked through: toggling switches, which have a list that flips them; and members that hands work and that a preset
stores, which every press that recalls the preset sets back.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from scenebook.cueing.cues import Cue, MessageKind, UnitState
from scenebook.cueing.sender import UNSTORED, Flip, Needs, SenderLists, flips_in
from scenebook.errors import BadValueError
from scenebook.model import MAIN, Control, Library, Preset, Switch, Unit
from scenebook.model.values import read_value

__all__ = ["Set", "Step", "stored_at", "walked"]

_OTHER = {"on": "off", "off": "on"}


class Set(NamedTuple):
    """A member that a hand or foot sets, since a list set it back; `before` is "" where nobody knows."""

    unit: str
    member: str
    before: str
    after: str


class Step(NamedTuple):
    """What is done at one cue: which lists are pressed, which flip a switch after that, and what hands set then."""

    presses: Needs
    flips: tuple[int, ...]
    hands: tuple[Set, ...] = ()


class _Walk:
    """How toggling switches and what hands work stand, as far as it is known."""

    def __init__(self, library: Library, stored: SenderLists) -> None:
        self._units, self._stored, self._ports = library.units, stored, frozenset(stored.ports)
        looped = library.rigs[stored.rig].loops.values()
        self._looped = {unit for switches in looped for inside in switches.values() for unit in inside}
        self._toggles: dict[Flip, str | None] = {each.flips: None for each in stored.lists if each.flips}
        self._hands: dict[Flip, str | None] = {}
        self._last: tuple[int, ...] = ()
        self.since: dict[Flip, int] = {}

    def step(self, full: Cue, lean: Cue, needs: Needs, *, always: bool) -> Step:
        """Take one cue: its list is pressed if it is another one, if it fires something, and where a song begins."""
        if needs == UNSTORED:
            needs, self._last = (), (-1,)  # hands change what the list before set: it is pressed again
        lists = tuple(at for at, _ in needs)
        fires = any(self._stored.lists[at].triggers for at in lists)
        pressed = bool(lists) and (always or lists != self._last or fires or not full.form)
        self._last = lists or self._last
        states = {state.unit: state for state in full.states}
        recalled = _recalled(full, self._ports) if pressed else set[str]()
        flips = tuple(self._flips(full, states, recalled, pressed=pressed))
        hands = tuple(self._hand_moves(states, recalled, _recalled(lean, self._ports)))
        for key in self._hands:
            self.since.setdefault(key, full.number)
        return Step(needs if pressed else (), flips, hands)

    def _flips(self, full: Cue, states: Mapping[str, UnitState], recalled: set[str], *, pressed: bool) -> list[int]:
        inside = flips_in(full, self._units, self._ports) if pressed else {}
        found = []
        for flip, value in self._toggles.items():
            unit, wanted = self._units[flip.unit], states[flip.unit].values.get(flip.member)
            if flip.unit in recalled and flip.member in unit.stored:
                value = stored_at(unit, states[flip.unit], flip.member)
            if flip in inside and value is not None:
                value = _OTHER[value]
            place = self._stored.flip(*flip)
            if value is not None and wanted is not None and value != wanted and place is not None:
                found.append(place)
            self._toggles[flip] = value if wanted is None else wanted
        return found

    def _hand_moves(self, states: Mapping[str, UnitState], recalled: set[str], also_lean: set[str]) -> list[Set]:
        """Return what hands set; a member is in their care from the first press on that sets it back unasked."""
        moves = []
        for name in states:
            for member in self._units[name].stored if name in recalled | {each.unit for each in self._hands} else ():
                key, state = Flip(name, member), states[name]
                if not self._is_by_hand(key):
                    continue
                wanted = state.values.get(member)
                value = (
                    stored_at(self._units[name], state, member) if name in recalled else self._hands.get(key, wanted)
                )
                if key not in self._hands and (name in also_lean or _same(self._units[name], member, value, wanted)):
                    continue
                if wanted is not None and (state.sounds or member == MAIN):
                    if not _same(self._units[name], member, value, wanted):
                        moves.append(Set(name, member, value or "", wanted))
                    value = wanted
                self._hands[key] = value
        return moves

    def _is_by_hand(self, key: Flip) -> bool:
        """Tell whether a hand or foot works a member of a unit that hears messages."""
        thing = self._units[key.unit].members[key.member]
        if thing.message or (key.member == MAIN and key.unit in self._looped):
            return False
        if isinstance(thing, Switch):
            return not thing.toggle and (thing.foot or thing.hand or thing.contact is not None)
        return thing.by_hand or thing.pedal


def walked(
    library: Library,
    stored: SenderLists,
    full: Sequence[Cue],
    lean: Sequence[Cue],
    needs: Sequence[Needs],
    *,
    always: bool = False,
) -> tuple[list[Step], Mapping[Flip, int]]:
    """Return what is done at each cue; and by member the cue from which on `Step.hands` says all that hands do to it.

    Args:
        library: at least the gig's units and rig.
        stored: what the sender stores.
        full: the cues with home first, as a full list has them.
        lean: the same cues as a lean list has them.
        needs: the presses that each needs.
        always: every cue is pressed, since it may follow any other: house sounds.
    """
    walk = _Walk(library, stored)
    steps = [walk.step(*each, always=always) for each in zip(full, lean, needs, strict=True)]
    return steps, walk.since


def _recalled(cue: Cue, ports: frozenset[str]) -> set[str]:
    return {each.unit for each in cue.messages if each.kind is MessageKind.RECALL and each.port in ports}


def stored_at(unit: Unit, state: UnitState, member: str) -> str | None:
    """Return what a recall of the preset and variant that a unit is in leaves a member at; None where nobody knows."""
    preset = next((each for each in unit.presets if each.slot == state.preset), Preset(slot=state.preset or ""))
    variant = preset.variants.get(state.variant or "")
    if variant is not None and member in variant.stores:
        return variant.stores[member]
    rest = "off" if preset.rest and member in unit.switches else None
    return preset.stores.get(member, rest)


def _same(unit: Unit, member: str, one: str | None, other: str | None) -> bool:
    """Tell whether two values of a member are the same to a hand; unknown equals nothing, and no value asks nothing."""
    thing = unit.members[member]
    if one == other or other is None:
        return True
    if one is None or not isinstance(thing, Control):
        return False
    try:
        low, high = (read_value(text, thing.scale, choices=thing.choices) for text in (one, other))
    except BadValueError:
        return False
    return abs(low - high) <= thing.slack
