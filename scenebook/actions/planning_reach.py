"""Which rig to carry, asked of a library: what a rig reaches, rigs side by side, the work between a gig's songs."""

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from scenebook.actions.compiling import gig_slice
from scenebook.actions.planning_library import asked_of
from scenebook.model import Unit
from scenebook.planning.compare import NotCompared, RigFacts, compared
from scenebook.planning.knobs import Knob, knobs
from scenebook.planning.losses import Loss, Losses, Marginal
from scenebook.planning.reach import Reach, reach, uncompiled
from scenebook.planning.section_presets import SectionPreset, section_presets
from scenebook.planning.signal_path import tangled
from scenebook.planning.work import Work, gig_work

__all__ = ["RigReach", "compare_rigs", "rig_reach", "work_of_gig"]


class RigReach(NamedTuple):
    """All that `rig reach` tells: the reach itself, units that would add or that give, knobs, and single losses."""

    reach: Reach
    additions: tuple[Marginal, ...]
    removals: tuple[Marginal, ...]
    knobs: tuple[Knob, ...]
    losses: tuple[Loss, ...]
    uncompiled: tuple[tuple[str, str], ...]  # gigs that cannot be compiled on the rig, and why
    units: dict[str, Unit]
    tangled: tuple[str, ...]  # why the signal's leads cannot be plugged as the rig says
    by_sections: tuple[SectionPreset, ...] = ()  # presets that nothing plays, though their sections have stand-ins


def rig_reach(path: Path, rig: str, gigs: Sequence[str] = (), *, mean: bool = False) -> RigReach:
    """Return what a rig reaches of the gigs named, or of all; names may be shortened.

    Raises:
        UnknownNameError: no rig or gig of a name.
        BadValueError: a gig that was named has a replacement that cannot be made on this rig.
    """
    asked = asked_of(path, [rig], gigs)
    library, (name,), chosen = asked.library, asked.rigs, asked.gigs
    reached = reach(library, name, chosen, mean=mean)
    losses = Losses(library, name, chosen, mean=mean)
    return RigReach(
        reached,
        losses.additions(),
        losses.removals(),
        knobs(library, name, chosen),
        losses.single(),
        tuple(each for each in uncompiled(library, name, chosen) if each not in reached.left_out),
        library.units,
        tangled(library.rigs[name]),
        section_presets(library, reached),
    )


def compare_rigs(
    path: Path, rigs: Sequence[str], gigs: Sequence[str] = (), *, mean: bool = False
) -> tuple[tuple[RigFacts, ...], tuple[NotCompared, ...]]:
    """Return the facts of rigs, to be shown side by side, and which cannot be compared; names may be shortened.

    Raises:
        UnknownNameError: no rig or gig of a name.
    """
    asked = asked_of(path, rigs, gigs)
    return compared(asked.library, list(dict.fromkeys(asked.rigs)), asked.gigs, mean=mean)


def work_of_gig(path: Path, gig: str, rig: str | None = None) -> Work:
    """Return the work by hand between neighbouring songs of a gig, on its rig or another, the worst first.

    Raises:
        ScenebookError: the gig cannot be read, or a scene cannot be reached on the rig.
    """
    part = gig_slice(path, gig, rig)
    return gig_work(part.library, part.gig, part.rig)
