"""What the parts of a library say of each other is held together before anything is compiled."""

from typing import Any

import pytest

from scenebook.model import Library
from scenebook.model.checks import check_library
from tests.support.build import gig, library, rig, song, unit

FUZZ = unit(switches={"main": {"message": {"controller": 80}}}, triggers={"hit": {"note": 60}})
SWITCHER = unit(switches={"one": {"foot": True}, "tap": {"foot": True, "momentary": True}})


def faults(of: Library) -> list[str]:
    """Return every fault of a library, in words."""
    return [str(fault) for _, _, fault in check_library(of)]


def of_gig(**said: Any) -> Library:
    units = dict.fromkeys(("fuzz", "drive", "spare"), FUZZ)
    return library(units, rig("fuzz", "drive"), {"s": song({"one": {}})}, gig("s", **said))


def test_one_unit_cannot_play_the_parts_of_two() -> None:
    """It is one thing on the floor: it would stand in the chain twice and be told two things at once."""
    assert faults(of_gig(played_by={"fuzz": "spare"})) == []
    assert faults(of_gig(played_by={"fuzz": "spare", "drive": "spare"})) == [
        "'drive' is played by 'spare', which plays 'fuzz' already; accepted: another unit for each."
    ]


def test_a_unit_that_is_out_plays_no_part() -> None:
    """Somebody has said two things of the same evening, and only the player knows which is true."""
    assert faults(of_gig(played_by={"fuzz": "spare"}, out=["spare"])) == [
        "'fuzz' is played by 'spare', which is out. Take one of the two back."
    ]
    assert faults(of_gig(played_by={"fuzz": "spare"}, out=["fuzz"])) == []


@pytest.mark.parametrize("kind", ["loops", "sends"])
def test_nothing_stands_in_the_loop_of_a_momentary_switch(kind: str) -> None:
    """It has no state, so nobody could say whether what is in its loop sounds."""
    units, scenes = {"switcher": SWITCHER, "fuzz": FUZZ}, song({"one": {}})
    lasting = rig("switcher", "fuzz", **{kind: {"switcher": {"one": ["fuzz"]}}})
    held = rig("switcher", "fuzz", **{kind: {"switcher": {"tap": ["fuzz"]}}})

    assert faults(library(units, lasting, scenes)) == []
    assert faults(library(units, held, scenes)) == [
        "'tap' of 'switcher' acts only while it is held, so nothing can stand in its loop; "
        "accepted: a switch that is on or off."
    ]


def test_a_trigger_is_named_once() -> None:
    """It fires once on entry (C8); twice in a scene is a slip of the pen."""
    twice = song({"one": {"units": {"fuzz": "on"}, "triggers": ["fuzz.hit", "fuzz.hit"]}})

    assert faults(library({"fuzz": FUZZ}, rig("fuzz"), twice)) == [
        "the trigger 'fuzz.hit' is there twice, and fires once on entry. Keep one of them."
    ]


def test_a_wrong_name_gets_the_nearest_or_all_that_there_are() -> None:
    """Nobody has to look the right one up."""
    assert faults(of_gig(out=["fuz"]))[0].startswith("no unit is called 'fuz'. Did you mean 'fuzz'")
    assert faults(of_gig(out=["x"])) == ["no unit is called 'x'; accepted: 'fuzz', 'drive', 'spare'."]


def test_a_stand_in_that_is_wrong_says_which_half_of_it_and_what_to_do() -> None:
    """Part is the unit that stays at home, by the one that plays it: a player who mixes them up has to see which."""
    units = {"fuzz": FUZZ, "drive": unit(switches={"main": {"foot": True}}, controls={"gain": {"scale": "clock"}})}

    def said(**stand_in: Any) -> list[str]:
        return faults(library(units, rig("drive", stand_ins=[stand_in]), {"s": song({"one": {}})}))

    assert said(part="fuzz", by="drive", switch="main") == []
    assert said(part="drive", by="fuzz", switch="main") == [
        "by names 'fuzz', which is not in this rig, to play the part of 'drive'; accepted: 'drive'. "
        "Put 'fuzz' into the rig, or take this stand-in out."
    ]
    assert said(part="fuzz", by="drive", switch="lead") == [
        "by 'drive', which plays the part, has no switch 'lead'; accepted: 'main'."
    ]
    assert said(part="fuzz", by="drive", switch="main", controls={"tone": "tone"}) == [
        "part 'fuzz', which is missing, has no control 'tone'.",
        "by 'drive', which plays the part, has no control 'tone'; accepted: 'gain'.",
    ]
