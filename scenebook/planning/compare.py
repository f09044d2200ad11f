"""Rigs side by side: what each is as a load, what it reaches, and what it asks of feet and hands."""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import Action
from scenebook.errors import ScenebookError
from scenebook.model import Library, Unit
from scenebook.planning.kinds import load_of, units_words
from scenebook.planning.packing_list import Item, is_fixed, set_up_steps, travelling
from scenebook.planning.reach import reach
from scenebook.planning.work import foot_presses

__all__ = ["GigHands", "NotCompared", "RigFacts", "Total", "compared"]


class Total(NamedTuple):
    """A sum, and what there is of which nothing is known: the true sum is larger by what that has."""

    sum: float
    unknown: tuple[str, ...]


class GigHands(NamedTuple):
    """What a gig asks of feet and hands after the first song has begun; `refused` says why it cannot be compiled."""

    gig: str
    presses: int
    turns: int
    refused: str = ""


class RigFacts(NamedTuple):
    """What is compared of a rig."""

    rig: str
    units: tuple[str, ...]  # in chain order, then what is outside it, the supply included
    price: Total  # of the units that are not owned, in the library's own money
    weight_g: Total  # of all that travels: the bare board, its case and the leads too
    current_ma: Total  # from the supply: without units that bring their own
    area_mm2: Total
    share: float  # of the whole worth, from 0 to 1
    gigs: tuple[GigHands, ...]
    left_out: tuple[tuple[str, str], ...]  # gigs whose replacements cannot be made on it, and why: in no share of it
    set_up_s: float  # from the case to the end of the line check: common practice
    load: str  # how many units these are, in words
    hear_midi: tuple[str, ...]  # units that a computer or a sender works, which has to travel then
    is_fixed: bool  # the rig says what its board or case weighs, so its units are taken to be fixed on it


class NotCompared(NamedTuple):
    """A rig of which nothing can be said at the gigs asked about, and why."""

    rig: str
    why: str


def compared(
    library: Library, rigs: Sequence[str], gigs: Sequence[str] | None = None, *, mean: bool = False
) -> tuple[tuple[RigFacts, ...], tuple[NotCompared, ...]]:
    """Return the facts of each rig, in the order given, and the rigs that cannot be compared.

    Presses are of the gigs named; no gig named means all. A rig that cannot play one that was named, since a
    replacement cannot be made on it, or that cannot be set as it stands at home, is kept out; the others are compared.
    """
    found, failed = [], []
    for rig in rigs:
        try:
            found.append(_facts(library, rig, gigs, mean=mean))
        except ScenebookError as error:
            failed.append(NotCompared(rig, str(error)))
    return tuple(found), tuple(failed)


def _facts(library: Library, name: str, gigs: Sequence[str] | None, *, mean: bool) -> RigFacts:
    rig, reached = library.rigs[name], reach(library, name, gigs, mean=mean)
    units = {each: library.units[each] for each in load_of(rig)}
    to_buy = {each: unit for each, unit in units.items() if not unit.owned}
    last = set_up_steps(library, name)[-1]
    return RigFacts(
        name,
        tuple(units),
        _total(to_buy, lambda unit: unit.price),
        _weight(travelling(library, name)),
        _total({each: u for each, u in units.items() if not u.outlets}, _current),
        _total(units, lambda unit: unit.size.width * unit.size.depth if unit.size else None),
        reached.share,
        tuple(_hands(library, gig, name) for gig in reached.gigs if gig),
        reached.left_out,
        last.at_s + last.takes_s,
        units_words(units, library.units),
        tuple(each for each in rig.carried if rig.placement(each).port),
        is_fixed(rig),
    )


def _total(units: dict[str, Unit], amount: Callable[[Unit], float | None]) -> Total:
    found = {name: amount(unit) for name, unit in units.items()}
    return Total(
        sum(value for value in found.values() if value is not None),
        tuple(name for name, value in found.items() if value is None),
    )


def _weight(items: Sequence[Item]) -> Total:
    return Total(sum(item.grams or 0 for item in items), tuple(item.what for item in items if item.grams is None))


def _current(unit: Unit) -> float | None:
    """Return the mA that a unit takes from the rig's supply; nothing of one that takes none or brings its own."""
    if unit.supply is None:
        return None
    return 0.0 if unit.supply.none or unit.supply.own else unit.supply.ma


def _hands(library: Library, gig: str, rig: str) -> GigHands:
    try:
        cues = compile_gig(library, gig, rig).cues[1:]
    except ScenebookError as error:
        return GigHands(gig, 0, 0, str(error))
    presses = sum(foot_presses(cue.by_hand, library.units) for cue in cues)
    return GigHands(gig, presses, sum(move.action is Action.TURN for cue in cues for move in cue.by_hand))
