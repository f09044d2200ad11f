"""A walk over a gig's points works out no scene twice that comes to the same, and tells the same of each."""

import random
from collections.abc import Sequence
from dataclasses import replace

from scenebook.cueing.points import Point, gig_points
from scenebook.errors import ScenebookError
from scenebook.model import Library
from scenebook.planning.reach import Reached, Walk, leaves
from scenebook.planning.worth import met_value
from scenebook.states.stage import Stage, stage_of
from scenebook.states.stand_ins import meet
from scenebook.states.standing import Standings
from tests.planning.test_reach import with_stand_ins
from tests.support.build import GIG, RIG, gig, library, rig, song, unit
from tests.support.random_gigs import random_library

FOOT = unit(switches={"main": {"foot": True}})


def one_by_one(of: Library, stage: Stage, points: Sequence[Point]) -> list[Reached]:
    """Return what a walk should: every point is worked out, and nothing is remembered."""
    standings, share = Standings(of, stage), of.settings.practice.colour_share
    standing, found = standings.home, list[Reached]()
    for point in points:
        before = found[-1].met if found and not point.afresh else None
        stood = standing if before is None else replace(standing, met=before)
        name, scene, why = point.part.scene, point.song.scenes[point.part.scene], ""
        try:
            standing = standings.of(point.song, point.song_name, name, point.tempo, stood, afresh=point.afresh)
            met = standing.met
        except ScenebookError as error:
            met, why = meet(stage, scene, before), str(error)
        value = 0.0 if why else met_value(stage, scene, met, mean=False, share=share)
        found.append(Reached(met, value, why, () if why else standing.not_heard))
    return found


def long_evening(seed: int) -> Library:
    """Return a random library with stand-ins, whose songs play their scenes over and over."""
    chance = random.Random(seed)
    of = with_stand_ins(random_library(seed, leave=chance.choice([0.0, 0.05, 0.3])), seed)
    songs = {
        name: each.model_copy(
            update={"form": song({s: {} for s in each.scenes}, *chance.choices([*each.scenes], k=6)).form}
        )
        for name, each in of.songs.items()
    }
    entries = [{"song": chance.choice([*songs]), "segue": chance.random() < 0.5} for _ in range(3)]
    evening = gig(*entries, chance.choice([*songs]), out=of.gigs[GIG].out)
    return of.model_copy(update={"songs": songs, "gigs": {GIG: evening}})


def test_a_walk_tells_of_every_point_what_working_out_each_anew_would() -> None:
    """With scenes that leave and scenes that do not, segues, loops, stand-ins and what cannot be set."""
    left, looped, stuck, spared = 0, 0, 0, 0
    for seed in range(400):
        of = long_evening(seed)
        stage, points = stage_of(of, RIG, of.gigs[GIG]), gig_points(of, of.gigs[GIG])

        found = Walk(of, stage).along(iter(points))

        assert found == one_by_one(of, stage, points), seed
        left += any(map(leaves, points))
        looped += bool(of.rigs[RIG].loops)
        stuck += any(each.refused for each in found)
        spared += len(found) - len(set(map(id, found)))
    assert min(left, looped, stuck) >= 50, (left, looped, stuck)
    assert spared >= 1000


def test_a_scene_that_comes_again_is_worked_out_once_where_nothing_is_left_after_it() -> None:
    """A long gig plays the same few scenes at hundreds of cues."""
    scenes = {"verse": {"fuzz": "on"}, "chorus": {"wah": "on"}}
    of = library({"fuzz": FOOT, "wah": FOOT}, rig("fuzz", "wah"), song(scenes, "verse", "chorus", "verse", "chorus"))

    found = Walk(of, stage_of(of, RIG)).along(gig_points(of, of.gigs[GIG]))

    assert [found.index(each) for each in found] == [0, 1, 0, 1]
    assert len(set(map(id, found))) == 2
