"""The plain reading of scenes, straight from the rules (S2 to S11)."""

from collections.abc import Mapping
from typing import Any

import pytest

from scenebook.errors import BadValueError
from scenebook.model import Library, Unit
from scenebook.proof.reading import Asked, Reading, read_gig
from tests.support.build import GIG, RIG, SONG, gig, library, rig, song, unit

BOX = unit(
    switches={"main": {"message": {"controller": 80}}, "deep": {}, "wide": {}},
    controls={"gain": "0 to 10", "time": "note value"},
    preset=[
        {"slot": "0", "name": "clean", "stores": {"main": "on", "gain": "2"}},
        {
            "slot": "1",
            "stores": {"deep": "on", "gain": "5"},
            "rest": "off",
            "variants": {"big": {"foot": True, "stores": {"wide": "on", "gain": "7"}}},
        },
    ],
)


def readings(of: Library) -> list[Reading]:
    return read_gig(of, of.gigs[GIG], of.rigs[RIG])[1]


def one(*scenes: Any, home: Any = None, thing: Unit = BOX) -> list[Asked]:
    """Return what is asked of one unit: at home, then in each of these scenes."""
    made = rig("box", **({} if home is None else {"home": {"box": home}}))
    said = {f"scene {n}": {} if each is None else {"box": each} for n, each in enumerate(scenes)}
    return [reading.units["box"] for reading in readings(library({"box": thing}, made, song(said)))]


def test_home_is_off_unless_it_says_otherwise() -> None:
    """Every switch has a home value; a control that nobody names is free (S2)."""
    assert one() == [Asked(None, None, {"main": "off", "deep": "off", "wide": "off"})]
    assert one(home={"preset": "clean", "deep": "on"}) == [
        Asked(0, None, {"main": "on", "deep": "on", "wide": "off", "gain": 25})
    ]


def test_a_scene_that_names_nothing_of_a_unit_is_home() -> None:
    """In home's preset, where there is one (S3)."""
    home, scene = one(None, home={"preset": "clean"})

    assert scene == home


def test_a_scene_that_names_members_leaves_the_preset_open() -> None:
    """Home's preset still says what the other members are."""
    assert one({"deep": "on"}, home={"preset": "clean"})[1] == Asked(
        None, None, {"main": "on", "deep": "on", "wide": "off", "gain": 25}
    )


def test_the_last_word_wins() -> None:
    """Home, the preset (what it leaves off included), the variant, the scene."""
    home = {"main": "on", "wide": "on", "gain": "1"}

    assert one({"preset": "1"}, home=home)[1] == Asked(
        1, None, {"main": "off", "deep": "on", "wide": "off", "gain": 64}
    )
    assert one({"preset": "1", "variant": "big", "main": "on"}, home=home)[1] == Asked(
        1, "big", {"main": "on", "deep": "on", "wide": "on", "gain": 89}
    )


def test_a_slot_of_which_nothing_is_said_stores_nothing() -> None:
    """What home says goes on."""
    assert one({"preset": "99"}, home="on")[1] == Asked(99, None, {"main": "on", "deep": "off", "wide": "off"})


def test_leave_keeps_the_target_of_the_cue_before() -> None:
    """A member, or the whole unit with its preset (S6)."""
    _, first, member, whole = one({"preset": "1", "gain": "9"}, {"main": "on", "gain": "leave"}, "leave")

    assert member == Asked(None, None, {"main": "on", "deep": "off", "wide": "off", "gain": 114})
    assert whole == member
    assert one({"preset": "1", "gain": "9"}, "leave")[2] == first


def test_what_was_free_is_left_free() -> None:
    """There is no value to keep."""
    assert "gain" not in one({"gain": "leave"})[1].values


@pytest.mark.parametrize("segue", [True, False])
def test_leave_carries_over_into_the_next_song_only_through_a_segue(segue: bool) -> None:
    """Otherwise it means home."""
    songs = {"one": song({"a": {"box": "on"}}), "two": song({"a": {"box": "leave"}})}
    evening = gig({"song": "one", "segue": segue}, "two")

    last = readings(library({"box": BOX}, rig("box"), songs, evening))[-1]

    assert last.units["box"].values["main"] == ("on" if segue else "off")


def test_an_entry_has_its_own_form_and_tempo() -> None:
    """A note value is as long as the tempo of the evening makes it: a quarter at 60 is a second."""
    delay = unit(
        controls={"time": {"scale": "note value", "message": {"controller": 20, "range": ["0 ms", "1270 ms"]}}}
    )
    songs = song({"a": {"box": {"time": "1/4"}}, "b": {}}, "a", "b", tempo=120)
    evening = gig({"song": "song", "tempo": 60, "form": ["b", "a", "a"]})

    found = readings(library({"box": delay}, rig("box"), songs, evening))

    assert [reading.scene for reading in found] == [None, "b", "a", "a"]
    assert [reading.units["box"].values.get("time") for reading in found] == [None, None, 100, 100]


