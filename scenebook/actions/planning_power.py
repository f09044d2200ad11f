"""Which outlet feeds which unit of a rig, asked of a library."""

from pathlib import Path
from typing import NamedTuple

from scenebook.actions.planning_library import asked_of
from scenebook.errors import BadValueError
from scenebook.model.base import listed, place_text
from scenebook.planning.power import Power, other_supplies, power

__all__ = ["RigPower", "rig_power"]


class RigPower(NamedTuple):
    """How a supply feeds a rig, with the rig's full name, and where it does not, supplies of the library that would."""

    rig: str
    power: Power
    others: tuple[str, ...] = ()


def rig_power(path: Path, rig: str, supply: str | None = None) -> RigPower:
    """Return how a supply feeds a rig: the unit named, else the rig's own; names may be shortened.

    A rig with no supply gets what a supply would have to give.

    Raises:
        UnknownNameError: no rig or unit of a name.
        BadValueError: the unit that is to feed the rig has no outlets.
    """
    asked = asked_of(path, [rig], units=[supply] if supply else [])
    library, name, source = asked.library, asked.rigs[0], next(iter(asked.units), None)
    if source and not library.units[source].outlets:
        supplies = [each for each, unit in library.units.items() if unit.outlets]
        raise BadValueError(
            f"{source!r} has no outlets, so it feeds nothing",
            where=place_text("rig", name),
            accepted=listed(supplies) or "a unit with outlets",
            remedy="" if supplies else "Describe a supply with its outlets as a unit, and import it",
        )
    found = power(library, name, source)
    return RigPower(name, found, () if found.feeds_all else other_supplies(library, name, found.supply))
