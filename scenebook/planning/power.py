"""Which unit hangs on which outlet of a supply, what cannot, why not, and the least change that would do.

It plans by what the library notes. The plate on the unit decides, and nothing here touches the mains.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property
from typing import NamedTuple

from scenebook.model import Library, Outlet, Practice, Unit
from scenebook.planning.feeding import Feeding, Remedies, fed
from scenebook.planning.outlets import (
    Bar,
    Draw,
    bars,
    draw_of,
    needed_ma,
    outlet_unknowns,
    overlap,
    unknowns,
    watts,
)

__all__ = ["CAUTIONS", "Change", "ChangeKind", "Load", "Power", "Unfed", "other_supplies", "power", "power_of"]

CAUTIONS = (
    "The plate on each unit decides, not this plan: compare voltage, AC or DC, polarity and mA before plugging in.",
    "Wrong voltage or wrong polarity destroys units. AC is not DC.",
    "Two outlets are joined only as their maker allows.",
    "Mains only through closed, approved equipment, by licensed practice and local code.",
    "Abroad: check mains voltage, frequency and plug before the supply goes in.",
    "Batteries fly by the rules of the airline: ask before packing.",
)


class ChangeKind(StrEnum):
    """What would have to be had for every unit to be fed."""

    LEAD = "a converter lead"
    BIGGER = "an outlet for more mA, in place of one that is there"
    OUTLET = "one more outlet"


class Change(NamedTuple):
    """One thing to be had: for which unit, at which outlet, and what it puts right.

    `ma` is what an outlet must be made for, headroom and start-up counted. A bigger one with no outlet named is the
    supply as a whole, which gives too few W.
    """

    kind: ChangeKind
    units: tuple[str, ...]
    outlet: str | None
    bars: tuple[Bar, ...] = ()
    ma: float = 0


class Load(NamedTuple):
    """An outlet and the units on it, in the order of the chain; `ma` while they run, `peak_ma` while they start.

    `needed_ma` is what the outlet must be made for; `volts` what all of them accept, lowest and highest.
    """

    outlet: Outlet
    units: tuple[str, ...]
    volts: tuple[float, float] | None
    ma: float
    peak_ma: float
    needed_ma: float

    @property
    def watts(self) -> float:
        """The power in W, at the highest voltage that the units on it may be given there."""
        return watts(self.volts[1], self.ma) if self.volts else 0.0

    @property
    def peak_watts(self) -> float:
        """The power in W while all units on it start."""
        return watts(self.volts[1], self.peak_ma) if self.volts else 0.0


class Unfed(NamedTuple):
    """A unit that no outlet feeds, with what stands between it and each outlet, by the outlet's name."""

    unit: str
    why: tuple[tuple[str, tuple[Bar, ...]], ...]


@dataclass(frozen=True)
class Power:
    """How a supply feeds units. `loads` has every outlet of which all is known, used or not.

    `unknown` names units of which something is not known, and what, `unclear` outlets: they are in no sum. `own` bring
    their own mains supply, `without` take none. `changes` is the least that would feed every unit, and `changed` the
    loads then, every unit once: on the outlets of `loads`, those made for more among them, then on each one more.
    """

    supply: str | None
    draws: tuple[Draw, ...]
    loads: tuple[Load, ...]
    unfed: tuple[Unfed, ...]
    unknown: tuple[tuple[str, tuple[str, ...]], ...]
    own: tuple[str, ...]
    without: tuple[str, ...]
    headroom: float
    watts_limit: float | None = None
    changes: tuple[Change, ...] = ()
    changed: tuple[Load, ...] = ()
    proved: bool = True
    unclear: tuple[tuple[str, tuple[str, ...]], ...] = ()

    @property
    def feeds_all(self) -> bool:
        """Whether every unit is fed and of none anything is unknown; an outlet of which that is so feeds nothing."""
        return not self.unfed and not self.unknown

    @cached_property
    def ma(self) -> float:
        """The mA of all units that are fed; currents at different voltages are summed for the mains side in W."""
        return sum(load.ma for load in self.loads)

    @cached_property
    def watts(self) -> float:
        """The power of all units that are fed, in W."""
        return sum(load.watts for load in self.loads)

    @cached_property
    def peak_ma(self) -> float:
        """The mA of all units that are fed while all of them start at once."""
        return sum(load.peak_ma for load in self.loads)

    @cached_property
    def peak_watts(self) -> float:
        """The power of all units that are fed while all of them start at once, in W."""
        return sum(load.peak_watts for load in self.loads)

    @cached_property
    def cautions(self) -> tuple[str, ...]:
        """What is to be looked at before units hang where the plan hangs them."""
        grounds = [_ground_words(draw.unit) for draw in self.draws if draw.ground_unknown]
        return (*grounds, *(words for load in self.loads for words in _doubts(load)))


