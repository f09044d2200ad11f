"""What plays the part of units that stay at home, or that are out or played by another tonight (S7, S8, S9, S6)."""

from typing import Any

import pytest

from scenebook.cueing.cues import Cue
from scenebook.errors import BadValueError, UnknownNameError
from scenebook.model import Library, Unit
from tests.support.build import gig, library, rig, song, unit
from tests.support.compiling import compiled, on_port, sent, stands

FUZZ = unit(switches={"main": {"foot": True}, "octave": {"foot": True}}, controls={"gain": "0 to 10", "tone": "clock"})
PITCH = unit(preset=[{"slot": "0", "name": "fifths"}, {"slot": "1", "name": "whale"}])
MULTI = unit(
    switches={
        name: {"message": {"controller": 80 + number}, "section": "drive"}
        for number, name in enumerate(["drive", "boost", "crunch"])
    },
    controls={"amount": {"scale": "percent", "message": {"controller": 20}}},
    preset=[{"slot": "5", "name": "low"}, {"slot": "6", "name": "high"}],
    sections_at_once=2,
)
SYNTH = unit(preset=[{"slot": "2", "name": "drone"}])
WHOLE = {"fuzz": FUZZ, "wah": FUZZ, "pitch": PITCH, "multi": MULTI, "synth": SYNTH}


def board(
    *stand_ins: dict[str, Any], scenes: list[Any], units: dict[str, Unit] | None = None, **evening: Any
) -> Library:
    """Return songs of one scene each, segued, on a board with the multi and the synth alone."""
    chain = rig("multi", "synth", units=on_port("multi", "synth"), stand_ins=stand_ins)
    songs = {str(number): song({"part": scene}, tempo=100) for number, scene in enumerate(scenes, 1)}
    order = [{"song": name, "segue": True} for name in songs]
    return library(units or WHOLE, chain, songs, gig(*order, **evening))


def first_cue(*stand_ins: dict[str, Any], scene: Any, **more: Any) -> Cue:
    return compiled(board(*stand_ins, scenes=[scene], **more))[1]


def told(cue: Cue) -> dict[str, tuple[str, ...]]:
    found = {name: getattr(cue, name) for name in ("lacks", "without", "stand_ins", "not_carried")}
    return {name: words for name, words in found.items() if words}


FUZZ_BY_DRIVE = {"part": "fuzz", "by": "multi", "switch": "drive", "likeness": 0.6}


def test_what_is_on_is_a_need_and_what_is_off_is_none() -> None:
    """A scene that turns the fuzz off can do without it."""
    assert told(first_cue(scene={"fuzz": {"main": "on", "octave": "off"}, "wah": "off"})) == {"lacks": ("fuzz",)}
    assert told(first_cue(scene={"pitch": "whale"})) == {"lacks": ("pitch preset whale",)}
    assert told(first_cue(scene={"fuzz": {"octave": "on"}})) == {"lacks": ("fuzz octave",)}


def test_a_colour_that_nothing_plays_is_gone_without() -> None:
    """Worth knowing, no reason to stop."""
    scene = {"units": {"fuzz": {"main": "on", "octave": "on"}, "pitch": "whale"}, "colours": ["fuzz.octave", "pitch"]}

    assert told(first_cue(scene=scene)) == {"lacks": ("fuzz",), "without": ("fuzz octave", "pitch preset whale")}


def test_a_stand_in_plays_the_part_and_controls_carry_over_only_where_it_says_so() -> None:
    """Seven of ten is 70 %, which is step 89; the tone has nobody to go to."""
    stand_in = {**FUZZ_BY_DRIVE, "controls": {"gain": "amount"}}

    cue = first_cue(stand_in, scene={"fuzz": {"main": "on", "gain": "7", "tone": "noon"}})

    assert told(cue) == {"stand_ins": ("fuzz: multi drive, likeness 0.6",), "not_carried": ("fuzz tone noon",)}
    assert sent(cue) == ["0: B0 14 59", "0.96: B0 50 7F"]


def test_a_stand_in_for_that_very_switch_or_preset_comes_before_one_for_the_whole_unit() -> None:
    """The better likeness does not help the more general one."""
    wide = {"part": "pitch", "by": "multi", "preset": "low", "likeness": 0.9}
    exact = {"part": "pitch", "part_preset": "whale", "by": "synth", "preset": "drone", "likeness": 0.4}

    assert first_cue(wide, exact, scene={"pitch": "1"}).stand_ins == ("pitch: synth preset drone, likeness 0.4",)
    assert first_cue(wide, exact, scene={"pitch": "0"}).stand_ins == ("pitch: multi preset low, likeness 0.9",)


