"""Which of a rig's ports stand as the list believes, so that lean may go out to them. Pure.

A port that is sure stands as the last step asks. That is not all that a lean list believes: a control that the last
step leaves free may have been set some cues ago, and the list sends it no more. After a jump nobody set it; so for each
unit the members are kept that stand as the list believes, and a step that leans on another goes out full.
"""

from collections.abc import Iterable

from scenebook.cueing.cues import MessageKind
from scenebook.live.evening import Evening
from scenebook.live.programme import Step
from scenebook.states.stage import Way

__all__ = ["Sureness"]

_NOTHING: frozenset[str] = frozenset()


class Sureness:
    """What is sure of the ports of one evening. At first nothing is."""

    def __init__(self, evening: Evening) -> None:
        self._evening = evening
        self.unsure = set(evening.ports)
        self._known: dict[str, frozenset[str]] = {}

    def twin(self) -> "Sureness":
        """Return one that knows the same and goes its own way."""
        other = Sureness(self._evening)
        other.unsure, other._known = set(self.unsure), dict(self._known)
        return other

    def doubt(self, ports: Iterable[str]) -> None:
        """Say that ports may stand otherwise than the last step asks."""
        self.unsure.update(ports)

    def doubt_all(self) -> None:
        """Say that the whole rig may stand anywhere."""
        self.unsure = set(self._evening.ports)

    def may_lean(self, port: str, step: Step) -> bool:
        """Tell whether a port stands as the lean list of a step believes, where the step before it went out last."""
        if port in self.unsure:
            return False
        leans = self._evening.leans(step).get(port, ())
        return all(each.believed <= self._known.get(each.unit, _NOTHING) for each in leans)

    def went_full(self, port: str, step: Step) -> None:
        """Say that everything goes out to a port: it is sure of all that the step asks, and of nothing else."""
        self.unsure.discard(port)
        for each in self._evening.hearing.get(port, ()):
            self._known[each.name] = frozenset(step.full.states[each.index].values)

    def went_lean(self, port: str, step: Step) -> None:
        """Say that the lean list of a step goes out to a port."""
        for each in self._evening.leans(step).get(port, ()):
            self._known[each.unit] = self._known.get(each.unit, _NOTHING) | each.sure

    def compiled_anew(self, evening: Evening, before: Step, after: Step) -> tuple[str, ...]:
        """Take another evening for the one before, at the same place; return the ports that now must stand otherwise.

        Of the others only that much is known which the place itself asks for.
        """
        old, self._evening = self._evening, evening
        found: list[str] = []
        for port in evening.ports if evening.programme is not old.programme else ():
            wanted_before = _wanted(old, before, port)
            wanted = _wanted(evening, after, port)
            if any(wanted_before.get(unit) != how for unit, how in wanted.items()):
                found.append(port)
                self.unsure.add(port)
            elif port not in self.unsure:
                self.went_full(port, after)
        return tuple(found)


def _wanted(evening: Evening, step: Step, port: str) -> dict[str, tuple[object, ...]]:
    """Return how a step wants each unit of a port: what brings it there, whatever it was, and its flipping switches.

    Triggers bring it nowhere.
    """
    sent: dict[str, list[bytes]] = {}
    for message in evening.split(step, full=True).get(port, ()):
        if message.kind is not MessageKind.TRIGGER:
            sent.setdefault(message.unit, []).append(message.data)
    found: dict[str, tuple[object, ...]] = {}
    for unit in evening.hearing.get(port, ()):
        values = step.full.states[unit.index].values
        flips = tuple(values.get(member) for member, way in unit.ways.items() if way is Way.TOGGLE)
        found[unit.name] = (tuple(sent.get(unit.name, ())), flips)
    return found
