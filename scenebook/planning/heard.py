"""What sounds together on a rig, and how often: what the preferences of order along the chain are held against."""

from collections import Counter
from collections.abc import Sequence

from scenebook.errors import ScenebookError
from scenebook.model import Library
from scenebook.planning.kinds import Part, parts_of, sounding_parts
from scenebook.planning.worth import weights
from scenebook.states.stage import stage_of
from scenebook.states.standing import Standings

__all__ = ["Heard", "heard_on"]

Heard = list[tuple[int, frozenset[Part]]]
"""How often what sounds together is played."""


def heard_on(library: Library, rig: str, gigs: Sequence[str] | None = None) -> tuple[Heard, tuple[str, ...]]:
    """Return what sounds in each scene of the chosen gigs, or of all, and the scenes that cannot be set on the rig.

    Raises:
        ScenebookError: the rig's home cannot be set.
    """
    standings = Standings(library, stage_of(library, rig))
    practice = library.settings.practice
    parts = {each.name: parts_of(each.name, each.unit, practice) for each in standings.stage.carried}
    heard: Counter[frozenset[Part]] = Counter()
    refused = []
    for (song, scene), weight in weights(library, gigs).items():
        try:
            whole = library.songs[song]
            standing = standings.of(whole, song, scene, whole.tempo, standings.home, afresh=True)
        except ScenebookError:
            refused += [f"{song}, {scene}"] if weight else []
            continue
        heard[sounding_parts(standings, standing, parts)] += weight
    return [(weight, sounding) for sounding, weight in heard.items() if weight], tuple(refused)
