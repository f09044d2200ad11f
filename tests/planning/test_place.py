"""Where in the chain a unit does least harm, by what its scenes break of common practice."""

from typing import Any

import pytest

from scenebook.cli.place_words import place_lines
from scenebook.errors import BadValueError
from scenebook.model import Library, Practice, Role, Unit
from scenebook.model.practice import Preference
from scenebook.planning.place import Broken, Placing, placing
from tests.demo_library.reading import demo_library
from tests.support.build import RIG, gig, library, rig, song, unit

PLAIN = {"bypass": "mechanical", "input": "mono", "output": "mono", "switches": {"main": {"foot": True}}}


def of_role(*roles: str, **said: Any) -> Unit:
    return unit(roles=roles, **{**PLAIN, **said})


UNITS = {
    "octave": of_role("octave"),
    "old fuzz": of_role("fuzz", input_kohm=12),
    "fuzz": of_role("fuzz", input_kohm=500),
    "buffer": of_role("utility", bypass="buffered"),
    "chorus": of_role("modulation"),
    "delay": of_role("delay"),
    "hall": of_role("reverb", output="stereo"),
    "looper": of_role("looper"),
    "multi": of_role(
        switches={
            "main": {"foot": True},
            "drive": {"foot": True, "section": "drive"},
            "reverb": {"foot": True, "section": "reverb"},
        }
    ),
}


def on(*names: str) -> dict[str, Any]:
    return {name: {"main": "on"} for name in names}


def small(chain: tuple[Any, ...], *form: str, **scenes: dict[str, Any]) -> Library:
    return library(UNITS, rig(*chain), song(scenes, *form), gig("song"))


def broken(found: Placing, at: int) -> list[tuple[str, str, int]]:
    return [(each.first, each.then, each.weight) for each in found.places[at].broken]


@pytest.mark.parametrize(
    ("first", "then"),
    [
        ("old fuzz", "buffer"),
        ("octave", "fuzz"),
        ("octave", "delay"),
        ("fuzz", "chorus"),
        ("fuzz", "hall"),
        ("chorus", "delay"),
        ("delay", "hall"),
        ("delay", "looper"),
    ],
)
def test_common_practice_puts_the_one_before_the_other(first: str, then: str) -> None:
    """Each row of the table, told from both ends."""
    of = small((first, then), "part", part=on(first, then))

    assert placing(of, RIG, first).best.weight == placing(of, RIG, then).best.weight == 0
    assert {(first, then)} <= {(each.first, each.then) for each in placing(of, RIG, first).places[1].broken}
    assert {(first, then)} <= {(each.first, each.then) for each in placing(of, RIG, then).places[0].broken}


def test_only_scenes_in_which_both_sound_count_as_often_as_they_are_played() -> None:
    """A unit that never meets another may stand on either side of it."""
    form = ("both", "one", "both", "both")
    of = small(("fuzz", "chorus", "delay"), *form, both=on("fuzz", "chorus"), one=on("chorus", "delay"))

    found = placing(of, RIG, "chorus")

    assert broken(found, 0) == [("fuzz", "chorus", 3)]
    assert broken(found, 1) == []
    assert broken(found, 2) == [("chorus", "delay", 1)]
    assert (found.weight, found.best) == (4, found.today)


def test_a_buffered_bypass_is_in_the_way_even_while_its_unit_is_off() -> None:
    """Off, it is still a buffer between the pickup and the fuzz."""
    of = small(("buffer", "old fuzz"), "part", part=on("old fuzz"))

    assert broken(placing(of, RIG, "old fuzz"), 1) == [("old fuzz", "buffer", 1)]


@pytest.mark.parametrize(("opened_by", "counts"), [("chorus", True), ("delay", False)])
def test_a_buffered_bypass_in_a_shared_loop_counts_while_the_loop_is_on(opened_by: str, counts: bool) -> None:
    """The loop is on for the chorus beside it, so the buffer is in the way though its unit is off."""
    units = {**UNITS, "switcher": unit(switches={"loop": {"foot": True}})}
    of_rig = rig("buffer", "chorus", "old fuzz", "delay", loops={"switcher": {"loop": ["buffer", "chorus"]}})
    of = library(units, of_rig, song({"part": on("old fuzz", opened_by)}, "part"), gig("song"))

    today = placing(of, RIG, "old fuzz").today

    assert today is not None
    assert any(each.then == "buffer" for each in today.broken) is counts


def test_a_fuzz_of_unknown_input_is_named_and_decides_nothing() -> None:
    """Whether a buffer hurts it nobody knows."""
    of = small(("buffer", "fuzz"), "part", part=on("fuzz"))
    blank = {**of.units, "fuzz": of_role("fuzz")}

    found = placing(of.model_copy(update={"units": blank}), RIG, "fuzz")

    assert found.not_noted == (("fuzz", "input impedance"),)
    assert {each.weight for each in found.places} == {0}


