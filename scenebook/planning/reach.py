"""What a rig reaches of the songs, scene by scene: whole, by a stand-in, without a colour, or lacking a must.

All of it is read from the very states that are compiled (states/), so that reach and compile never differ.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property
from typing import NamedTuple

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.points import Point, gig_points
from scenebook.errors import ScenebookError
from scenebook.model import Gig, Library
from scenebook.planning.worth import all_scenes, chosen_gigs, met_value
from scenebook.states.stage import Stage, stage_of
from scenebook.states.stand_ins import Met, meet
from scenebook.states.standing import Standing, Standings

__all__ = ["Outcome", "Reach", "Reached", "SceneReach", "Share", "Walk", "reach", "reach_of_gig"]
__all__ += ["leaves", "uncompiled"]


class Outcome(StrEnum):
    """What becomes of a scene on a rig, from the best to the worst."""

    WHOLE = "whole"
    STAND_IN = "by a stand-in"
    WITHOUT = "without a colour"
    LACKING = "lacking a must"
    REFUSED = "cannot be set"  # something that it names is carried, and no way works it on this rig


class Reached(NamedTuple):
    """One point of a gig on a rig: what its scene comes to there, and how well it is met, from 0 to 1."""

    met: Met
    value: float
    refused: str = ""  # why the scene cannot be set on this rig, although its units are there
    not_heard: tuple[str, ...] = ()  # what the scene sets, although it does not sound

    @property
    def outcome(self) -> Outcome:
        """The worst that is true of it."""
        if self.refused or self.met.lacks:
            return Outcome.REFUSED if self.refused else Outcome.LACKING
        if self.met.without:
            return Outcome.WITHOUT
        return Outcome.STAND_IN if self.met.stand_ins else Outcome.WHOLE


class SceneReach(NamedTuple):
    """A scene on a rig at one gig, and how often it is played so there."""

    gig: str
    song: str
    scene: str
    weight: int
    reached: Reached

    @property
    def worth(self) -> float:
        """Its weight times how well it is met."""
        return self.weight * self.reached.value


class Share(NamedTuple):
    """How much of a song or gig is reached: its worth of what it would be worth whole."""

    name: str
    worth: float
    whole: float

    @property
    def lost(self) -> float:
        """What is lost of it."""
        return self.whole - self.worth


@dataclass(frozen=True)
class Reach:
    """What a rig reaches of the chosen gigs.

    `scenes` come in the order in which they are first played, gig by gig; `apart` are those that no set of these gigs
    plays: their weight is 0. A gig whose replacements cannot be made on this rig is in `left_out`, with the reason.
    """

    rig: str
    gigs: tuple[str, ...]
    scenes: tuple[SceneReach, ...]
    apart: tuple[SceneReach, ...]
    left_out: tuple[tuple[str, str], ...] = ()

    @cached_property
    def worth(self) -> float:
        """The worth of all scenes together."""
        return sum(each.worth for each in self.scenes)

    @cached_property
    def whole(self) -> int:
        """What they would be worth if each were whole."""
        return sum(each.weight for each in self.scenes)

    @property
    def share(self) -> float:
        """How much of the whole is reached, from 0 to 1; all, where nothing is played."""
        return self.worth / self.whole if self.whole else 1.0

    @cached_property
    def by_song(self) -> tuple[Share, ...]:
        """Each song's share; what loses most comes first."""
        return _shares(self.scenes, lambda each: each.song)

    @cached_property
    def by_gig(self) -> tuple[Share, ...]:
        """Each gig's share; what loses most comes first."""
        return _shares(self.scenes, lambda each: each.gig)


def reach(
    library: Library, rig: str, gigs: Sequence[str] | None = None, *, mean: bool = False, tonight: bool = True
) -> Reach:
    """Return what a rig reaches of the named gigs, or of all; of a library without gigs, of each scene once.

    Without `tonight` it does not count that a unit is out or played by another at a gig.

    Raises:
        ScenebookError: a gig that was named has a replacement that cannot be made on this rig.
    """
    scenes: list[SceneReach] = []
    left_out: list[tuple[str, str]] = []
    chosen = chosen_gigs(library, gigs)
    for name, gig in chosen.items():
        try:
            walk = Walk(library, stage_of(library, rig, gig if tonight else None), mean=mean)
        except ScenebookError as error:
            if gigs:
                raise
            left_out.append((name, str(error)))
            continue
        points = gig_points(library, gig)
        scenes += _counted(name, points, walk.along(points), weight=1)
    played = {(each.song, each.scene) for each in scenes}
    points = [p for p in gig_points(library, all_scenes(library)) if (p.song_name, p.part.scene) not in played]
    apart = _counted("", points, Walk(library, stage_of(library, rig), mean=mean).along(points), weight=0)
    there = tuple(name for name in chosen if name not in dict(left_out))
    return Reach(rig, there, tuple(scenes), tuple(apart), tuple(left_out))


