"""Which units belong in a switcher's loops, against trying every choice."""

from collections.abc import Iterator, Mapping
from itertools import combinations
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.points import gig_points
from scenebook.errors import BadValueError
from scenebook.model import Library, Role
from scenebook.planning.loop_rigs import loop_switches, with_loops
from scenebook.planning.signal_path import Link, signal_path, tangles
from scenebook.planning.switcher import switching
from scenebook.planning.work import foot_presses
from tests.demo_library.reading import demo_library
from tests.support.build import GIG, RIG, gig, library, rig, song, unit

FOOT = unit(switches={"main": {"foot": True}})
HEARS = unit(switches={"main": {"message": {"controller": 20}}})
NAMES = ("a", "b", "c", "d")


def switcher_of(count: int, *, foot: bool = False) -> Any:
    """Return a switcher whose loops are worked by message, or by foot."""
    way = {"foot": True} if foot else None
    return unit(
        switches={f"loop {n}": way or {"message": {"controller": 80 + n}} for n in range(1, count + 1)},
    )


def board(
    loops: int, scenes: Mapping[str, tuple[str, ...]], *form: str, today: Mapping[str, Any] | None = None, **said: Any
) -> Library:
    """Return four units that a foot works and a switcher; a scene names what is on."""
    units = {**dict.fromkeys(NAMES, FOOT), "hears": HEARS, "switcher": switcher_of(loops, **said)}
    parts = {name: {each: {"main": "on"} for each in on} for name, on in scenes.items()}
    held = {"loop 1": ["a"]} if today is None else today
    places = {"switcher": {"port": "front", "channel": 1}, "hears": {"port": "front", "channel": 2}}
    of = rig(*NAMES, "hears", units=places, loops={"switcher": held})
    return library(units, of, song(parts, *form), gig("song"))


def inside(of: Library, loops: Mapping[str, Any]) -> int:
    """Count presses inside songs from the compiled cues, independently of what is tested."""
    said = of.rigs[RIG].model_dump(exclude_unset=True)
    changed = of.model_copy(
        update={"rigs": {RIG: type(of.rigs[RIG]).model_validate({**said, "loops": {"switcher": loops}})}}
    )
    cues = compile_gig(changed, GIG, RIG).cues[1:]
    points = gig_points(changed, changed.gigs[GIG])
    return sum(foot_presses(cue.by_hand, of.units) for point, cue in zip(points, cues, strict=True) if not point.afresh)


def every_choice(count: int) -> Iterator[dict[str, list[str]]]:
    """Yield every way to put stretches of the chain into the loops, none overlapping and nothing between two."""
    stretches = [NAMES[a:b] for a in range(4) for b in range(a + 1, 5)]
    for size in range(count + 1):
        for chosen in combinations(stretches, size):
            names = sorted({name for each in chosen for name in each})
            if "".join(names) in "".join(NAMES) and len(names) == sum(len(each) for each in chosen):
                yield {f"loop {n}": list(each) for n, each in enumerate(chosen, 1)}


def test_the_unit_that_is_pressed_most_gets_the_loop() -> None:
    """One loop, and b goes on and off all song long."""
    of = board(1, {"x": ("b",), "y": ("a",), "z": ()}, "z", "x", "z", "x", "y")

    found = switching(of, RIG)

    assert found.best == {"loop 1": ("b",)}
    assert (found.now.inside, found.then.inside) == (inside(of, {"loop 1": ["a"]}), inside(of, {"loop 1": ["b"]}))
    assert found.proved


def test_neighbours_that_move_together_share_a_loop_only_if_that_saves() -> None:
    """Both on or both off: left on in one loop, neither is pressed; with two loops each has its own."""
    scenes, form = {"x": ("a", "b"), "z": ()}, ("z", "x", "z", "x")

    assert switching(board(1, scenes, *form), RIG).best == {"loop 1": ("a", "b")}
    assert switching(board(2, scenes, *form), RIG).best == {"loop 1": ("a",), "loop 2": ("b",)}


