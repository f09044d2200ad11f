"""What a scene is worth on a rig: how often it is played, times how well it is met.

The weights and the worth are this project's own: they say in one number what a player would lose, and nothing measured
stands behind the share that a missing colour costs.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from scenebook.cueing.points import Point, gig_points
from scenebook.model import Gig, Library, Practice, Scene, StandIn
from scenebook.states.stage import Stage
from scenebook.states.stand_ins import Met, is_colour, needs_of

__all__ = ["COLOUR_SHARE", "SceneKey", "all_scenes", "all_stand_ins", "chosen_gigs", "met_value", "scene_value"]
__all__ += ["weights"]

COLOUR_SHARE = Practice().colour_share  # where a library says nothing else

SceneKey = tuple[str, str]
"""A song and one of its scenes."""


def scene_value(musts: Iterable[float], without: int = 0, *, mean: bool = False, share: float = COLOUR_SHARE) -> float:
    """Return how well a scene is met, from 0 to 1: its worst-met must, less `share` for each colour it is without.

    `musts` are the likenesses with which its musts are met, 0 for one that lacks: then the scene is worth nothing. With
    `mean` their mean counts in place of the worst. A scene with no must is whole.
    """
    found = list(musts)
    if any(likeness <= 0 for likeness in found):
        return 0.0
    met = (sum(found) / len(found) if mean else min(found)) if found else 1.0
    return max(0.0, met - share * without)


def met_value(stage: Stage, scene: Scene, met: Met, *, mean: bool = False, share: float = COLOUR_SHARE) -> float:
    """Return how well a scene is met on a stage, from 0 to 1, by what `meet` made of it there.

    What a carried unit meets itself, or the one that plays it tonight, has likeness 1; what that one does not have, a
    stand-in may meet.
    """
    if met.lacks:
        return 0.0
    likeness = {(need.unit, need.member): value for need, value in met.likeness.items()}
    musts = (
        likeness.get((need.unit, need.member), 1.0)
        for need in needs_of(scene.units, stage.units)
        if not is_colour(need, scene)
    )
    return scene_value(musts, len(met.without), mean=mean, share=share)


def chosen_gigs(library: Library, names: Sequence[str] | None = None) -> dict[str, Gig]:
    """Return the gigs that count, by name: those named, else all.

    A library without gigs gets one with no name, in which each scene of each song is played once.
    """
    if names:
        return {name: library.gigs[name] for name in names}
    return dict(library.gigs) or {"": all_scenes(library)}


def all_scenes(library: Library) -> Gig:
    """Return a gig in which each scene of each song is played once, from home."""
    songs = [{"song": name, "form": list(song.scenes)} for name, song in library.songs.items() if song.scenes]
    return Gig.model_validate({"sets": [{"name": "all scenes", "songs": songs}]})


def weights(library: Library, gigs: Sequence[str] | None = None) -> dict[SceneKey, int]:
    """Return how often each scene of the library is played in the chosen gigs; 0 for one that is in none.

    Every entry of the form of every song in a set counts once; spare songs and house sounds do not count.
    """
    played = Counter((point.song_name, point.part.scene) for point in _points(library, gigs))
    return {(name, scene): played[name, scene] for name, song in library.songs.items() for scene in song.scenes}


def all_stand_ins(library: Library) -> tuple[StandIn, ...]:
    """Return the stand-ins of all rigs, in the order of the rigs; where two differ in likeness alone, the likelier."""
    found: dict[tuple[str | None, ...], StandIn] = {}
    for rig in library.rigs.values():
        for each in rig.stand_ins:
            key = each.part, each.part_switch, each.part_preset, each.by, each.switch, each.preset
            if key not in found or found[key].likeness < each.likeness:
                found[key] = each
    return tuple(found.values())


def _points(library: Library, gigs: Sequence[str] | None) -> Iterator[Point]:
    for gig in chosen_gigs(library, gigs).values():
        yield from gig_points(library, gig)
