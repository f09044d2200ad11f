"""Rigs whose messages a unit of the rig sends by itself: any library with a sender put beside its rig."""

from collections.abc import Sequence
from typing import Any, NamedTuple

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import CueList
from scenebook.cueing.sender import SenderLists, sender_lists
from scenebook.model import Library
from tests.support.build import GIG, RIG

__all__ = ["HOLDER", "Stored", "stored_in", "with_sender"]

HOLDER = "holder"
_MUCH = {"count": 1000, "messages": 1000}


class Stored(NamedTuple):
    """A gig compiled in both forms, and what the sender stores for it."""

    library: Library
    lean: CueList
    full: CueList
    stored: SenderLists


def with_sender(of: Library, *ports: str, **holds: Any) -> Library:
    """Return the library with a sender outside the chain that serves some ports, or all; it holds much unless told."""
    said = of.model_dump()
    said["units"][HOLDER] = {"switches": {}, "lists": {**_MUCH, **holds}}
    rig = said["rigs"][RIG]
    rig["units"][HOLDER] = {}
    rig["sender"] = {"unit": HOLDER, "ports": ports or of.rigs[RIG].ports}
    return Library.model_validate(said)


def stored_in(of: Library, *ports: str, **holds: Any) -> Stored:
    """Return what a sender beside the library's rig stores for its gig.

    Raises:
        SceneError: a scene cannot be reached.
        BadValueError: the sender has no room.
    """
    library = with_sender(of, *(_known(of, ports)), **holds)
    lean, full = compile_gig(library, GIG), compile_gig(library, GIG, full=True)
    return Stored(library, lean, full, sender_lists(library, lean, full))


def _known(of: Library, ports: Sequence[str]) -> Sequence[str]:
    return [port for port in ports if port in of.rigs[RIG].ports]