def test_loops_stay_as_they_are_where_nothing_saves() -> None:
    """What is in a loop today stays in it, in its own."""
    of = board(2, {"x": ("a",), "z": ()}, "z", "x", "z", today={"loop 2": ["a"]})

    found = switching(of, RIG)

    assert found.best == found.today == {"loop 2": ("a",)}
    assert found.without is not None
    assert (found.without.inside, found.now.inside) == (2, 0)


def test_what_a_message_works_is_not_put_into_a_loop() -> None:
    """No foot works it, so a loop would be wasted on it."""
    of = board(1, {"x": ("hears",), "z": ()}, "z", "x", "z", "x")

    assert "hears" not in {name for each in switching(of, RIG).savings for name in each.units}


def test_scenes_that_speak_of_a_loop_are_named() -> None:
    """What is in that loop would no longer be what they meant."""
    of = board(1, {"x": ("a",)}, "x")
    spoken = song({"x": {"switcher": {"loop 1": "on"}}}, "x")

    assert switching(of.model_copy(update={"songs": {"song": spoken}}), RIG).named == ("song, x",)


def test_what_is_pressed_most_gets_the_switch_that_a_message_works() -> None:
    """One loop hears messages, one wants a foot; in the foot's nothing is saved on b."""
    units = {
        "a": FOOT,
        "b": FOOT,
        "switcher": unit(switches={"one": {"foot": True}, "two": {"message": {"controller": 80}}}),
    }
    of_rig = rig("a", "b", loops={"switcher": {"two": ["a"]}}, units={"switcher": {"port": "front", "channel": 1}})
    scenes = {"x": {"a": "on"}, "y": {"b": "on"}, "z": {}}
    of = library(units, of_rig, song(scenes, "z", "y", "z", "y", "z", "y", "x", "y"), gig("song"))

    found = switching(of, RIG)

    assert found.best == {"two": ("b",)}
    assert found.then.inside == inside(of, {"two": ["b"]}) < found.now.inside
    assert found.proved


def test_a_unit_that_only_its_loop_switches_stays_in_a_loop() -> None:
    """Without the loop nothing works the bare fuzz, so nothing is counted without it; its neighbour may join it."""
    units = {"fuzz": unit(switches={"main": {}}), "delay": FOOT, "switcher": switcher_of(1)}
    of_rig = rig(
        "fuzz", "delay", loops={"switcher": {"loop 1": ["fuzz"]}}, units={"switcher": {"port": "front", "channel": 1}}
    )
    both = {"x": {"fuzz": "on", "delay": "on"}, "z": {}}
    of = library(units, of_rig, song(both, "z", "x", "z", "x"), gig("song"))

    found = switching(of, RIG)

    assert (found.stuck, found.without) == (("fuzz",), None)
    assert found.now.inside == 3
    assert "fuzz" in found.best["loop 1"]
    assert found.then.inside == inside(of, {name: list(each) for name, each in found.best.items()})


def test_stopped_early_it_keeps_the_best_of_what_was_measured() -> None:
    """After one loop it is told to stop."""
    of = board(1, {"x": ("b",), "y": ("a",), "z": ()}, "z", "x", "z", "x", "y")

    found = switching(of, RIG, watch=lambda done, of, least: done < 1)

    assert (found.tried, found.proved) == (1, False)
    assert found.then.inside <= found.now.inside


def test_stopped_before_any_loop_was_tried_nothing_is_proved() -> None:
    """The loops of two bare fuzzes hang together only by that of the unit between them, and that was not tried."""
    bare = unit(switches={"main": {}})
    held = {"loop 1": ["fuzz"], "loop 2": ["a"], "loop 3": ["other"]}
    of_rig = rig("fuzz", "a", "other", loops={"switcher": held}, units={"switcher": {"port": "front", "channel": 1}})
    units = {"fuzz": bare, "a": FOOT, "other": bare, "switcher": switcher_of(3)}
    of = library(units, of_rig, song({"x": {"fuzz": "on"}, "z": {}}, "z", "x"), gig("song"))

    found = switching(of, RIG, watch=lambda done, of, least: False)

    assert (found.best, found.tried, found.proved) == (found.today, 0, False)


