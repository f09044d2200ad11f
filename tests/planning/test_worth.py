"""What a scene is worth: how often it is played, and how well its musts are met."""

import pytest

from scenebook.model import Library
from scenebook.planning.worth import all_stand_ins, met_value, scene_value, weights
from scenebook.states.stage import stage_of
from scenebook.states.stand_ins import meet
from tests.support.build import RIG, gig, library, rig, song, unit

ORGAN = unit(switches={"main": {"foot": True}, "drone": {"foot": True}})
ALL = {"fuzz": ORGAN, "wah": ORGAN, "multi": ORGAN}
FUZZ_BY_MULTI = {"part": "fuzz", "by": "multi", "switch": "main", "likeness": 0.6}


def value_of(scene: dict[str, object], *stand_ins: dict[str, object], mean: bool = False, **evening: object) -> float:
    """Return how well a scene is met by a board of the multi and the wah."""
    of = library(ALL, rig("multi", "wah", stand_ins=stand_ins), song({"part": scene}), gig("song", **evening))
    stage, part = stage_of(of, RIG, of.gigs["gig"]), of.songs["song"].scenes["part"]
    return met_value(stage, part, meet(stage, part), mean=mean)


@pytest.mark.parametrize(
    ("musts", "without", "mean", "value"),
    [
        ((), 0, False, 1.0),
        ((1.0, 0.6, 0.8), 0, False, 0.6),
        ((1.0, 0.6, 0.8), 0, True, 0.8),
        ((1.0, 0.6), 2, False, 0.2),
        ((0.3,), 2, False, 0.0),
        ((1.0, 0.0), 0, True, 0.0),
        ((), 1, False, 0.8),
    ],
)
def test_the_worst_must_counts_less_a_fifth_for_each_colour_that_is_missing(
    musts: tuple[float, ...], without: int, mean: bool, value: float
) -> None:
    """Never below nothing, and a must that lacks leaves nothing."""
    assert scene_value(musts, without, mean=mean) == pytest.approx(value)


def test_a_carried_unit_meets_its_own_need_wholly_and_a_stand_in_by_its_likeness() -> None:
    """With the mean, the wah makes up for some of the fuzz."""
    scene = {"fuzz": "on", "wah": "on"}

    assert value_of(scene, FUZZ_BY_MULTI) == pytest.approx(0.6)
    assert value_of(scene, FUZZ_BY_MULTI, mean=True) == pytest.approx(0.8)
    assert value_of(scene) == 0.0
    assert value_of({"wah": "on"}) == value_of({}) == value_of({"fuzz": "off"}) == 1.0


def test_a_colour_costs_its_share_only_where_nothing_plays_it() -> None:
    """However little the stand-in is like it."""
    scene = {"units": {"wah": "on", "fuzz": {"main": "on", "drone": "on"}}, "colours": ["fuzz"]}

    assert value_of(scene) == pytest.approx(0.6)
    assert value_of(scene, FUZZ_BY_MULTI) == pytest.approx(0.8)


def test_a_trigger_that_is_not_there_counts_as_the_scene_says() -> None:
    """A must or a colour, as any other thing that the scene names."""
    assert value_of({"units": {}, "triggers": ["wah.horn"]}) == 0.0
    assert value_of({"units": {}, "triggers": ["wah.horn"], "colours": ["wah"]}) == pytest.approx(0.8)


def test_what_is_played_by_another_tonight_is_met_wholly() -> None:
    """It has its place."""
    assert value_of({"wah": "on"}, played_by={"wah": "fuzz"}) == 1.0


def songs_and_gigs(**gigs: object) -> Library:
    songs = {"one": song({"verse": {}, "chorus": {}}, "verse", "chorus", "verse"), "two": song({"all": {}})}
    return library({}, rig(), songs).model_copy(update={"gigs": gigs})


def test_a_scene_weighs_as_often_as_the_chosen_gigs_play_it() -> None:
    """By the form of the song or of the gig; spare songs and house sounds are not counted on."""
    of = songs_and_gigs(
        hall=gig("one", {"song": "one", "form": ["chorus"]}, spares=["two"], house="two"), barn=gig("two", "two")
    )

    assert weights(of) == {("one", "verse"): 2, ("one", "chorus"): 2, ("two", "all"): 2}
    assert weights(of, ["hall"]) == {("one", "verse"): 2, ("one", "chorus"): 2, ("two", "all"): 0}


def test_without_a_gig_each_scene_counts_once() -> None:
    """Somebody who has songs and no gig yet can ask as well."""
    assert set(weights(songs_and_gigs()).values()) == {1}


def test_the_stand_ins_of_all_rigs_are_one_list_with_the_likelier_of_two_that_are_the_same() -> None:
    """Whatever rig the player wrote them in."""
    likelier, other = {**FUZZ_BY_MULTI, "likeness": 0.7}, {**FUZZ_BY_MULTI, "part": "wah"}
    first, second = rig("multi", stand_ins=[FUZZ_BY_MULTI]), rig("multi", stand_ins=[other, likelier])
    of = library(ALL, first, {}).model_copy(update={"rigs": {"first": first, "second": second}})

    assert [(each.part, each.likeness) for each in all_stand_ins(of)] == [("fuzz", 0.7), ("wah", 0.6)]
