"""The cut list: which patch lead goes from which jack to which along the board, and how long it is cut.

Pure. Which jack is the input no library says: as is usual the signal runs from right to left, so that the input is
taken on the right side and the output on the left one, where there are such jacks. Common practice; look at the unit
before you cut.
"""

from collections.abc import Container, Iterator, Mapping
from itertools import pairwise
from typing import NamedTuple

from scenebook.model import Rig, Unit
from scenebook.model.rigs import Lead
from scenebook.planning.outlines import Outline, Placed, Side
from scenebook.planning.signal_path import Link, signal_path, tangles

__all__ = ["ASSUMED", "SLACK_MM", "STEP_MM", "End", "PatchLead", "cut_length", "jack_on", "links", "midi_leads"]
__all__ += ["midi_links", "patch_leads", "side_of", "signal_order"]

ASSUMED = "not noted, taken for granted"  # how a MIDI lead is marked that the rig does not note
SLACK_MM = 100  # beyond the way along the board: two plugs and a bend; common practice
STEP_MM = 50  # leads are cut to whole 5 cm


class End(NamedTuple):
    """One end of a lead: the jack, the side of the unit that it is on, and where that is on the board."""

    unit: str
    jack: str  # in, out, send, return, MIDI in, MIDI thru, outlet 1, DC in
    side: Side | None  # as the unit itself names it; nothing where no jack is known
    x: int
    y: int


class PatchLead(NamedTuple):
    """One lead to cut."""

    kind: str  # signal, MIDI, DC, AC
    start: End
    stop: End
    way_mm: int  # from jack to jack along the board's edges
    cut_mm: int
    note: str = ""  # what its plugs must be like, as far as it is noted


def patch_leads(
    rig: Rig, units: Mapping[str, Unit], placed: Mapping[str, Placed]
) -> tuple[tuple[PatchLead, ...], tuple[str, ...]]:
    """Return the leads along the board, signal first, then MIDI; and in words those that leave the board.

    No lead is cut for a jack into which two would have to go.
    """
    leads, others = [], []
    full = {(each.holder, jack) for each in tangles(rig) for jack in each.jacks}
    for kind, found in (("signal", links(rig)), ("MIDI", midi_links(rig))):
        for link in found:
            if not full.isdisjoint(link.ends):
                continue
            if link.start in placed and link.stop in placed:
                leads.append(_cut(kind, link, units, placed))
            else:
                others.append(f"{kind}: {link.start} {link.start_jack} to {link.stop} {link.stop_jack}")
    for lead in (each for each in midi_leads(rig) if each.port is not None):
        assumed = f" ({ASSUMED})" if rig.leads and lead not in rig.leads else ""  # of a rig without any, all are
        others.append(f"MIDI: port {lead.port} to {lead.to} MIDI in{assumed}")
    return tuple(leads), tuple(others)


def links(rig: Rig) -> tuple[Link, ...]:
    """Return what is joined to what by signal leads, in the order of the chain, each once."""
    return signal_path(rig).leads


def midi_leads(rig: Rig, out: Container[str] = ()) -> tuple[Lead, ...]:
    """Return the MIDI leads of a rig, as noted; of one that notes none, those that are taken for granted.

    Each port goes to the first unit along the chain that hears it, and from the thru of each to the next. Of a rig that
    notes some leads, a unit that hears a port and has none is taken to have one from the port. Nothing is taken for
    granted of what is `out`.
    """
    there = (name for name in rig.carried if name not in out)
    hearing = {name: port for name in there if (port := rig.placement(name).port) is not None}
    if rig.leads:
        led = {lead.to for lead in rig.leads}
        return (*rig.leads, *(Lead(port=port, to=name) for name, port in hearing.items() if name not in led))
    found = []
    for port in dict.fromkeys(hearing.values()):
        names = [name for name, heard in hearing.items() if heard == port]
        found += [Lead(port=port, to=names[0]), *(Lead(thru=last, to=name) for last, name in pairwise(names))]
    return tuple(found)


def midi_links(rig: Rig) -> Iterator[Link]:
    """Yield the MIDI leads from one unit of a rig to another."""
    for lead in midi_leads(rig):
        if lead.thru is not None:
            yield Link(lead.thru, "MIDI thru", lead.to, "MIDI in")


def signal_order(rig: Rig, there: Container[str]) -> tuple[tuple[str, str], ...]:
    """Return which unit comes next after which along the chain, of those that are there.

    A switcher stands beside its loops' order, and what is in a send and return leaves its holder and comes back to it:
    neither has a place from right to left.
    """
    aside = {*rig.loops, *(name for own in rig.sends.values() for inside in own.values() for name in inside)}
    pairs: dict[tuple[str, str], None] = {}
    ends: tuple[str, ...] = ()
    for link in rig.chain:
        reached: dict[str, None] = {}
        for path in [(link,)] if isinstance(link, str) else link.parallel:
            last = ends
            for name in path:
                if name in there and name not in aside:
                    pairs.update(dict.fromkeys((end, name) for end in last if end != name))
                    last = (name,)
            reached.update(dict.fromkeys(last))
        ends = tuple(reached)
    return tuple(pairs)


def cut_length(way: int) -> int:
    """Return what is cut for a way in mm: two plugs and a bend more, rounded up to a whole step."""
    return -(-(way + SLACK_MM) // STEP_MM) * STEP_MM


def _cut(kind: str, link: Link, units: Mapping[str, Unit], placed: Mapping[str, Placed]) -> PatchLead:
    start = _end(placed[link.start], units[link.start], link.start_jack)
    stop = _end(placed[link.stop], units[link.stop], link.stop_jack)
    way = abs(start.x - stop.x) + abs(start.y - stop.y)
    return PatchLead(kind, start, stop, way, cut_length(way))


def _end(placed: Placed, unit: Unit, jack: str) -> End:
    x, y = jack_on(placed.outline, unit, jack)
    return End(placed.unit, jack, side_of(unit, jack), placed.x + x, placed.y + y)


def jack_on(outline: Outline, unit: Unit, jack: str) -> tuple[int, int]:
    """Return where on an outline a jack is taken to be, from its left front corner; its middle where none is known."""
    side = side_of(unit, jack)
    if side is None:
        return outline.width // 2, outline.depth // 2
    # Where the signal's two jacks share a side, its input is taken on the right of it and its output on the left.
    shared = side_of(unit, "in") == side_of(unit, "out") and not _is_aside(jack)
    return outline.point(side, (0.7 if _enters(jack) else 0.3) if shared else 0.5)


def _enters(jack: str) -> bool:
    return jack == "in" or jack.endswith("return")


def _is_aside(jack: str) -> bool:
    """Whether a jack carries no signal: MIDI and the supply's."""
    return jack.startswith(("MIDI", "outlet", "DC", "AC"))


def side_of(unit: Unit, jack: str) -> Side | None:
    """Return the side that a jack is taken to be on, of those that have any."""
    usual: tuple[Side, ...] = ("right", "top", "left", "front") if _enters(jack) else ("left", "top", "right", "front")
    order: tuple[Side, ...] = ("top", "right", "left", "front") if _is_aside(jack) else usual
    return next((side for side in order if side in unit.jacks), None)