def test_in_which_order_a_player_wrote_the_units_of_a_loop_is_no_matter() -> None:
    """The signal takes them as they stand in the chain, and the drive behind them gets a loop as well."""
    units = {**dict.fromkeys(("tuner", "meter"), unit(switches={})), "a": FOOT, "switcher": switcher_of(2)}
    places = {"switcher": {"port": "front", "channel": 1}}

    for written in (["tuner", "meter"], ["meter", "tuner"]):
        of_rig = rig("tuner", "meter", "a", loops={"switcher": {"loop 1": written}}, units=places)
        found = switching(library(units, of_rig, song({"x": {"a": "on"}, "z": {}}, "z", "x", "z")), RIG)
        assert found.best == {"loop 1": ("tuner", "meter"), "loop 2": ("a",)}


def test_a_rig_without_a_switcher_is_refused() -> None:
    """And so is a unit that is none there."""
    of = board(1, {"x": ("a",)}, "x")
    bare = of.model_copy(update={"rigs": {RIG: rig(*NAMES)}})

    with pytest.raises(BadValueError, match="no unit of it has loops"):
        switching(bare, RIG)
    with pytest.raises(BadValueError, match="'a' holds no loops there; accepted: 'switcher'"):
        switching(of, RIG, "a")


_ONE_AT_A_TIME = {"f": ("fuzz",), "a": ("a",), "b": ("b",), "z": ()}


def with_a_tuner(
    loops: int,
    *form: str,
    tuner: Any = None,
    stuck: bool = False,
    scenes: Mapping[str, tuple[str, ...]] = _ONE_AT_A_TIME,
) -> Library:
    """Return a fuzz, a tuner that a foot mutes, and two drives, all worked by feet."""
    bare = unit(switches={"main": {}})
    units = {
        "fuzz": bare if stuck else FOOT,
        "tuner": tuner or unit(switches={"mute": {"foot": True}}),
        **{"a": FOOT, "b": FOOT, "switcher": switcher_of(loops)},
    }
    places = {"switcher": {"port": "front", "channel": 1}, "tuner": {"port": "front", "channel": 2}}
    held = {"loop 1": ["fuzz"]} if stuck else {}
    of_rig = rig("fuzz", "tuner", "a", "b", loops={"switcher": held}, units=places)
    parts = {name: {each: {"main": "on"} for each in on} for name, on in scenes.items()}
    return library(units, of_rig, song(parts, *form), gig("song"))


def cut(of: Library, found: Any) -> set[Link]:
    """Return the leads of the best loops, wired."""
    wired = with_loops(of.rigs[RIG], "switcher", found.best, found.stay_on)
    assert not tangles(wired)
    return set(signal_path(wired).links)


def test_what_is_in_no_loop_never_stands_between_two_loops() -> None:
    """The switcher has one in and one out: a fuzz, the tuner behind it and two drives cannot all be had with three."""
    of = with_a_tuner(3, "z", "f", "z", "a", "z", "b", "z", "a", "b")

    found = switching(of, RIG)

    ends = [jack for link in cut(of, found) for jack in link.ends if jack.unit == "switcher"]
    assert len(ends) == len(set(ends))
    assert found.best == {"loop 1": ("a",), "loop 2": ("b",)}
    assert (found.in_the_way, found.wished) == (("tuner",), 2)
    assert found.then.inside == inside(of, {"loop 1": ["a"], "loop 2": ["b"]}) == 2
    assert found.proved


def test_a_tuner_between_two_loops_gets_one_that_stays_on_where_there_is_one_to_spare() -> None:
    """Four loops are enough; the tuner's is on at home, so that no scene takes it out of the way."""
    of = with_a_tuner(4, "z", "f", "z", "a", "z", "b", "z", "a", "b")

    found = switching(of, RIG)

    assert found.best == {"loop 1": ("fuzz",), "loop 2": ("tuner",), "loop 3": ("a",), "loop 4": ("b",)}
    assert found.stay_on == ("loop 2",)
    assert (found.then.inside, found.in_the_way, found.wished) == (0, (), 0)
    assert cut(of, found)
    wired = with_loops(of.rigs[RIG], "switcher", found.best, found.stay_on)
    assert wired.home == {"switcher": {"loop 2": "on"}}


