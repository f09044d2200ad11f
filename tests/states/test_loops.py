"""Units in the loops of a switcher or the send and return of a multi-effects (S11)."""

from typing import Any

from scenebook.model import Library, Unit
from tests.support.build import gig, library, unit
from tests.support.compiling import compiled, hands, on_port, one_song, sent, stands

SWITCHER = unit(switches={name: {"message": {"controller": number}} for number, name in enumerate("AB", 1)})
FOOT = unit(switches={"main": {"foot": True}})


def looped(inside: dict[str, list[str]], *scenes: Any, switcher: Unit = SWITCHER, **of_rig: Any) -> Library:
    """Return a song on a board where only the switcher hears MIDI."""
    names = [name for units in inside.values() for name in units]
    units = {**dict.fromkeys(names, FOOT), "switcher": switcher}
    return one_song(units, *scenes, **{"units": on_port("switcher"), "loops": {"switcher": inside}, **of_rig})


def test_alone_in_a_loop_what_the_scene_says_of_a_unit_is_the_loops_value() -> None:
    """Its own switch is on from home and never moved."""
    home, loud, soft = compiled(looped({"A": ["fuzz"]}, {"fuzz": "on"}, {}))

    assert [stands(cue, "switcher") for cue in (home, loud, soft)] == [
        {"A": v, "B": "off"} for v in ("off", "on", "off")
    ]
    assert [stands(cue, "fuzz") for cue in (home, loud, soft)] == [{"main": "on"}] * 3
    assert [sent(cue) for cue in (loud, soft)] == [["0: B0 01 7F"], ["0: B0 01 00"]]
    assert hands(loud) + hands(soft) == []
    assert [[s.sounds for s in cue.states if s.unit == "fuzz"] for cue in (home, loud, soft)] == [
        [False],
        [True],
        [False],
    ]


def test_what_a_scene_says_of_main_is_said_of_the_loop_and_not_of_the_switch() -> None:
    """The sheet does not tell the player to find the fuzz off."""
    _, off = compiled(looped({"A": ["fuzz"]}, {"fuzz": "off"}))
    _, held = compiled(looped({"A": ["fuzz", "wah"]}, {"fuzz": "on", "switcher": {"A": "off"}}))

    assert stands(off, "fuzz") == {"main": "on"}
    assert stands(held, "fuzz") == {"main": "off"}


def test_a_shared_loop_is_on_if_a_unit_in_it_should_sound() -> None:
    """While it is off the player leaves the units' own switches alone; they are set when it opens again."""
    _, fuzz, nothing, wah = compiled(looped({"A": ["fuzz", "wah"]}, {"fuzz": "on"}, {}, {"wah": "on"}))

    assert [sent(cue) for cue in (fuzz, nothing, wah)] == [["0: B0 01 7F"], ["0: B0 01 00"], ["0: B0 01 7F"]]
    assert stands(nothing, "fuzz") == {"main": "on"}
    assert hands(fuzz) == ["press fuzz main off > on, before the first song"]
    assert hands(nothing) == []
    assert hands(wah) == ["press fuzz main on > off, at the cue", "press wah main off > on, at the cue"]


def test_what_a_scene_says_of_a_loop_switch_wins() -> None:
    """And a unit that is on in a loop that is off is told of."""
    _, shut, opened = compiled(
        looped({"A": ["fuzz"]}, {"fuzz": "on", "switcher": {"A": "off"}}, {"switcher": {"A": "on"}})
    )

    assert [stands(cue, "switcher")["A"] for cue in (shut, opened)] == ["off", "on"]
    assert shut.notes == ("fuzz is on but not heard: 'A' of 'switcher' is off",)


def test_leaving_a_unit_leaves_its_loop() -> None:
    """It goes on sounding if it did, and stays silent if it did not."""
    scenes = [
        {"fuzz": "on"},
        {"fuzz": "leave"},
        {},
        {"fuzz": {"main": "leave"}},
        {"fuzz": "on", "switcher": {"A": "off"}},
        {"fuzz": "leave"},
    ]
    cues = compiled(looped({"A": ["fuzz"]}, *scenes))

    assert [stands(cue, "switcher")["A"] for cue in cues] == ["off", "on", "on", "off", "off", "off", "off"]


def test_leave_at_a_gigs_start_leaves_the_loop_as_at_home() -> None:
    """Home has the fuzz on, so its loop is on; leaving the loop, the switcher or the fuzz keeps it so."""
    for scene in ({"switcher": {"A": "leave"}}, {"switcher": "leave"}, {"fuzz": "leave"}, {"fuzz": {"main": "leave"}}):
        home, cue = compiled(looped({"A": ["fuzz"]}, scene, home={"fuzz": "on"}))
        assert stands(home, "switcher") == stands(cue, "switcher") == {"A": "on", "B": "off"}


def test_a_unit_with_no_main_switch_does_not_open_its_loop() -> None:
    """It always sounds, its loop permitting, so the loop is a switch like any other."""
    units = {"tube": unit(switches={}), "switcher": SWITCHER}
    of = one_song(units, {"switcher": {"A": "on"}}, {}, units=on_port("switcher"), loops={"switcher": {"A": ["tube"]}})

    assert [stands(cue, "switcher")["A"] for cue in compiled(of)] == ["off", "on", "off"]


