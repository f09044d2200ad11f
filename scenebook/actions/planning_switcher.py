"""Which units belong in the loops of a rig's switcher, asked of a library."""

from collections.abc import Sequence
from pathlib import Path

from scenebook.actions.planning_library import asked_of
from scenebook.planning.switcher import Switching, Watch, switching

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
    asked = asked_of(path, [rig], gigs, units=[switcher] if switcher else [])
    return switching(asked.library, asked.rigs[0], next(iter(asked.units), None), asked.gigs, watch=watch)