def test_a_note_value_needs_a_tempo() -> None:
    """Nothing is guessed (S10)."""
    with pytest.raises(BadValueError, match="tempo"):
        one({"time": "1/4"})


# --- loops --------------------------------------------------------------------------------------------------------

SWITCHER = unit(switches={"loop 1": {"message": {"controller": 1}}, "loop 2": {"message": {"controller": 2}}})


def looped(*scenes: Mapping[str, Any], inside: tuple[str, ...] = ("fuzz",), **said: Any) -> list[str]:
    """Return "loop, main of each unit" for home and each scene."""
    made = rig(
        *inside, units={"switcher": {"port": "front", "channel": 1}}, loops={"switcher": {"loop 1": inside}}, **said
    )
    units = {"switcher": SWITCHER, **{name: unit() for name in inside}}
    of = library(units, made, song({f"scene {n}": each for n, each in enumerate(scenes)}))
    return [
        " ".join([each.units["switcher"].values["loop 1"], *(each.units[name].values["main"] for name in inside)])  # type: ignore[list-item]
        for each in readings(of)
    ]


def test_alone_in_a_loop_a_unit_stays_on_and_the_loop_switches() -> None:
    """Its own switch is never moved (S11)."""
    assert looped({"fuzz": "on"}, {}, {"fuzz": "on"}) == ["off on", "on on", "off on", "on on"]


def test_home_may_have_a_loop_on() -> None:
    """What home says of the unit is the loop's value there."""
    assert looped({}, {"fuzz": "off"}, home={"fuzz": "on"}) == ["on on", "on on", "off on"]


def test_what_a_scene_says_of_a_loop_wins() -> None:
    """The player's own word on the switcher."""
    assert looped({"fuzz": "on", "switcher": {"loop 1": "off"}}, {"switcher": {"loop 1": "on"}}) == [
        "off on",
        "off on",
        "on on",
    ]


def test_leaving_a_unit_in_a_loop_leaves_the_loop() -> None:
    """On stays on, off stays off."""
    assert looped({"fuzz": "on"}, {"fuzz": "leave"}, {}, {"fuzz": {"main": "leave"}}) == [
        "off on",
        "on on",
        "on on",
        "off on",
        "off on",
    ]


def test_a_shared_loop_stays_shared_where_the_others_are_out() -> None:
    """The own switch of the one that is left is asked for, not taken to be on."""
    board = rig("fuzz", "wah", loops={"switcher": {"loop 1": ["fuzz", "wah"]}})
    of = library({"switcher": SWITCHER, "fuzz": unit(), "wah": unit()}, board, song({"a": {}, "b": {"wah": "on"}}))
    left = library(dict(of.units), board, dict(of.songs), gig("song", out=["fuzz"]))

    assert [each.units["wah"].values["main"] for each in readings(left)] == ["off", "off", "on"]


def test_in_a_shared_loop_own_switches_stay_while_it_is_off() -> None:
    """The loop is on if one of them should sound."""
    scenes = [{"fuzz": "on"}, {"wah": "on"}, {}, {"fuzz": "on", "wah": "on"}, {}]

    assert looped(*scenes, inside=("fuzz", "wah")) == [
        "off off off",
        "on on off",
        "on off on",
        "off off on",
        "on on on",
        "off on on",
    ]


def test_a_left_unit_does_not_open_a_loop_that_was_off() -> None:
    """Its own switch stands at on, but it did not sound."""
    assert looped({"fuzz": "on"}, {}, {"fuzz": "leave"}, inside=("fuzz", "wah")) == [
        "off off off",
        "on on off",
        "off on off",
        "off on off",
    ]


def test_the_switch_of_a_send_is_like_any_other() -> None:
    """The multi-effects opens it or not; the unit in it has its own switch."""
    made = rig("box", "wah", "box", sends={"box": {"deep": ["wah"]}})
    of = library({"box": BOX, "wah": unit()}, made, song({"a": {"wah": "on"}}))

    asked = readings(of)[1].units

    assert (asked["box"].values["deep"], asked["wah"].values["main"]) == ("off", "on")


def test_a_unit_with_no_main_switch_does_not_open_its_loop() -> None:
    """It always sounds, its loop permitting: the loop is a switch like any other."""
    made = rig("fuzz", units={"switcher": {"port": "front", "channel": 1}}, loops={"switcher": {"loop 1": ["fuzz"]}})
    of = library(
        {"switcher": SWITCHER, "fuzz": unit(switches={})}, made, song({"a": {"switcher": {"loop 1": "on"}}, "b": {}})
    )

    assert [each.units["switcher"].values["loop 1"] for each in readings(of)] == ["off", "on", "off"]


def test_an_empty_form_in_a_gig_is_no_form() -> None:
    """As in a song: each scene is played once, in the order written."""
    of = library({"box": BOX}, rig("box"), {SONG: song({"a": {}, "b": {}})}, gig({"song": SONG, "form": []}))

    assert [reading.scene for reading in readings(of)] == [None, "a", "b"]