def test_among_equals_the_likeness_counts_and_then_the_order_in_the_rig() -> None:
    """The player's ear first."""
    by_boost = {**FUZZ_BY_DRIVE, "switch": "boost"}

    assert first_cue(FUZZ_BY_DRIVE, by_boost, scene={"fuzz": "on"}).stand_ins == ("fuzz: multi drive, likeness 0.6",)
    assert first_cue(FUZZ_BY_DRIVE, {**by_boost, "likeness": 0.7}, scene={"fuzz": "on"}).stand_ins == (
        "fuzz: multi boost, likeness 0.7",
    )


def test_a_stand_in_for_the_whole_unit_meets_its_main_switch_alone() -> None:
    """An octave is no fuzz: it needs an entry of its own."""
    assert told(first_cue(FUZZ_BY_DRIVE, scene={"fuzz": {"main": "on", "octave": "on"}})) == {
        "lacks": ("fuzz octave",),
        "stand_ins": ("fuzz: multi drive, likeness 0.6",),
    }


def test_a_place_meets_one_need_and_who_loses_takes_its_next() -> None:
    """The wah is likelier on the drive, so the fuzz goes to the boost."""
    cue = first_cue(
        FUZZ_BY_DRIVE,
        {**FUZZ_BY_DRIVE, "switch": "boost", "likeness": 0.3},
        {"part": "wah", "by": "multi", "switch": "drive", "likeness": 0.8},
        scene={"fuzz": "on", "wah": "on"},
    )

    assert told(cue) == {"stand_ins": ("fuzz: multi boost, likeness 0.3", "wah: multi drive, likeness 0.8")}


def test_of_two_that_are_equally_like_the_scenes_first_keeps_the_place() -> None:
    """And the other is lacked."""
    cue = first_cue({**FUZZ_BY_DRIVE, "part": "wah"}, FUZZ_BY_DRIVE, scene={"fuzz": "on", "wah": "on"})

    assert told(cue) == {"lacks": ("wah",), "stand_ins": ("fuzz: multi drive, likeness 0.6",)}


@pytest.mark.parametrize("says", [{"drive": "off"}, {"drive": "on"}, {"leave": "unit"}])
def test_what_the_scene_itself_says_of_a_place_wins(says: dict[str, str]) -> None:
    """Nothing that was asked for is overruled by a stand-in."""
    assert told(first_cue(FUZZ_BY_DRIVE, scene={"fuzz": "on", "multi": says})) == {"lacks": ("fuzz",)}


def test_a_preset_that_the_scene_names_is_no_place_for_a_stand_in() -> None:
    """One unit is in one preset."""
    stand_in = {"part": "pitch", "by": "multi", "preset": "low"}

    assert told(first_cue(stand_in, scene={"pitch": "whale", "multi": "high"})) == {"lacks": ("pitch preset whale",)}


def test_no_more_sections_are_on_than_the_unit_has_at_once() -> None:
    """The scene's own comes first, then the likelier; the third is lacked."""
    cue = first_cue(
        FUZZ_BY_DRIVE,
        {"part": "wah", "by": "multi", "switch": "boost", "likeness": 0.7},
        scene={"multi": {"crunch": "on"}, "fuzz": "on", "wah": "on"},
    )

    assert told(cue) == {"lacks": ("fuzz",), "stand_ins": ("wah: multi boost, likeness 0.7",)}
    assert stands(cue, "multi") == {"drive": "off", "boost": "on", "crunch": "on"}


def test_leaving_a_unit_that_stays_at_home_leaves_what_played_its_part() -> None:
    """The drive goes on as the fuzz would; the next scene that does not leave it turns it off."""
    _, on, left, off = compiled(
        board(FUZZ_BY_DRIVE, scenes=[{"fuzz": "on"}, {"fuzz": "leave", "multi": {"boost": "on"}}, {}])
    )

    assert [stands(cue, "multi")["drive"] for cue in (on, left, off)] == ["on", "on", "off"]
    assert left.states[0].left == {"drive"}