def reach_of_gig(library: Library, rig: str, gig: Gig, *, mean: bool = False) -> list[Reached]:
    """Return what becomes of the scene at each point of a gig, in the order of its cues from 1."""
    return Walk(library, stage_of(library, rig, gig), mean=mean).along(gig_points(library, gig))


def uncompiled(library: Library, rig: str, gigs: Sequence[str] | None = None) -> tuple[tuple[str, str], ...]:
    """Return the gigs that cannot be compiled on a rig, each with the reason.

    A scene that is whole by itself may be out of reach from the one before: a recall undoes what nothing can mend.
    """
    found = []
    for name, gig in chosen_gigs(library, gigs).items():
        try:
            compile_gig(library.model_copy(update={"gigs": {name: gig}}), name, rig)
        except ScenebookError as error:
            found.append((name, str(error)))
    return tuple(found)


class Walk:
    """Walks points on one stage; a scene that leaves nothing comes to the same wherever it stands: told once.

    With `ways` it finds out as well whether each scene can be set: whether something works all that it names.
    """

    def __init__(self, library: Library, stage: Stage, *, mean: bool = False, ways: bool = True) -> None:
        self.stage, self._mean, self._share = stage, mean, library.settings.practice.colour_share
        self._standings = Standings(library, stage) if ways else None
        self._known: dict[tuple[str, str, float | None], Reached] = {}

    def along(self, points: Iterable[Point]) -> list[Reached]:
        """Return what becomes of the scene at each point, each following the one before."""
        reached: list[Reached] = []
        standing = self._standings.home if self._standings else None
        walked = list(points)
        for point, is_left in zip(walked, self._matters(walked), strict=True):
            before = reached[-1].met if reached and not point.afresh else None
            key = point.song_name, point.part.scene, point.tempo
            found = self._known.get(key)
            if found is None or (is_left and standing is not None and not found.refused):
                found, standing = self._reached(point, before, standing)
                if not leaves(point):
                    self._known[key] = found
            reached.append(found)
        return reached

    def _matters(self, points: Sequence[Point]) -> list[bool]:
        """Return for each point whether how the rig stands there is heard of later: left, or switched off in a loop."""
        if any(carried.loop for carried in self.stage.carried):
            return [True] * len(points)
        return _left_later(points)

    def _reached(self, point: Point, before: Met | None, standing: Standing | None) -> tuple[Reached, Standing | None]:
        """Return what becomes of a scene after the one before, and how the rig stands then.

        Where a scene cannot be set the rig stays as it stood, and what it met is left by the next all the same.
        """
        scene, refused = point.song.scenes[point.part.scene], ""
        try:
            standing = self._stands(point, before, standing)
            met = standing.met if standing else meet(self.stage, scene, before)
        except ScenebookError as error:
            met, refused = meet(self.stage, scene, before), str(error)
        value = 0.0 if refused else met_value(self.stage, scene, met, mean=self._mean, share=self._share)
        return Reached(met, value, refused, standing.not_heard if standing and not refused else ()), standing

    def _stands(self, point: Point, before: Met | None, standing: Standing | None) -> Standing | None:
        """Return how the rig stands in a scene; None where nobody asks for that."""
        if self._standings is None or standing is None:
            return None
        stood = standing if before is None else replace(standing, met=before)
        song, scene = point.song, point.part.scene
        return self._standings.of(song, point.song_name, scene, point.tempo, stood, afresh=point.afresh)


def _left_later(points: Sequence[Point]) -> list[bool]:
    """Return for each point whether something is left before the next fresh beginning."""
    found = []
    later = False
    for point in reversed(points):
        found.append(later)
        later = (later or leaves(point)) and not point.afresh
    return found[::-1]


def leaves(point: Point) -> bool:
    """Return whether a scene leaves anything as the one before had it."""
    settings = point.song.scenes[point.part.scene].units.values()
    return any("leave" in setting or "leave" in setting.values() for setting in settings)


def _counted(gig: str, points: Sequence[Point], reached: Sequence[Reached], *, weight: int) -> list[SceneReach]:
    """Return each scene with its weight; one that comes to different things at different points is told for each."""
    counts: dict[tuple[str, str, tuple[object, ...]], SceneReach] = {}
    for point, each in zip(points, reached, strict=True):
        met = each.met
        key = point.song_name, point.part.scene, (met.lacks, met.without, met.stand_ins, each.refused)
        found = counts.get(key)
        so_far = found.weight if found else 0
        counts[key] = SceneReach(
            gig, point.song_name, point.part.scene, so_far + weight, found.reached if found else each
        )
    return list(counts.values())


def _shares(scenes: Iterable[SceneReach], name_of: Callable[[SceneReach], str]) -> tuple[Share, ...]:
    sums: dict[str, Share] = {}
    for each in scenes:
        name = name_of(each)
        so_far = sums.get(name, Share(name, 0.0, 0.0))
        sums[name] = Share(name, so_far.worth + each.worth, so_far.whole + each.weight)
    return tuple(sorted(sums.values(), key=lambda share: -round(share.lost, 9)))
