"""Open a library for a question of planning: all of it, with the full names of what is asked about."""

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from scenebook.model import Library
from scenebook.storage import open_library

__all__ = ["Asked", "asked_of"]


class Asked(NamedTuple):
    """A whole library at a revision, and full names of rigs, units and gigs; no gig named means all: None."""

    library: Library
    revision: int
    rigs: tuple[str, ...]
    units: tuple[str, ...]
    gigs: tuple[str, ...] | None


def asked_of(path: Path, rigs: Sequence[str], gigs: Sequence[str] = (), *, units: Sequence[str] = ()) -> Asked:
    """Return a library with what is asked about by name; names may be shortened, and a gig named twice counts once.

    Raises:
        UnknownNameError: no rig, gig or unit of a name.
    """
    with open_library(path, read_only=True) as store:
        found = tuple(store.find("rig", rig) for rig in rigs)
        named = tuple(store.find("unit", unit) for unit in units)
        chosen = tuple(dict.fromkeys(store.find("gig", gig) for gig in gigs))
        return Asked(store.library(), store.revision, found, named, chosen or None)