def test_a_unit_that_messages_work_may_have_a_loop_between_two_others() -> None:
    """Messages then work its loop, and feet have nothing to do."""
    of = with_a_tuner(4, "z", "f", "z", "a", "z", "b", tuner=HEARS)

    found = switching(of, RIG)

    assert found.best == {"loop 1": ("fuzz",), "loop 2": ("tuner",), "loop 3": ("a",), "loop 4": ("b",)}
    assert (found.stay_on, found.then.inside) == ((), 0)


def test_what_is_stuck_in_its_loop_is_wired_with_the_others() -> None:
    """Only its loop turns the fuzz on, so the drives behind the tuner get no loops unless the tuner has one."""
    form = ("z", "f", "z", "a", "z", "b", "z", "a", "b")

    assert switching(with_a_tuner(2, *form, stuck=True), RIG).best == {"loop 1": ("fuzz",)}
    assert switching(with_a_tuner(3, *form, stuck=True), RIG).best == {
        **{"loop 1": ("fuzz",), "loop 2": ("tuner",), "loop 3": ("a",)}
    }


def test_loops_of_today_that_cannot_be_wired_are_no_answer() -> None:
    """They press less than anything that can be plugged, and are left all the same; why is said."""
    of = with_a_tuner(2, "z", "f", "z", "a", "z", "f", "a")
    today = {"loop 1": ["fuzz"], "loop 2": ["a"]}
    said = of.rigs[RIG].model_dump(exclude_unset=True)
    bad = of.model_copy(
        update={"rigs": {RIG: type(of.rigs[RIG]).model_validate({**said, "loops": {"switcher": today}})}}
    )

    found = switching(bad, RIG)

    assert "'tuner' stands between two of its loops and in none" in found.tangled
    assert found.now.inside == 0 < found.then.inside
    assert cut(bad, found)


def test_loops_follow_each_other_as_their_switches_do_where_they_can() -> None:
    """In many switchers the order of the loops is fixed: b is in loop 1 today, and makes room for a before it."""
    scenes, form = {"x": ("a",), "y": ("b",), "z": ()}, ("z", "x", "z", "y", "z", "x")

    found = switching(board(2, scenes, *form, today={"loop 1": ["b"]}), RIG)

    assert found.best == {"loop 1": ("a",), "loop 2": ("b",)}
    assert not found.out_of_order
    assert switching(board(2, scenes, *form, today={"loop 1": ["b"], "loop 2": ["a"]}), RIG).out_of_order


@pytest.mark.parametrize("in_chain", [True, False])
def test_a_switcher_that_holds_no_loops_yet_is_filled_from_nothing(in_chain: bool) -> None:
    """A rig that was just chosen has its switcher, and the question is which unit belongs in which loop."""
    loops = board(2, {"x": ("b",), "y": ("a", "d"), "z": ()}, "z", "x", "z", "y", "z", "x", today={})
    places = loops.rigs[RIG].units
    chain = ("a", "b", "switcher", "c", "d", "hears") if in_chain else (*NAMES, "hears")
    bare = loops.model_copy(update={"rigs": {RIG: rig(*chain, units=places)}, "units": _with_utility(loops)})

    found = switching(bare, RIG)

    assert found.today == {}
    assert found.in_chain is in_chain
    assert found.now.inside == inside(loops, {})
    assert found.then.inside == min(inside(loops, choice) for choice in every_choice(2))
    assert found.then.inside == inside(loops, {name: list(units) for name, units in found.best.items()})
    wired = with_loops(bare.rigs[RIG], "switcher", found.best)
    assert wired.chain == (*NAMES, "hears")
    assert wired.units == bare.rigs[RIG].units
    assert wired.loops == {"switcher": found.best}