def test_leaving_a_unit_whose_preset_is_stood_in_for_leaves_the_whole_unit_that_plays_it() -> None:
    """Nobody recalls anything."""
    stand_in = {"part": "pitch", "by": "synth", "preset": "drone"}
    _, on, left = compiled(board(stand_in, scenes=[{"pitch": "whale"}, {"pitch": "leave"}]))

    assert [sent(cue) for cue in (on, left)] == [["0: C1 02"], []]
    assert stands(left, "synth") == stands(on, "synth") == {"preset": "2", "main": "off"}


def test_a_trigger_of_a_unit_that_is_not_there_is_lacked_or_gone_without() -> None:
    """As with any other thing that the scene names."""
    sampler = unit(triggers={"wave": {"note": 60}})
    scene = {"units": {}, "triggers": ["sampler.wave"]}
    units = {**WHOLE, "sampler": sampler}

    assert told(first_cue(scene=scene, units=units)) == {"lacks": ("sampler.wave",)}
    assert told(first_cue(scene={**scene, "colours": ["sampler.wave"]}, units=units)) == {"without": ("sampler.wave",)}


# --- tonight ------------------------------------------------------------------------------------------------------


def tonight(
    scene: Any, chain: list[str], units: dict[str, Unit], *stand_ins: dict[str, Any], home: Any = None, **evening: Any
) -> Library:
    placements = on_port(*chain)
    made = rig(*chain, units=placements, home=home or {}, stand_ins=stand_ins)
    return library(units, made, song({"part": scene}), gig("song", **evening))


def test_a_unit_that_is_out_is_not_carried_and_a_stand_in_plays_it() -> None:
    """It broke this afternoon."""
    of = tonight({"fuzz": "on"}, ["fuzz", "multi"], WHOLE, FUZZ_BY_DRIVE, out=["fuzz"])

    home, cue = compiled(of)

    assert [state.unit for state in home.states] == ["multi"]
    assert told(cue) == {"stand_ins": ("fuzz: multi drive, likeness 0.6",)}


def test_a_unit_played_by_another_gives_it_its_place_its_channel_and_its_home() -> None:
    """Members carry over by name and scale, presets by name; the rest is listed."""
    ours = unit(
        switches={"main": {"message": {"controller": 80}}},
        controls={"gain": {"scale": "0 to 10", "message": {"controller": 20}}, "bite": "clock"},
        preset=[{"slot": "3", "name": "Soft"}, {"slot": "4", "name": "loud"}],
    )
    theirs = unit(
        switches={"main": {"message": {"controller": 81}}},
        controls={"gain": {"scale": "percent", "message": {"controller": 21}}},
        preset=[{"slot": "9", "name": "soft"}],
    )
    of = tonight(
        {"ours": {"preset": "3", "main": "on", "gain": "5", "bite": "noon"}},
        ["multi", "ours"],
        {"ours": ours, "theirs": theirs, "multi": MULTI},
        home={"ours": {"gain": "2"}},
        played_by={"ours": "theirs"},
    )

    home, cue = compiled(of)

    assert [state.unit for state in home.states] == ["multi", "theirs"]
    assert sent(home)[-2:] == ["2.88: B1 51 00", "3.84: B1 15 19"]
    assert stands(cue, "theirs") == {"preset": "9", "main": "on", "gain": "50 %"}
    assert sent(cue) == ["0: C1 09", "0.64: B1 15 40", "1.6: B1 51 7F"]
    assert cue.not_carried == ("ours bite noon",)


def test_a_replaced_unit_goes_on_standing_in_for_others() -> None:
    """The other multi has a drive as well."""
    units = {**WHOLE, "other": MULTI}
    cue = compiled(tonight({"fuzz": "on"}, ["multi"], units, FUZZ_BY_DRIVE, played_by={"multi": "other"}))[1]

    assert told(cue) == {"stand_ins": ("fuzz: other drive, likeness 0.6",)}


OTHER = unit(switches={"main": {"foot": True}}, controls={"gain": "0 to 10"})
OCTAVE_BY_BOOST = {"part": "fuzz", "part_switch": "octave", "by": "multi", "switch": "boost", "likeness": 0.7}
OCTAVE_BY_BOOST = {**OCTAVE_BY_BOOST, "controls": {"tone": "amount"}}
TONES = {"fuzz": FUZZ.model_copy(update={"controls": {**FUZZ.controls, "tone": FUZZ.controls["gain"]}})}


