"""The plain reading of an evening: who is out, and who plays whose part."""

from collections.abc import Mapping
from typing import Any

from scenebook.proof.reading import Asked, Reading, read_gig
from tests.support.build import GIG, RIG, gig, library, rig, song, unit

OLD = unit(
    switches={"main": {}, "deep": {}, "wide": {}},
    controls={
        "gain": "0 to 10",
        "tone": "0 to 10",
        "rate": "Hz",
        "voice": {"scale": "choice", "choices": ["dark", "odd"]},
    },
    triggers={"hit": {"note": 1}, "gone": {"note": 2}},
    preset=[{"slot": "0", "name": "clean", "variants": {"big": {"foot": True}}}, {"slot": "1"}],
)
NEW = unit(
    switches={"main": {}, "deep": {}, "tone": {}},
    controls={"gain": "percent", "rate": "0 to 10", "voice": {"scale": "choice", "choices": ["dark"]}},
    triggers={"hit": {"note": 2}},
    preset=[
        {"slot": "7", "name": "Clean", "stores": {"main": "off"}, "variants": {"big": {"foot": True}}},
        {"slot": "8"},
    ],
)


def replaced(scene: Mapping[str, Any], *, played_by: Mapping[str, str] | None = None, **said: Any) -> Reading:
    """Return what a scene asks where `new` plays the part of `old`; "out" and what the rig says may be given."""
    songs = song({"a": {"units": scene, "triggers": ["old.hit", "old.gone"]}})
    evening = gig("song", played_by=played_by or {"old": "new"}, out=said.pop("out", ()))
    of = library({"old": OLD, "new": NEW, "wah": unit(), "gone": OLD}, rig("old", "wah", **said), songs, evening)
    return read_gig(of, of.gigs[GIG], of.rigs[RIG])[1][1]


def test_a_unit_played_by_another_is_read_as_the_other() -> None:
    """Members and presets by name, values by scale: 5 of 10 is half, and so is 64 of 127."""
    asked = replaced({"old": {"preset": "0", "variant": "big", "deep": "on", "wide": "on", "gain": "5"}})

    assert asked.units["new"] == Asked(7, "big", {"main": "off", "deep": "on", "tone": "off", "gain": 64})
    assert "old" not in asked.units
    assert asked.triggers == {("new", "hit")}


def test_what_the_other_does_not_have_is_not_carried() -> None:
    """A preset with no name to find it by, a control that is a switch there, a value off its scale."""
    asked = replaced({"old": {"preset": "1", "tone": "3", "rate": "4 Hz", "voice": "odd", "main": "on"}})

    assert asked.units["new"] == Asked(None, None, {"main": "on", "deep": "off", "tone": "off"})


def test_what_a_scene_says_of_the_other_itself_goes_over_what_carries_over() -> None:
    """It was written for that unit."""
    first = {"preset": "0", "variant": "big", "gain": "5"}

    assert replaced({"old": first, "new": {"preset": "8"}}).units["new"] == Asked(
        8, None, {"main": "off", "deep": "off", "tone": "off", "gain": 64}
    )
    assert replaced({"new": "leave", "old": first}).units["new"].slot is None
    assert replaced({"old": "leave", "new": "on"}).units["new"].values["main"] == "on"


def test_the_rig_says_of_the_other_what_it_says_of_the_unit() -> None:
    """Home, and the place in a loop, come with the part."""
    loops = {"wah": {"main": ["old"]}}

    asked = replaced({}, home={"old": {"gain": "10", "main": "on"}}, loops=loops).units

    assert asked["new"].values["gain"] == 127
    assert asked["wah"].values["main"] == "on"


def test_stand_ins_go_with_the_part() -> None:
    """As far as the other has the switch, the preset and the control."""
    by_old = {"part": "gone", "by": "old", "switch": "deep", "controls": {"gain": "gain", "tone": "tone"}}
    scene = {"gone": {"main": "on", "gain": "10", "tone": "10"}}

    assert replaced(scene, stand_ins=[by_old]).units["new"].values == {
        "main": "off", "deep": "on", "tone": "off", "gain": 127
    }  # fmt: skip
    assert replaced(scene, stand_ins=[{**by_old, "switch": "wide"}]).units["new"].values["deep"] == "off"
    assert (
        replaced({"gone": {"preset": "0"}}, stand_ins=[{"part": "gone", "by": "old", "preset": "0"}]).units["new"].slot
        == 7
    )
    assert (
        replaced({"gone": {"preset": "0"}}, stand_ins=[{"part": "gone", "by": "old", "preset": "1"}]).units["new"].slot
        is None
    )


def test_a_unit_that_is_out_is_not_there() -> None:
    """Nothing is asked of it, and its trigger fires nowhere; who would have played it is out too."""
    asked = replaced({"old": "on"}, out=["new"])

    assert list(asked.units) == ["wah"]
    assert asked.triggers == frozenset()


def test_the_part_of_a_unit_that_is_out_tonight_goes_to_the_stand_in_of_the_unit_in_the_rig() -> None:
    """Its stand-ins were written for the part, and the part is the other's."""
    stand_in = {"part": "old", "part_preset": "clean", "by": "wah", "switch": "main"}

    asked = replaced({"old": {"preset": "0"}}, out=["new"], stand_ins=[stand_in])

    assert asked.units["wah"].values["main"] == "on"


def test_what_a_replacement_does_not_have_goes_to_a_stand_in() -> None:
    """The other has no such switch and no preset of that name; what it has, it plays itself."""
    wide = {"part": "old", "part_switch": "wide", "by": "wah", "switch": "main"}
    whole = {"part": "old", "by": "wah", "switch": "main"}

    asked = replaced({"old": {"main": "on", "wide": "on"}}, stand_ins=[wide]).units
    assert (asked["wah"].values["main"], asked["new"].values["main"]) == ("on", "on")
    assert replaced({"old": {"main": "on", "wide": "on"}}, stand_ins=[whole]).units["wah"].values["main"] == "off"
    assert replaced({"old": {"preset": "1"}}, stand_ins=[whole]).units["wah"].values["main"] == "on"
    assert replaced({"old": {"preset": "0"}}, stand_ins=[whole]).units["wah"].values["main"] == "off"


def test_a_replacement_for_a_unit_that_is_not_in_the_rig_changes_nothing() -> None:
    """There is no place that it could take."""
    assert list(replaced({"gone": "on"}, played_by={"gone": "new"}).units) == ["old", "wah"]
