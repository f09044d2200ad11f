"""Which leads to join where something in a rig is gone: along the signal's way, and along the MIDI thru chain."""

from collections.abc import Iterator
from enum import StrEnum
from typing import NamedTuple

from scenebook.model import Rig
from scenebook.planning.leads import midi_leads
from scenebook.planning.signal_path import MIX, NOWHERE, SPLIT, Jack, SignalPath, signal_path, tangles

__all__ = ["Join", "Lines", "MidiLines", "chain_joins"]


class Lines(StrEnum):
    """What runs through the leads that are joined."""

    SIGNAL = "signal"
    MIDI = "MIDI"


class Join(NamedTuple):
    """Two leads to join: the one that comes from `before` and the one that goes to `after`."""

    lines: Lines
    before: str  # a unit, its send or that of a loop, the instrument, a split; for MIDI "port NAME" or a unit's thru
    after: str  # a unit, its return or that of a loop, the amplifier, a mix
    assumed: bool = False  # a MIDI lead of the two is not noted in the rig, but taken for granted


def chain_joins(rig: Rig, gone: frozenset[str]) -> tuple[Join, ...]:
    """Return what carries the signal past units that are gone, in chain order, by the jacks that its leads go to.

    A parallel path of which nothing is left stays open while another plays on: joined, it would add the plain signal.
    Where a loop switcher is gone, the leads to and from each of its loops are joined. Of a rig that cannot be wired as
    it says nothing is known of its leads.
    """
    if tangles(rig):
        return ()
    path = signal_path(rig)
    found = [(start, _beyond(path, gone, stop)) for start, stop in _cut(path, gone)]
    open_paths = {link.ends[0] for link in path.links if link.start == SPLIT and link.stop not in gone}
    alive = {start for start, stop in found if start.unit == SPLIT and stop.unit != MIX} | open_paths
    return tuple(
        dict.fromkeys(
            Join(Lines.SIGNAL, _words(start), _words(stop))
            for start, stop in found
            if stop.unit != MIX or start not in alive
        )
    )


class MidiLines:
    """The MIDI leads of a rig as a tree: where each unit's messages come from, and who is behind whom.

    Only those that the rig notes; with `assumed` those too that are taken for granted (`leads.midi_leads`).
    """

    def __init__(self, rig: Rig, *, assumed: bool = False) -> None:
        leads = midi_leads(rig) if assumed else rig.leads
        self._from = {lead.to: f"port {lead.port}" if lead.port else lead.thru or "" for lead in leads}
        self._noted = {lead.to for lead in rig.leads}

    @property
    def leads(self) -> Iterator[tuple[str, str]]:
        """Each lead by its two ends."""
        return ((start, end) for end, start in self._from.items())

    def is_assumed(self, unit: str) -> bool:
        """Whether the lead to a unit is not noted in the rig."""
        return unit in self._from and unit not in self._noted

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
                past = [end]
                while start in gone and start in self._from and start not in past:
                    past.append(start)
                    start = self._from[start]
                assumed = any(map(self.is_assumed, past))
                found += [Join(Lines.MIDI, start, end, assumed)] if start not in gone else []
        return tuple(found)

    def _next(self, unit: str) -> list[str]:
        return [to for to, start in self._from.items() if start == unit]


def _cut(path: SignalPath, gone: frozenset[str]) -> Iterator[tuple[Jack, Jack]]:
    """Yield the leads that go from what is there into what is gone, by their jacks."""
    return (link.ends for link in path.links if link.start not in gone and link.stop in gone)


def _beyond(path: SignalPath, gone: frozenset[str], jack: Jack) -> Jack:
    """Return where the signal that goes into a jack of what is gone comes to, behind all that is gone."""
    after = dict(link.ends for link in path.links)
    seen = set()
    while jack.unit in gone and jack not in seen:
        seen.add(jack)
        jack = after[path.through[jack]]
    return jack


def _words(jack: Jack) -> str:
    """Return a jack as a player finds it: "fuzz", "the send of multi", "loop 2 return of switcher"."""
    if jack.unit in NOWHERE or jack.jack in ("in", "out"):
        return jack.unit
    return f"{'the ' if jack.jack in ('send', 'return') else ''}{jack.jack} of {jack.unit}"