def test_sections_count_by_their_own_role_and_only_while_they_are_on() -> None:
    """A multi-effects is a drive in one scene and a reverb in another."""
    scenes = {
        "driven": {**on("chorus"), "multi": {"main": "on", "drive": "on"}},
        "wet": {**on("chorus"), "multi": {"main": "on", "reverb": "on"}},
    }
    found = placing(small(("chorus", "multi"), "driven", "wet", "wet", **scenes), RIG, "multi")

    assert broken(found, 0) == [("chorus", "multi reverb", 2)]
    assert broken(found, 1) == [("multi drive", "chorus", 1)]


def test_a_pair_of_places_lets_each_section_be_on_its_better_side() -> None:
    """With the chorus in its send and return the multi-effects drives before it and rings after it."""
    scenes = {
        "driven": {**on("chorus"), "multi": {"main": "on", "drive": "on"}},
        "wet": {**on("chorus"), "multi": {"main": "on", "reverb": "on"}},
    }
    of = small(("chorus", "multi"), "driven", "wet", "wet", **scenes)
    twice = of.model_copy(update={"rigs": {**of.rigs, "other": rig("multi", "chorus", "multi")}})
    found = placing(twice, RIG, "multi")

    assert found.best_pair is not None
    assert (found.best.weight, found.best_pair.weight) == (1, 0)
    assert [(spot.after, spot.before) for spot in found.best_pair.spots] == [("", "chorus"), ("chorus", "")]


def test_pairs_are_told_only_of_a_unit_that_has_a_send_and_return_in_some_rig() -> None:
    """Advice to use jacks that a unit does not have is no advice."""
    of = small(("chorus", "multi"), "wet", wet={**on("chorus"), "multi": {"main": "on", "reverb": "on"}})

    found = placing(of, RIG, "multi")

    assert (found.pairs, found.best_pair, found.send_unknown) == ((), None, True)
    assert any("No rig says that it has a send and return" in line for line in place_lines(found))


def test_a_unit_that_no_scene_turns_on_has_no_best_place() -> None:
    """Nothing is broken anywhere, so nothing is better; a buffered bypass may decide all the same."""
    silent = placing(small(("fuzz", "delay"), "part", part=on("fuzz")), RIG, "chorus")
    buffer = placing(small(("old fuzz", "delay"), "part", part=on("old fuzz")), RIG, "buffer")

    assert (silent.tells, buffer.tells) == (False, True)
    assert list(place_lines(silent)) == [
        "chorus on rig: heard in 0 scenes as played.",
        "No scene turns it on, so nothing says which place is better for it.",
    ]
    assert any(line.startswith("Best in one place: ") for line in place_lines(buffer))


def test_a_unit_that_is_not_in_the_rig_may_be_put_in() -> None:
    """It sounds where the scenes name it, though it stays at home today."""
    found = placing(small(("fuzz", "delay"), "part", part=on("fuzz", "chorus", "delay")), RIG, "chorus")

    assert found.today is None
    assert (found.best.spots[0].after, found.best.spots[0].before) == ("fuzz", "delay")


def test_paths_that_run_side_by_side_have_no_order_and_are_no_way_out() -> None:
    """A delay beside the reverb breaks nothing, but the other path would go without it."""
    chain = ("fuzz", {"parallel": [["hall"], []]})
    found = placing(small(chain, "part", part=on("fuzz", "delay", "hall")), RIG, "delay")

    beside = next(place for place in found.places if place.spots[0].path == 1)
    assert beside.weight == 0
    assert found.best.spots[0].path is None
    assert (found.best.spots[0].after, found.best.weight) == ("fuzz", 0)


def test_of_equal_places_todays_is_the_best_then_the_nearest() -> None:
    """Nobody unscrews a unit for nothing."""
    of = small(("buffer", "chorus", "looper", "delay"), "part", part=on("chorus"))

    assert placing(of, RIG, "chorus").best == placing(of, RIG, "chorus").today


def test_of_equal_places_of_a_unit_that_stands_nowhere_the_usual_one_is_the_best() -> None:
    """Nothing else is heard with it, and common practice has a place for it all the same."""
    found = placing(small(("fuzz", "looper", "delay"), "part", part=on("chorus")), RIG, "chorus")

    assert {place.weight for place in found.places} == {0}
    assert (found.best.spots[0].after, found.best.spots[0].before) == ("fuzz", "looper")


def test_a_library_may_have_preferences_of_its_own() -> None:
    """Drive after delay is somebody's whole sound."""
    of = small(("fuzz", "delay"), "part", part=on("fuzz", "delay"))
    practice = Practice(order=(Preference(first=Role.DELAY, then=Role.FUZZ, reason="it is our sound"),))
    of = of.model_copy(update={"settings": of.settings.model_copy(update={"practice": practice})})

    found = placing(of, RIG, "delay")

    assert found.today is not None
    assert found.today.broken == (Broken("delay", "fuzz", "it is our sound", 1),)
    assert (found.best.spots[0].before, found.best.weight) == ("fuzz", 0)