def test_what_is_a_switcher_is_told_by_its_role_and_its_switches() -> None:
    """A utility that may be anything, such as a mute, is none unless the player says so."""
    of = board(2, {"x": ("a",), "z": ()}, "z", "x")
    units = {**_with_utility(of), "mute": unit(roles=["utility"], switches={"b": {"message": {"controller": 9}}})}
    bare = of.model_copy(
        update={"rigs": {RIG: rig(*NAMES, "mute", units={"mute": {"port": "front", "channel": 1}})}, "units": units}
    )

    assert loop_switches(units["switcher"]) == ("loop 1", "loop 2")
    assert loop_switches(units["mute"]) == loop_switches(FOOT) == ()
    assert switching(bare, RIG, "mute").best == {"b": ("a",)}
    with pytest.raises(BadValueError, match="none is a switcher"):
        switching(bare, RIG)


def _with_utility(of: Library) -> dict[str, Any]:
    return {**of.units, "switcher": of.units["switcher"].model_copy(update={"roles": (Role.UTILITY,)})}


_SCENES = st.lists(st.sets(st.sampled_from(NAMES)).map(lambda on: tuple(sorted(on))), min_size=2, max_size=4)


@settings(max_examples=30, deadline=None)
@given(_SCENES, st.lists(st.integers(0, 3), min_size=2, max_size=7), st.integers(1, 3), st.booleans())
def test_no_other_choice_of_loops_that_can_be_wired_presses_less(
    scenes: list[tuple[str, ...]], order: list[int], loops: int, foot: bool
) -> None:
    """Every choice of stretches is compiled, and none beats the one that was found."""
    parts = {f"scene {n}": on for n, on in enumerate(scenes)}
    of = board(loops, parts, *(f"scene {n % len(scenes)}" for n in order), foot=foot)

    found = switching(of, RIG)

    assert found.then.inside == min(inside(of, choice) for choice in every_choice(loops))
    assert found.then.inside == inside(of, {name: list(units) for name, units in found.best.items()})
    assert found.proved


_WITH_A_TUNER = (
    *([["fuzz"]], [["a"]], [["b"]], [["a", "b"]], [["a"], ["b"]], [["fuzz"], ["tuner"], ["a"]]),
    *([["fuzz"], ["tuner"], ["a", "b"]], [["fuzz"], ["tuner"], ["a"], ["b"]]),
)
"""All that can be wired with a tuner behind the fuzz, but for loops that nothing is gained by."""


@settings(max_examples=20, deadline=None)
@given(
    st.lists(st.sets(st.sampled_from(("fuzz", "a", "b"))).map(lambda on: tuple(sorted(on))), min_size=2, max_size=4),
    st.lists(st.integers(0, 3), min_size=2, max_size=7),
    st.integers(1, 4),
)
def test_with_a_tuner_between_no_other_choice_that_can_be_wired_presses_less(
    scenes: list[tuple[str, ...]], order: list[int], loops: int
) -> None:
    """Every choice that can be plugged is compiled."""
    parts = {f"scene {n}": on for n, on in enumerate(scenes)}
    of = with_a_tuner(loops, *(f"scene {n % len(scenes)}" for n in order), scenes=parts)
    able = [{}, *({f"loop {n}": each for n, each in enumerate(c, 1)} for c in _WITH_A_TUNER if len(c) <= loops)]

    found = switching(of, RIG)

    assert found.then.inside == min(inside(of, choice) for choice in able)
    assert not tangles(with_loops(of.rigs[RIG], "switcher", found.best))


def test_the_demo_boards_get_their_loops() -> None:
    """They can be wired and are as good as any."""
    library = demo_library()

    for name in ("hall board", "studio wall"):
        found = switching(library, name)
        assert found.best == found.today
        assert not found.tangled
        assert found.without is not None
        assert found.now.inside < found.without.inside


def test_no_rig_of_the_demo_has_a_switcher_that_cannot_be_wired() -> None:
    """Nothing stands between its loops."""
    assert [tangles(rig) for rig in demo_library().rigs.values() if tangles(rig)] == []
