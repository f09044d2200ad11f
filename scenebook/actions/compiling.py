"""Compile a gig of a library: read what the gig needs, and nothing else, then work out its cues."""

from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import CueList
from scenebook.errors import UnknownNameError
from scenebook.model import Library
from scenebook.model.base import listed, place_text
from scenebook.storage import Box, open_library

__all__ = ["GigSlice", "compiled", "compiled_slice", "gig_slice"]


class GigSlice(NamedTuple):
    """What a gig needs of a library, the full names of the gig and the rig, and the library's revision.

    `boxes` is what the player noted that copies of the rig's units hold.
    """

    library: Library
    gig: str
    rig: str
    revision: int
    boxes: tuple[Box, ...] = ()


def gig_slice(path: Path, gig: str, rig: str | None = None) -> GigSlice:
    """Return what `gig` needs; names may be shortened. Without `rig` it is the gig's own.

    Raises:
        UnknownNameError: no gig or rig of that name, or the gig names no rig.
    """
    with open_library(path, read_only=True) as store:
        name = store.find("gig", gig)
        carrier = store.find("rig", rig) if rig is not None else None
        library = store.gig_slice(name, carrier)
        carrier = carrier or library.gigs[name].rig
        if carrier is None:
            raise UnknownNameError(
                "the gig names no rig",
                where=place_text("gig", name),
                accepted=listed(store.names("rig")) or "none yet",
                remedy="Name one with --rig",
            )
        boxes = tuple(box for box in store.boxes() if box.unit in library.units)
        return GigSlice(library, name, carrier, store.revision, boxes)


def compiled(path: Path, gig: str, rig: str | None = None, *, full: bool = False) -> CueList:
    """Return the cues of a gig, lean or full; a warning tells which messages the rig's sender stores itself.

    Raises:
        ScenebookError: the gig cannot be read, or a scene cannot be reached on the rig.
    """
    part = gig_slice(path, gig, rig)
    cues = compiled_slice(part, full=full)
    if part.library.rigs[part.rig].sender is None:
        return cues
    from scenebook.actions.sender import sender_note  # late: few rigs have one, and it knows this module

    note = sender_note(part)
    return replace(cues, warnings=(*([note] if note else []), *cues.warnings))


def compiled_slice(part: GigSlice, *, full: bool = False) -> CueList:
    """Return the cues of a gig that has been read; its warnings tell where the library is newer than a box.

    Raises:
        SceneError: a scene cannot be reached on the rig.
    """
    cues = compile_gig(part.library, part.gig, part.rig, full=full)
    if not part.boxes:
        return cues
    from scenebook.actions.boxes import box_warnings  # late: few note what their boxes hold

    newer = box_warnings(part.library, part.rig, part.gig, cues, part.boxes)
    return replace(cues, warnings=(*cues.warnings, *newer))
