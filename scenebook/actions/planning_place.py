"""Where in the chain of a rig a unit does least harm, asked of a library."""

from collections.abc import Sequence
from pathlib import Path

from scenebook.actions.planning_library import asked_of
from scenebook.planning.place import Placing, placing

__all__ = ["rig_place"]


def rig_place(path: Path, rig: str, unit: str, gigs: Sequence[str] = ()) -> Placing:
    """Return what each place of a unit in the chain of a rig breaks, at the gigs named or at all.

    Raises:
        UnknownNameError: no rig, unit or gig of a name.
        BadValueError: there is nothing in the chain beside the unit.
    """
    asked = asked_of(path, [rig], gigs, units=[unit])
    return placing(asked.library, asked.rigs[0], asked.units[0], asked.gigs)