def test_a_switcher_that_takes_program_changes_alone_is_recalled_for_the_units_in_its_loops() -> None:
    """No scene names its preset: the one that has the right loops on is found, home's apart."""
    by_program = unit(
        switches={"A": {}, "B": {}},
        preset=[
            {"slot": str(n), "stores": {"A": a, "B": b}}
            for n, (a, b) in enumerate([("off", "off"), ("on", "off"), ("off", "on")])
        ],
    )
    inside = {"A": ["fuzz"], "B": ["wah"]}
    home, fuzz, wah, same = compiled(
        looped(
            inside,
            {"fuzz": "on"},
            {"wah": "on"},
            {"wah": "on"},
            switcher=by_program,
            home={"switcher": {"preset": "0"}},
        )
    )

    assert [sent(cue) for cue in (home, fuzz, wah, same)] == [["0: C0 00"], ["0: C0 01"], ["0: C0 02"], []]
    assert [cue.states[-1].named for cue in (home, fuzz, wah)] == [False] * 3


def test_a_preset_of_the_switcher_that_a_scene_names_says_what_its_loops_do() -> None:
    """Whoever names it means it."""
    switcher = SWITCHER.model_copy(
        update=dict(unit(preset=[{"slot": "3", "stores": {"A": "on", "B": "off"}}])) | {"switches": SWITCHER.switches}
    )
    _, cue = compiled(looped({"A": ["fuzz"]}, {"switcher": {"preset": "3"}}, switcher=switcher))

    assert stands(cue, "switcher") == {"preset": "3", "A": "on", "B": "off"}
    assert sent(cue) == ["0: C0 03"]


def test_the_switch_of_a_send_is_an_ordinary_member_of_its_holder() -> None:
    """It must be on as well as the unit's own switch, and nothing turns it on by itself."""
    multi = unit(switches={"main": {"message": {"controller": 80}}, "send": {"message": {"controller": 81}}})
    of = one_song(
        {"multi": multi, "fuzz": FOOT},
        {"fuzz": "on"},
        {"fuzz": "on", "multi": {"send": "on"}},
        units=on_port("multi"),
        sends={"multi": {"send": ["fuzz"]}},
    )
    _, shut, heard = compiled(of)

    assert shut.notes == ("fuzz is on but not heard: 'send' of 'multi' is off",)
    assert [[s.sounds for s in cue.states if s.unit == "fuzz"] for cue in (shut, heard)] == [[False], [True]]
    assert hands(shut) == ["press fuzz main off > on, before the first song"]
    assert sent(heard) == ["0: B0 51 7F"]


def test_a_switcher_that_is_out_leaves_its_units_to_their_own_switches() -> None:
    """The loop is gone, so a foot works them."""
    of = looped({"A": ["fuzz"]}, {"fuzz": "on"})
    without = library(dict(of.units), of.rigs["rig"], dict(of.songs), gig("song", out=["switcher"]))

    _, cue = compiled(without)

    assert [s.unit for s in cue.states] == ["fuzz"]
    assert hands(cue) == ["press fuzz main off > on, before the first song"]


def test_a_unit_left_alone_in_a_shared_loop_is_still_turned_on_by_itself() -> None:
    """Its own switch may be off, since the other one was on last: a loop that opens on it alone would be silent."""
    by_message = {name: unit(switches={"main": {"message": {"controller": 80}}}) for name in ("fuzz", "wah")}
    units = {**by_message, "switcher": SWITCHER}
    of = one_song(units, {"fuzz": "on"}, {}, {"wah": "on"}, loops={"switcher": {"A": ["fuzz", "wah"]}})
    left = library(dict(of.units), of.rigs["rig"], dict(of.songs), gig("song", out=["fuzz"]))

    home, fuzz, nothing, wah = compiled(left)
    assert [stands(cue, "wah")["main"] for cue in (home, fuzz, nothing, wah)] == ["off", "off", "off", "on"]
    assert [text.split(": ")[1] for text in sent(wah)] == ["B1 50 7F", "B2 01 7F"]
    assert {"B1 50 7F", "B2 01 7F"} <= {text.split(": ")[1] for text in sent(compiled(left, full=True)[3])}
    assert [state.sounds for state in wah.states if state.unit == "wah"] == [True]


def test_a_foot_turns_on_what_is_left_alone_in_a_shared_loop_once() -> None:
    """After that its loop alone is worked, for the unit is never off while the loop is on."""
    of = looped({"A": ["fuzz", "wah"]}, {"wah": "on"}, {}, {"wah": "on"})
    left = library(dict(of.units), of.rigs["rig"], dict(of.songs), gig("song", out=["fuzz"]))

    cues = compiled(left)

    assert [hands(cue) for cue in cues[1:]] == [["press wah main off > on, before the first song"], [], []]
    assert [bool(cue.messages) for cue in cues[1:]] == [True, True, True]
