"""Where in the chain of a rig a unit does least harm, asked of a library."""

from collections.abc import Sequence
from pathlib import Path

from scenebook.planning.place import Placing, placing
from scenebook.storage import open_library

__all__ = ["rig_place"]


def rig_place(path: Path, rig: str, unit: str, gigs: Sequence[str] = ()) -> Placing:
    """Return what each place of a unit in the chain of a rig breaks, at the gigs named or at all.

    Raises:
        UnknownNameError: no rig, unit or gig of a name.
        BadValueError: there is nothing in the chain beside the unit.
    """
    with open_library(path, read_only=True) as store:
        names = store.find("rig", rig), store.find("unit", unit)
        chosen = list(dict.fromkeys(store.find("gig", gig) for gig in gigs))
        library = store.library()
    return placing(library, *names, chosen or None)