def power(library: Library, rig: str, supply: str | None = None) -> Power:
    """Return how a supply feeds a rig: the one named, else the rig's own; with none, what a supply would have to give.

    A unit of the rig that is itself the supply takes nothing.
    """
    name = supply or library.rigs[rig].supply
    units = {each: library.units[each] for each in library.rigs[rig].carried if each != name}
    source = library.units[name] if name else Unit()
    return power_of(units, source, library.settings.practice, name=name)


def other_supplies(library: Library, rig: str, than: str | None = None) -> tuple[str, ...]:
    """Return the supplies of the library that would feed every unit of a rig, the lightest first."""
    sources = [name for name, unit in library.units.items() if unit.outlets and name != than]
    able = [name for name in sources if power(library, rig, name).feeds_all]
    return tuple(sorted(able, key=lambda name: library.units[name].weight_g or float("inf")))


def power_of(units: dict[str, Unit], source: Unit, practice: Practice, *, name: str | None = None) -> Power:
    """Return how the outlets of a supply feed units: as many as can be, then with the fewest that share an outlet.

    Outlets that are shared are filled as little as can be. Ties go to the order in the chain: the first unit gets the
    first outlet that will do.
    """
    known = {each: unit for each, unit in units.items() if not unknowns(unit)}
    needs = {each: unit.supply for each, unit in known.items() if unit.supply}
    draws = [draw_of(n, known[n], practice) for n, each in needs.items() if not (each.none or each.own)]
    outlets = [outlet for outlet in source.outlets if not outlet_unknowns(outlet)]
    feeding = fed(draws, outlets, practice.headroom, source.outlets_w)
    unfed = tuple(_unfed(draw, outlets, practice) for draw, at in zip(draws, feeding.at, strict=True) if at is None)
    plan = Power(
        supply=name,
        draws=tuple(draws),
        loads=_loads(draws, outlets, feeding, practice),
        unfed=unfed,
        unknown=tuple((each, unknowns(unit)) for each, unit in units.items() if each not in known),
        own=tuple(each for each, supply in needs.items() if supply.own),
        without=tuple(each for each, supply in needs.items() if supply.none),
        headroom=practice.headroom,
        watts_limit=source.outlets_w,
        proved=feeding.proved,
        unclear=tuple((each.name, lacks) for each in source.outlets if (lacks := outlet_unknowns(each))),
    )
    return _with_changes(plan, draws, outlets, practice, source.outlets_w) if unfed else plan


def _ground_words(unit: str) -> str:
    """Return what is to be found out of a unit whose ground may be the positive pole."""
    return (
        f"{unit} is centre positive, and whether its ground is the positive pole is not noted. Many such fuzzes have "
        "it so, which shorts a supply beside another unit or on an outlet that is not isolated: so it wants an "
        "isolated outlet for itself. Look at its plate, ask its maker, or measure, with supply and battery out: the "
        "pole that is joined to the sleeve of its signal jacks is its ground. Then note positive_ground: true or false."
    )


def _doubts(load: Load) -> Iterator[str]:
    """Yield what an outlet and the units on it leave to their makers to say."""
    if len(load.units) > 1 and load.outlet.current == "AC":
        yield (
            f"{' + '.join(load.units)} share the AC outlet {load.outlet.name}: only if the makers of both units and of "
            "the supply allow it, since what rectifies inside one can short through the signal's ground of the other."
        )


def _loads(draws: Sequence[Draw], outlets: Sequence[Outlet], feeding: Feeding, practice: Practice) -> tuple[Load, ...]:
    on = [[draw for draw, at in zip(draws, feeding.at, strict=True) if at == index] for index in range(len(outlets))]
    return tuple(_load(outlet, hung, practice) for outlet, hung in zip(outlets, on, strict=True))


