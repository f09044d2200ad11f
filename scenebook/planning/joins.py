"""Which leads to join where something in a rig is gone: along the chain, and along the MIDI thru chain."""

from collections.abc import Iterator, Mapping, Sequence
from enum import StrEnum
from itertools import groupby, pairwise
from typing import NamedTuple

from scenebook.model import Parallel, Rig

__all__ = ["AMPLIFIER", "INSTRUMENT", "MIX", "SPLIT", "Join", "Lines", "MidiLines", "chain_joins"]

INSTRUMENT, AMPLIFIER, SPLIT, MIX = "the instrument", "the amplifier", "the split", "the mix"
_SEND, _RETURN = "the send of ", "the return of "


class Lines(StrEnum):
    """What runs through the leads that are joined."""

    SIGNAL = "signal"
    MIDI = "MIDI"


class Join(NamedTuple):
    """Two leads to join: the one that comes from `before` and the one that goes to `after`."""

    lines: Lines
    before: str  # a unit or its send, INSTRUMENT or SPLIT; for MIDI "port NAME" or a unit's thru
    after: str  # a unit or its return, AMPLIFIER or MIX


def chain_joins(rig: Rig, gone: frozenset[str]) -> tuple[Join, ...]:
    """Return what carries the signal past units that are gone, in chain order.

    A parallel path of which nothing is left stays open: joined, it would add the plain signal. Where a loop switcher is
    gone, the leads to and from each of its loops are joined.
    """
    nodes = [link if isinstance(link, str) else SPLIT for link in rig.chain]
    found = [*_past(nodes, gone, INSTRUMENT, AMPLIFIER)]
    for link in rig.chain:
        for path in link.parallel if isinstance(link, Parallel) else ():
            if not gone.issuperset(path):
                found += _past(path, gone, SPLIT, MIX)
    for holder in gone & rig.loops.keys():
        found += _without_loops(nodes, rig.loops[holder], gone)
    return tuple(dict.fromkeys(found))


class MidiLines:
    """The MIDI leads of a rig as a tree: where each unit's messages come from, and who is behind whom."""

    def __init__(self, rig: Rig) -> None:
        self._from = {lead.to: f"port {lead.port}" if lead.port else lead.thru or "" for lead in rig.leads}

    @property
    def leads(self) -> Iterator[tuple[str, str]]:
        """Each lead by its two ends."""
        return ((start, end) for end, start in self._from.items())

    def behind(self, unit: str) -> tuple[str, ...]:
        """Return the units that hear their messages through `unit`, the nearest first."""
        found: list[str] = []
        waiting = self._next(unit)
        while waiting:
            name = waiting.pop(0)
            if name not in found and name != unit:
                found.append(name)
                waiting += self._next(name)
        return tuple(found)

    def joins(self, gone: frozenset[str]) -> tuple[Join, ...]:
        """Return the leads, those to units that are gone and those from them, that carry messages past these."""
        found = []
        for end, start in self._from.items():
            if start in gone and end not in gone:
                seen: set[str] = set()
                while start in gone and start in self._from and start not in seen:
                    seen.add(start)
                    start = self._from[start]
                found += [Join(Lines.MIDI, start, end)] if start not in gone else []
        return tuple(found)

    def without_lead(self, rig: Rig) -> dict[str, tuple[str, ...]]:
        """Return by port the units that hear it through leads of which nothing is said."""
        found: dict[str, tuple[str, ...]] = {}
        for name in rig.carried:
            port = rig.placement(name).port
            if port is not None and name not in self._from:
                found[port] = (*found.get(port, ()), name)
        return found

    def _next(self, unit: str) -> list[str]:
        return [to for to, start in self._from.items() if start == unit]


def _past(nodes: Sequence[str], gone: frozenset[str], first: str, last: str) -> Iterator[Join]:
    """Yield a join over each run of nodes that are gone."""
    before, end = first, 0
    for is_gone, run in groupby(nodes, gone.__contains__):
        end += len(list(run))
        if is_gone:
            yield Join(Lines.SIGNAL, before, _in(nodes, end) if end < len(nodes) else last)
        before = _out(nodes, end - 1)


def _in(nodes: Sequence[str], at: int) -> str:
    """Return where the signal goes in at a place of the chain: a unit's return where it stands there again."""
    node = nodes[at]
    return _RETURN + node if node != SPLIT and node in nodes[:at] else node


def _out(nodes: Sequence[str], at: int) -> str:
    """Return where the signal comes out at a place of the chain: a unit's send where it stands later again."""
    node = nodes[at]
    if node == SPLIT:
        return MIX
    return _SEND + node if node in nodes[at + 1 :] else node


def _without_loops(nodes: Sequence[str], loops: Mapping[str, Sequence[str]], gone: frozenset[str]) -> Iterator[Join]:
    """Yield the joins that take the place of a switcher: into, between and out of its loops."""
    loop_of = {name: switch for switch, inside in loops.items() for name in inside}
    left = [INSTRUMENT, *(node for node in nodes if node not in gone), AMPLIFIER]
    for before, after in pairwise(left):
        if loop_of.get(before) != loop_of.get(after):
            yield Join(Lines.SIGNAL, MIX if before == SPLIT else before, after)
