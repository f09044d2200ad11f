"""Which units belong in the loops of a rig's switcher, asked of a library."""

from collections.abc import Sequence
from pathlib import Path

from scenebook.planning.switcher import Switching, Watch, switching
from scenebook.storage import open_library

__all__ = ["rig_switcher"]


def rig_switcher(
    path: Path, rig: str, switcher: str | None = None, gigs: Sequence[str] = (), *, watch: Watch | None = None
) -> Switching:
    """Return the loops of a switcher today and at their best, at the gigs named or at all; `watch` as in planning.

    Raises:
        UnknownNameError: no rig, unit or gig of a name.
        BadValueError: the rig has no switcher, or several and none is named.
        ScenebookError: a gig that was named cannot be played on the rig.
    """
    with open_library(path, read_only=True) as store:
        name = store.find("rig", rig)
        holder = store.find("unit", switcher) if switcher else None
        chosen = list(dict.fromkeys(store.find("gig", gig) for gig in gigs))
        library = store.library()
    return switching(library, name, holder, chosen or None, watch=watch)