def by_other(scene: Any, *stand_ins: dict[str, Any], **evening: Any) -> Cue:
    """Return the first cue where another fuzz, which has no octave, plays the fuzz."""
    units = {**WHOLE, **TONES, "other": OTHER}
    of = tonight(scene, ["fuzz", "multi"], units, *stand_ins, played_by={"fuzz": "other"}, **evening)
    return compiled(of)[1]


def test_what_a_replacement_does_not_have_a_stand_in_may_play() -> None:
    """The scene needs it (S7), its unit is not there, and a carried one has the place (S8, S9); the rest stays."""
    scene = {"fuzz": {"main": "on", "octave": "on", "gain": "5", "tone": "5"}}
    cue = by_other(scene, OCTAVE_BY_BOOST)

    assert told(cue) == {"stand_ins": ("fuzz octave: multi boost, likeness 0.7",)}
    assert stands(cue, "other") == {"main": "on", "gain": "5"}
    assert (stands(cue, "multi")["boost"], stands(cue, "multi")["amount"]) == ("on", "50 %")
    assert told(by_other(scene)) == {"lacks": ("fuzz octave",), "not_carried": ("fuzz tone 5",)}


def test_a_stand_in_for_the_whole_of_a_replaced_unit_plays_only_what_that_is_about() -> None:
    """The other fuzz plays the fuzz itself; nobody plays it twice."""
    cue = by_other({"fuzz": {"main": "on", "octave": "on"}}, FUZZ_BY_DRIVE)

    assert told(cue) == {"lacks": ("fuzz octave",)}
    assert stands(cue, "multi")["drive"] == "off"


def test_a_preset_that_a_replacement_does_not_have_is_stood_in_for_as_a_whole() -> None:
    """The other stays as at home."""
    units = {**WHOLE, "other": unit(preset=[{"slot": "3", "name": "fifths"}])}
    by_low = {"part": "pitch", "by": "multi", "preset": "low", "likeness": 0.5}
    chain = ["pitch", "multi"]

    whale, fifths = (
        compiled(tonight({"pitch": text}, chain, units, by_low, played_by={"pitch": "other"}))[1]
        for text in ("whale", "fifths")
    )

    assert told(whale) == {"stand_ins": ("pitch: multi preset low, likeness 0.5",)}
    assert stands(whale, "multi")["preset"] == "5"
    assert (told(fifths), stands(fifths, "other")["preset"]) == ({}, "3")


def test_what_stands_in_for_a_part_of_a_replaced_unit_is_left_with_it() -> None:
    """To leave the fuzz is to leave the other, and what plays the octave that the other does not have (S6)."""
    units = {**WHOLE, **TONES, "other": OTHER}
    scenes = {"on": {"fuzz": {"main": "on", "octave": "on"}}, "left": {"fuzz": "leave"}, "off": {}}
    chain = rig("fuzz", "multi", units=on_port("fuzz", "multi"), stand_ins=[OCTAVE_BY_BOOST])
    of = library(units, chain, song(scenes, tempo=100), gig("song", played_by={"fuzz": "other"}))

    _, on, left, off = compiled(of)

    assert [stands(cue, "multi")["boost"] for cue in (on, left, off)] == ["on", "on", "off"]
    assert [stands(cue, "other")["main"] for cue in (on, left, off)] == ["on", "on", "off"]


def test_a_unit_cannot_be_played_by_one_that_is_in_the_rig_already() -> None:
    """It has a place of its own."""
    with pytest.raises(BadValueError) as caught:
        compiled(tonight({}, ["fuzz", "multi"], WHOLE, played_by={"fuzz": "multi"}))

    assert str(caught.value) == (
        "the gig's replacements: 'fuzz' cannot be played by 'multi', which is in rig 'rig' already. Say that 'fuzz' is "
        "out, and give the rig a stand-in."
    )


def test_a_replacement_that_nobody_knows_is_an_error() -> None:
    """With the units that there are."""
    with pytest.raises(UnknownNameError) as caught:
        compiled(tonight({}, ["fuzz"], {"fuzz": FUZZ, "wah": FUZZ}, played_by={"fuzz": "wha"}))

    assert str(caught.value) == "the gig's replacements: no unit is called 'wha'. Did you mean 'wah'?"
