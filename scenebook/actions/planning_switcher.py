"""Which units belong in the loops of a rig's switcher, asked of a library."""

from collections.abc import Sequence
from pathlib import Path

from scenebook.actions.making import check_is_new
from scenebook.actions.planning_library import asked_of
from scenebook.planning.loop_rigs import with_loops
from scenebook.planning.switcher import Switching, Watch, switching
from scenebook.storage import open_library

__all__ = ["rig_switcher"]


def rig_switcher(
    path: Path,
    rig: str,
    switcher: str | None = None,
    gigs: Sequence[str] = (),
    *,
    name: str | None = None,
    watch: Watch | None = None,
) -> Switching:
    """Return the loops of a switcher today and at their best, at the gigs named or at all; `watch` as in planning.

    With a `name` the rig with the best loops is stored under it, unless they are today's.

    Raises:
        UnknownNameError: no rig, unit or gig of a name.
        BadValueError: the rig has no switcher, or several and none is named; there is a rig of that name.
        ScenebookError: a gig that was named cannot be played on the rig.
    """
    asked = asked_of(path, [rig], gigs, units=[switcher] if switcher else [])
    if name is not None:
        with open_library(path, read_only=True) as store:
            check_is_new(store, "rig", name)
    found = switching(asked.library, asked.rigs[0], next(iter(asked.units), None), asked.gigs, watch=watch)
    if name is not None and found.best != found.today:
        wired = with_loops(asked.library.rigs[found.rig], found.switcher, found.best, found.stay_on)
        with open_library(path) as store, store.change(f"rig switcher {name.strip()}") as change:
            check_is_new(store, "rig", name)
            change.put_rig(name.strip(), wired)
    return found
