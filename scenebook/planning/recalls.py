"""What compiled gigs recall of a rig's presets: which slots, and which of the recalls are heard inside songs.

What a plan stores is one thing, what compiling does with it another: a control change may be quicker than a recall.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import CueList, recalled_slots
from scenebook.errors import ScenebookError
from scenebook.model import Gig, Library, Unit
from scenebook.planning.slot_plans import Hole, Programming
from scenebook.planning.worth import chosen_gigs

__all__ = ["compiled_on", "holes_of", "with_recalls"]

_GIG = "as it would be"  # what the one gig is called that is compiled on trial


def compiled_on(library: Library, rig: str, gig: Gig) -> CueList:
    """Return a gig compiled on a rig, whether or not the library has it.

    Raises:
        ScenebookError: it cannot be compiled there.
    """
    return compile_gig(library.model_copy(update={"gigs": {_GIG: gig}}), _GIG, rig)


def with_recalls(library: Library, plan: Programming, gigs: Sequence[str] | None = None) -> Programming:
    """Return a plan with what the named gigs, or all, recall of each unit as the library describes it now.

    Where no foot follows the plan, what is heard inside songs is what is heard of these recalls. A gig that cannot be
    compiled recalls nothing; where none can, nothing is said.
    """
    lists = []
    for gig in chosen_gigs(library, gigs).values():
        try:
            lists.append(compiled_on(library, plan.rig, gig))
        except ScenebookError:
            continue
    if not lists:
        return plan
    slots = dict.fromkeys(slot for cues in lists for slot in recalled_slots(cues))
    holes = holes_of(lists, library.units)
    units = [
        replace(
            each,
            recalled=frozenset(label for name, label in slots if name == each.unit),
            holes=each.holes if each.for_feet else holes.get(each.unit, ()),
        )
        for each in plan.units
    ]
    return replace(plan, units=tuple(units))


def holes_of(lists: Iterable[CueList], units: Mapping[str, Unit]) -> dict[str, tuple[Hole, ...]]:
    """Return by unit the recalls of compiled gigs that are heard inside a song of theirs."""
    found: Counter[tuple[str, str, str, str]] = Counter()
    for cues in lists:
        songs = [cues.cues, *(song.cues for song in cues.spares)]
        for before, after in (pair for each in songs for pair in pairwise(each) if pair[0].entry == pair[1].entry):
            for old, new in zip(before.states, after.states, strict=True):
                if old.sounds and new.sounds and new.preset not in (None, old.preset):
                    found[new.unit, after.song, before.scene, after.scene] += 1
    holes: dict[str, list[Hole]] = {}
    for (unit, song, before_scene, scene), times in found.items():
        programs = units[unit].programs
        if programs is not None and programs.hole_ms:
            holes.setdefault(unit, []).append(Hole(song, before_scene, scene, programs.hole_ms, times))
    return {unit: tuple(each) for unit, each in holes.items()}