def _load(outlet: Outlet, hung: Sequence[Draw], practice: Practice) -> Load:
    ranges = [found for draw in hung if (found := overlap(draw.supply, outlet))]
    volts = (max(low for low, _ in ranges), min(high for _, high in ranges)) if ranges else None
    ma, peak = sum(draw.ma for draw in hung), sum(draw.peak_ma for draw in hung)
    return Load(outlet, tuple(draw.unit for draw in hung), volts, ma, peak, _made_for(hung, practice))


def _made_for(hung: Sequence[Draw], practice: Practice) -> float:
    return max(needed_ma((draw.ma for draw in hung), practice.headroom), sum(draw.peak_ma for draw in hung))


def _unfed(draw: Draw, outlets: Sequence[Outlet], practice: Practice) -> Unfed:
    why = ((outlet.name, bars(draw, outlet, practice.headroom) or (Bar.TAKEN,)) for outlet in outlets)
    return Unfed(draw.unit, tuple(why))


def _with_changes(
    plan: Power, draws: Sequence[Draw], outlets: Sequence[Outlet], practice: Practice, limit: float | None
) -> Power:
    """Return the plan with the least change that feeds every unit: leads, bigger outlets, more outlets."""
    feeding = fed(draws, outlets, practice.headroom, limit, Remedies())
    placed = list(zip(draws, feeding.at, strict=True))
    leads = [
        Change(ChangeKind.LEAD, (draw.unit,), outlets[at].name, wrong)
        for draw, at in placed
        if at is not None and (wrong := _by_lead(bars(draw, outlets[at], practice.headroom)))
    ]
    loads = _loads(draws, outlets, feeding, practice)
    without = [draw for draw, at in placed if at is None]
    more = _more(without, loads, practice)
    in_all = [Change(ChangeKind.BIGGER, (), None)] if feeding.more_watts else []
    changed = _fed_by_more(loads, list(zip(without, more, strict=True)), practice)
    return replace(plan, changes=(*leads, *more, *in_all), changed=changed, proved=plan.proved and feeding.proved)


def _more(draws: Sequence[Draw], loads: Sequence[Load], practice: Practice) -> list[Change]:
    """Return an outlet for each unit: an idle one that only lacks mA, made for more, else one more."""
    idle = [load.outlet for load in loads if not load.units]
    changes = []
    for draw in draws:
        fit = next((each for each in idle if bars(draw, each, practice.headroom) == (Bar.LITTLE,)), None)
        if fit is not None:
            idle.remove(fit)
        kind, name = (ChangeKind.OUTLET, None) if fit is None else (ChangeKind.BIGGER, fit.name)
        changes.append(Change(kind, (draw.unit,), name, ma=_made_for([draw], practice)))
    return changes


def _fed_by_more(loads: Sequence[Load], more: Sequence[tuple[Draw, Change]], practice: Practice) -> tuple[Load, ...]:
    """Return the loads with each unit on what is had for it: a bigger outlet in its place, one more after them all."""
    bigger = {change.outlet: (draw, change.ma) for draw, change in more if change.outlet is not None}
    fed_now = list(loads)
    for at, load in enumerate(loads):
        if load.outlet.name in bigger:
            draw, ma = bigger[load.outlet.name]
            fed_now[at] = _load(load.outlet.model_copy(update={"ma": ma}), [draw], practice)
    added = [_load(_one_more(draw, change.ma), [draw], practice) for draw, change in more if change.outlet is None]
    return (*fed_now, *added)


def _one_more(draw: Draw, ma: float) -> Outlet:
    """Return the outlet that a unit wants, just as its supply is noted."""
    wants = draw.supply.model_dump(include={"volts", "current", "polarity", "plug"})
    outlet = Outlet.model_validate({"name": "one more", **wants, "isolated": draw.alone})
    return outlet.model_copy(update={"ma": ma})  # with headroom it may be more than any outlet is noted to give


def _by_lead(found: Sequence[Bar]) -> tuple[Bar, ...]:
    return tuple(bar for bar in found if bar in (Bar.POLARITY, Bar.PLUG))