def test_a_chain_with_nothing_else_in_it_is_refused() -> None:
    """There is no place to compare."""
    with pytest.raises(BadValueError, match="nothing in the chain beside 'fuzz'"):
        placing(small(("fuzz",), "part", part=on("fuzz")), RIG, "fuzz")


def test_a_switcher_has_no_place_in_the_signal_whether_it_holds_loops_yet_or_not() -> None:
    """It would be called well placed anywhere, since nothing of it is heard."""
    demo = demo_library()
    bare = demo.model_copy(update={"rigs": {"bare": rig("drive, soft", "loop switcher")}})

    for library_of, name in ((demo, "hall board"), (bare, "bare")):
        with pytest.raises(BadValueError, match="'loop switcher' holds loops beside the chain"):
            placing(library_of, name, "loop switcher")


def test_the_octave_of_the_demo_board_stands_where_it_should() -> None:
    """It follows clean notes, so it comes before fuzz and drive."""
    found = placing(demo_library(), "hall board", "octave down")

    assert found.today is not None
    assert (found.today.weight, found.best) == (0, found.today)


def of_direct_box(chain: tuple[Any, ...], *names: str) -> Library:
    units = {**UNITS, "box": of_role("preamp", "utility", switches={"ground lift": {"hand": True}})}
    return library(units, rig(*chain), song({"part": on(*names)}, "part"), gig("song"))


def test_a_direct_box_that_ends_the_chain_is_a_line_out_and_no_fault_of_order() -> None:
    """It goes to the desk by one line whatever stands before it; in the middle of the chain it would cost one side."""
    found = placing(of_direct_box(("fuzz", "hall", "looper", "box"), "hall", "looper"), RIG, "box")

    assert found.line_out == "box"
    assert [place.weight for place in found.places] == [0, 0, 1, 0]
    assert (found.best, found.best.weight) == (found.today, 0)


def test_a_direct_box_that_is_not_there_yet_goes_to_the_end() -> None:
    """In front of everything it would break as little, and nobody puts it there."""
    found = placing(of_direct_box(("fuzz", "chorus", "delay"), "fuzz", "chorus", "box"), RIG, "box")

    assert (found.today, {place.weight for place in found.places}) == (None, {0})
    assert (found.best.spots[0].after, found.best.spots[0].before) == ("delay", "")
    assert "Best in one place: between delay and the amplifier; breaks no preference." in list(place_lines(found))


def test_what_is_stereo_is_not_told_to_go_behind_the_line_out() -> None:
    """The end of the chain takes one side of it, and there is nothing behind the end."""
    found = placing(of_direct_box(("fuzz", "hall", "delay", "box"), "fuzz", "hall", "delay"), RIG, "hall")

    assert found.line_out == "box"
    assert [place.weight for place in found.places] == [4, 2, 0, 0]
    assert (found.best.spots[0].after, found.best.spots[0].before) == ("delay", "box")


def test_a_mono_effect_at_the_end_is_a_fault_all_the_same() -> None:
    """A delay in mono behind the hall loses one side that a change of places would keep."""
    found = placing(small(("hall", "delay"), "part", part=on("hall", "delay")), RIG, "hall")

    assert found.line_out == ""
    assert found.places[0].weight == 2
    assert found.best.spots[0].after == "delay"


def test_no_place_between_two_loops_of_a_switcher_is_the_best() -> None:
    """No lead could be plugged there; where another unit stands so, this one has nothing to mend."""
    scenes = {"x": on("fuzz", "octave", "chorus"), "y": on("fuzz", "octave")}
    loops = {"switcher": {"one": ["fuzz"], "two": ["chorus"]}}
    units = {**UNITS, "switcher": unit(roles=["utility"], switches={"one": {"foot": True}, "two": {"foot": True}})}
    bad = library(units, rig("fuzz", "octave", "chorus", "delay", loops=loops), song(scenes, "x", "y"), gig("song"))
    good = bad.model_copy(update={"rigs": {RIG: rig("octave", "fuzz", "chorus", "delay", loops=loops)}})

    found = placing(good, RIG, "delay")
    printed = "\n".join(place_lines(placing(bad, RIG, "octave")))

    assert [(spot.after, spot.before) for spot in found.unwired] == [("fuzz", "chorus")]
    assert placing(bad, RIG, "delay").unwired == ()
    assert "Best in one place: between the instrument and fuzz" in printed
    assert "between fuzz and chorus  ▲ ← today" in printed
    assert "▲: nothing can be plugged in between two loops of a switcher" in printed
