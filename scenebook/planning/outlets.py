"""What one unit takes and what one outlet gives: whether the two go together, and with which lead.

Nothing here makes a wrong voltage right: only a plug or a polarity can be put right, by a lead made for it.
"""

from collections.abc import Iterable
from enum import StrEnum
from typing import NamedTuple

from scenebook.model import Outlet, Practice, Unit
from scenebook.model.objects import Supply, volts_range

__all__ = ["HARD", "Bar", "Draw", "bars", "draw_of", "needed_ma", "outlet_unknowns", "overlap"]
__all__ += ["unknowns", "watts"]


class Bar(StrEnum):
    """What stands between a unit and an outlet, the most dangerous first."""

    CURRENT = "AC is not DC"
    VOLTS = "another voltage"
    POLARITY = "the other polarity"
    GROUND = "the outlet is not isolated"
    PLUG = "another plug"
    LITTLE = "too few mA"
    TAKEN = "no room beside what it feeds"


HARD = frozenset({Bar.CURRENT, Bar.VOLTS, Bar.GROUND, Bar.LITTLE})
"""What no lead puts right."""


class Draw(NamedTuple):
    """What a unit takes: `ma` while it runs, `peak_ma` while it starts, and whether it needs an outlet for itself."""

    unit: str
    supply: Supply
    ma: float
    peak_ma: float
    alone: bool

    @property
    def ground_unknown(self) -> bool:
        """Whether nobody said if its ground is the positive pole, though its plug is centre positive."""
        return self.supply.polarity == "centre positive" and self.supply.positive_ground is None


def watts(volts: float, ma: float) -> float:
    """Return the power in W that a current in mA takes at a voltage in V: P = V x I."""
    return volts * ma / 1000


def needed_ma(draws: Iterable[float], headroom: float) -> float:
    """Return the mA that an outlet must be made for: the sum of what hangs on it, with a share kept free.

    Currents on one outlet add up. The headroom is common practice: 0.2 loads it to 80 %.
    """
    return sum(draws) / (1 - headroom)


def unknowns(unit: Unit) -> tuple[str, ...]:
    """Return what is not known of what a unit takes; a unit of which anything is not known cannot be placed."""
    supply = unit.supply
    if supply is None:
        return ("supply",)
    return () if supply.none or supply.own else _blanks(supply)


def outlet_unknowns(outlet: Outlet) -> tuple[str, ...]:
    """Return what is not known of what an outlet gives; one of which anything is not known feeds nothing."""
    return _blanks(outlet)


def _blanks(said: Supply | Outlet) -> tuple[str, ...]:
    polar = said.current == "DC" and said.polarity is None and not _is_usb(said.plug)
    blanks = {"volts": volts_range(said.volts) is None, "mA": said.ma is None, "polarity": polar}
    return tuple(what for what, lacks in blanks.items() if lacks)


def draw_of(name: str, unit: Unit, practice: Practice) -> Draw:
    """Return what a unit takes; a unit that boots takes more while it starts (common practice).

    One that may have its ground at the positive pole, as many fuzzes with a centre positive plug have, is alone on its
    outlet: beside another unit, or on a ground that outlets share, it would short the supply. What is not known of it
    is for `unknowns` to tell first.
    """
    supply = unit.supply
    assert supply is not None
    assert supply.ma is not None
    surge = practice.surge if unit.boot_s else 1.0
    draw = Draw(name, supply, supply.ma, supply.ma * surge, bool(supply.positive_ground))
    return draw._replace(alone=draw.alone or draw.ground_unknown)


def overlap(supply: Supply, outlet: Outlet) -> tuple[float, float] | None:
    """Return the volts that a unit accepts and an outlet gives, lowest and highest; nothing if there are none."""
    taken, given = volts_range(supply.volts), volts_range(outlet.volts)
    if taken is None or given is None:
        return None
    low, high = max(taken[0], given[0]), min(taken[1], given[1])
    return (low, high) if low <= high else None


def bars(draw: Draw, outlet: Outlet, headroom: float) -> tuple[Bar, ...]:
    """Return what stands between a unit and an outlet that feeds nothing else, the most dangerous first."""
    supply = draw.supply
    found = {
        Bar.CURRENT: supply.current != outlet.current,
        Bar.VOLTS: overlap(supply, outlet) is None,
        Bar.POLARITY: _turns(supply, outlet),
        Bar.GROUND: draw.alone and not outlet.isolated,
        Bar.PLUG: _differ(supply.plug, outlet.plug),
        Bar.LITTLE: outlet.ma is not None and _is_over(draw, outlet.ma, headroom),
    }
    return tuple(bar for bar, stands in found.items() if stands)


def _is_over(draw: Draw, limit: float, headroom: float) -> bool:
    return max(needed_ma([draw.ma], headroom), draw.peak_ma) > limit + 1e-6


def _turns(supply: Supply, outlet: Outlet) -> bool:
    if "AC" in (supply.current, outlet.current) or (_is_usb(supply.plug) and _is_usb(outlet.plug)):
        return False
    return supply.polarity != outlet.polarity


def _is_usb(plug: str) -> bool:
    return plug.casefold().startswith("usb")  # its plug settles the polarity


def _differ(one: str, other: str) -> bool:
    """Return whether two plugs are known to differ; where one is not noted, whoever plugs in sees it."""
    return bool(one and other) and _plain(one) != _plain(other)


def _plain(plug: str) -> str:
    return plug.casefold().replace("×", "x").replace("mm", "").replace(" ", "")
