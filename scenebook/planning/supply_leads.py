"""The supply of a board and its leads: where the supply stands, one lead for each unit that it feeds, and how long.

Pure. Which unit hangs on which outlet comes from the power plan. Where on a unit its supply jack is, no library says:
it is taken at the back where the unit has a jack there, in the middle of that side. Common practice; look at the unit.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from scenebook.model import Unit
from scenebook.planning.leads import End, PatchLead, cut_length, jack_on, side_of
from scenebook.planning.outlines import Placed
from scenebook.planning.pieces import Board
from scenebook.planning.power import Load, Power

__all__ = ["UNDER_MM", "Split", "SupplyAt", "SupplyLeads", "is_said_under", "not_fed", "split_words", "splits_of"]
__all__ += ["supply_leads"]

UNDER_MM = 100  # from under the frame up to its top: common practice
_UNDER = re.compile(r"\bunder(neath)?\s+the\s+([\w-]+\s+)?(frame|board)\b", re.IGNORECASE)


class SupplyAt(StrEnum):
    """Where the supply of a rig is."""

    BOARD = "board"
    UNDER = "under"
    BESIDE = "beside"


class Split(NamedTuple):
    """A lead that splits one outlet between units: a daisy chain or a Y, with a plug for each."""

    outlet: str
    units: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SupplyLeads:
    """The leads of a supply: those to cut, those that split an outlet, and in words what is not cut and why."""

    supply: str | None = None
    at: SupplyAt | None = None
    leads: tuple[PatchLead, ...] = ()
    splits: tuple[Split, ...] = ()
    off_board: tuple[str, ...] = ()
    not_fed: tuple[str, ...] = ()


def is_said_under(unit: Unit) -> bool:
    """Whether a supply's own notes say that it is under the frame, or under the board."""
    return _UNDER.search(unit.notes) is not None


def splits_of(plan: Power) -> tuple[Split, ...]:
    """Return the leads that split an outlet between several units, in the order of the outlets."""
    return tuple(Split(load.outlet.name, load.units) for load in plan.loads if len(load.units) > 1)


def split_words(split: Split) -> str:
    """Return a splitting lead in words: "outlet 3 to fuzz and drive, 1 plug to 2"."""
    units = f"{', '.join(split.units[:-1])} and {split.units[-1]}"
    return f"outlet {split.outlet} to {units}, 1 plug to {len(split.units)}"


def supply_leads(
    plan: Power, units: Mapping[str, Unit], placed: Mapping[str, Placed], board: Board, at: SupplyAt | None
) -> SupplyLeads:
    """Return the leads from a supply to the units that it feeds.

    Args:
        plan: which unit hangs on which outlet.
        units: those that have a place, and the supply.
        placed: where each of them stands; the supply too where it is on the board.
        board: the board; a supply under the frame is taken to be under its middle.
        at: where the supply is; nothing where the rig has none.
    """
    leads, others = [], []
    for load in plan.loads:
        for name in load.units:
            start = _outlet(plan, load, units, placed, board, at)
            if start is None or name not in placed:
                others.append(f"{load.outlet.current}: {plan.supply} outlet {load.outlet.name} to {name}")
            else:
                leads.append(_lead(load, start, name, units[name], placed[name], under=at is SupplyAt.UNDER))
    if plan.supply:
        others.append(f"mains: to {plan.supply}")
    others += [f"mains: to the own supply of {name}" for name in plan.own]
    return SupplyLeads(plan.supply, at, tuple(leads), splits_of(plan), tuple(others), tuple(not_fed(plan)))


def _outlet(
    plan: Power,
    load: Load,
    units: Mapping[str, Unit],
    placed: Mapping[str, Placed],
    board: Board,
    at: SupplyAt | None,
) -> End | None:
    """Return where an outlet is; nothing where no board says."""
    jack = f"outlet {load.outlet.name}" + (", splitting lead" if len(load.units) > 1 else "")
    name = plan.supply or ""
    if at is SupplyAt.UNDER:
        return End(name, jack, None, board.width // 2, board.depth // 2)
    return _end(placed[name], units[name], jack) if name in placed else None


def _lead(load: Load, start: End, name: str, unit: Unit, placed: Placed, *, under: bool) -> PatchLead:
    stop = _end(placed, unit, f"{load.outlet.current} in")
    way = abs(start.x - stop.x) + abs(start.y - stop.y) + (UNDER_MM if under else 0)
    return PatchLead(load.outlet.current, start, stop, way, cut_length(way), ", ".join(_plug(unit)))


def _plug(unit: Unit) -> Iterator[str]:
    """Yield what a lead's plug must be like, as far as it is noted."""
    if unit.supply and unit.supply.polarity:
        yield unit.supply.polarity
    if unit.supply and unit.supply.plug:
        yield unit.supply.plug


def _end(placed: Placed, unit: Unit, jack: str) -> End:
    x, y = jack_on(placed.outline, unit, jack)
    return End(placed.unit, jack, side_of(unit, jack), placed.x + x, placed.y + y)


def not_fed(plan: Power) -> Iterator[str]:
    """Yield each unit for which no lead is cut, and why; none that takes no supply or brings its own."""
    if plan.supply is None:
        yield from (f"{draw.unit}: the rig names no supply" for draw in plan.draws)
    else:
        yield from (f"{each.unit}: no outlet of {plan.supply} feeds it" for each in plan.unfed)
    yield from (f"{name}: {', '.join(lacks)} not known" for name, lacks in plan.unknown)
