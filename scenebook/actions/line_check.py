"""The line check of a gig: compiled in full, and the shortest list that touches all of it."""

from pathlib import Path
from typing import NamedTuple

from scenebook.actions.compiling import compiled_slice, gig_slice
from scenebook.actions.cue_names import HOUSE, SPARE
from scenebook.cueing.cues import Cue
from scenebook.planning.line_check import LineCheck, line_check
from scenebook.states.stage import stage_of

__all__ = ["GigCheck", "check_gig"]


class GigCheck(NamedTuple):
    """A gig's line check. `parts` says for each of its cues where it is from: SPARE, HOUSE, or "" for the sets."""

    gig: str
    rig: str
    found: LineCheck
    parts: tuple[str, ...]


def check_gig(path: Path, gig: str, rig: str | None = None) -> GigCheck:
    """Return the line check of a gig on its rig, or on another one.

    Raises:
        ScenebookError: the gig cannot be read, or a scene cannot be reached on the rig.
    """
    part = gig_slice(path, gig, rig)
    cue_list = compiled_slice(part, full=True)
    named: list[tuple[str, Cue]] = [("", cue) for cue in cue_list.cues[1:]]
    named += [(SPARE, cue) for spare in cue_list.spares for cue in spare.cues]
    named += [(HOUSE, cue) for cue in (cue_list.house.cues if cue_list.house else ())]
    stage = stage_of(part.library, part.rig, part.library.gigs[part.gig])
    found = line_check([cue for _, cue in named], stage, part.library.songs)
    return GigCheck(part.gig, part.rig, found, tuple(named[each.number][0] for each in found.checks))
