"""The chain of a chosen rig: as few order preferences broken as can be."""

from itertools import permutations
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenebook.cueing.compile import compile_gig
from scenebook.model import Library, Practice, Rig, Role, Unit
from scenebook.model.practice import Preference
from scenebook.planning.kinds import parts_of
from scenebook.planning.losses import Losses
from scenebook.planning.naming import rig_of
from scenebook.planning.place import placing
from scenebook.planning.reach import reach
from tests.demo_library.reading import demo_library
from tests.support.build import RIG, gig, library, rig, song, unit

ROLES = st.lists(st.sampled_from([str(role) for role in Role]), max_size=3, unique=True)
UNITS = st.lists(
    st.builds(
        unit,
        roles=ROLES,
        bypass=st.sampled_from(["buffered", "mechanical", None]),
        input_kohm=st.sampled_from([5, 1000, None]),
        input=st.just("mono"),
        output=st.sampled_from(["mono", "stereo"]),
    ),
    min_size=1,
    max_size=6,
)


def broken(order: tuple[str, ...], units: dict[str, Unit]) -> int:
    """Count the preferences that an order breaks, pair by pair."""
    practice = Practice()
    kinds = {name: {part.kind for part in parts_of(name, each, practice)} for name, each in units.items()}

    def against(each: Preference, one: str, other: str) -> bool:
        return each.then in kinds[one] and each.first in kinds[other]

    pairs = [(one, other) for at, one in enumerate(order) for other in order[at + 1 :]]
    return sum(against(each, *pair) for each in practice.order for pair in pairs)


@settings(max_examples=60, deadline=None)
@given(UNITS)
def test_no_other_chain_of_a_few_units_breaks_less(units: list[Unit]) -> None:
    """Every order is tried."""
    named = {f"unit {number}": each for number, each in enumerate(units)}

    chain = tuple(str(link) for link in rig_of(Library(units=named), list(named)).chain)

    assert broken(chain, named) == min(broken(order, named) for order in permutations(named))


def test_a_switcher_stands_beside_the_chain_with_its_own_channel() -> None:
    """In the signal it would do nothing: what it switches hangs in its loops."""
    chosen = rig_of(demo_library(), ["loop switcher", "drive, soft", "delay, tape voiced"])

    assert chosen.chain == ("drive, soft", "delay, tape voiced")
    assert chosen.carried[-1] == "loop switcher"
    assert [chosen.units[name].channel for name in ("delay, tape voiced", "loop switcher")] == [1, 2]


def test_a_tuner_goes_early_and_volume_before_what_repeats() -> None:
    """By common practice, whatever order the units are named in."""
    names = ["reverb, plate", "delay, digital", "drive, soft", "volume pedal", "octave down", "tuner, stage"]

    chain = [str(link) for link in rig_of(demo_library(), names).chain]

    assert chain[0] == "tuner, stage"
    assert chain.index("volume pedal") < min(chain.index("delay, digital"), chain.index("reverb, plate"))


def test_units_that_no_preference_parts_stay_as_they_are_named() -> None:
    """The library's order is as good as any."""
    named = {name: unit(roles=["filter"]) for name in ("b", "a", "c")}

    assert rig_of(Library(units=named), ["b", "a", "c"]).chain == ("b", "a", "c")


def condemned(of: Library, chosen: Rig) -> dict[str, tuple[int, int]]:
    """Return each unit of a chain that `place` would move, with how often it breaks a preference here and there."""
    there = of.model_copy(update={"rigs": {**of.rigs, "chosen": chosen}})
    found = {str(name): placing(there, "chosen", str(name)) for name in chosen.chain}
    today = {name: each.today.weight for name, each in found.items() if each.today}
    return {name: (today[name], each.best.weight) for name, each in found.items() if each.best.weight < today[name]}


@pytest.mark.parametrize("first", range(0, 24, 4))
@pytest.mark.parametrize("count", [7, 16])
def test_no_unit_of_a_chosen_chain_would_break_less_elsewhere(first: int, count: int) -> None:
    """What `rig choose` stores, `rig place` does not condemn: of few units and of many, which are moved one by one."""
    of = demo_library()
    able = [name for name, each in of.units.items() if not each.outlets and name != "loop switcher"]
    names = (able * 2)[first : first + count]

    assert condemned(of, rig_of(of, names)) == {}


def multi(*sections: str) -> Unit:
    return unit(switches={each: {"foot": True, "section": each} for each in sections})


def test_a_multi_effects_stands_where_its_scenes_break_least() -> None:
    """It could be a fuzz, so by practice alone it goes before the chorus; but four scenes ask a delay of it."""
    units: dict[str, Any] = {
        "multi": multi("fuzz", "drive", "delay"),
        "chorus": unit(roles=["modulation"], switches={"main": {"foot": True}}),
    }
    scenes = {"wet": {"chorus": {"main": "on"}, "multi": {"delay": "on"}}}
    of = library(units, rig("multi", "chorus"), song(scenes, *["wet"] * 4), gig("song"))

    chosen = rig_of(of, ["multi", "chorus"])

    assert condemned(of, of.rigs[RIG]) == {"multi": (4, 0), "chorus": (4, 0)}
    assert chosen.chain == ("chorus", "multi")


def test_between_orders_that_break_as_little_the_wall_decides() -> None:
    """The fuzz stands first there, before the compressor, and no scene has both; a smaller board says otherwise."""
    units = {name: unit(roles=[name], switches={"main": {"foot": True}}) for name in ("dynamics", "fuzz", "filter")}
    scenes = {name: {name: {"main": "on"}} for name in units}
    rigs = {"wall": rig("fuzz", "filter", "dynamics"), "board": rig("dynamics", "fuzz")}
    of = library(units, rigs["wall"], song(scenes, *units), gig("song")).model_copy(update={"rigs": rigs})

    assert rig_of(of, ["dynamics", "fuzz"]).chain == ("fuzz", "dynamics")
    assert rig_of(of.model_copy(update={"rigs": {}}), ["fuzz", "dynamics"]).chain == ("dynamics", "fuzz")


def test_what_hands_the_signal_on_may_end_the_chain_behind_what_is_stereo() -> None:
    """A direct box takes one side of the hall; on the wall it comes last, and that is no fault."""
    units = {
        "hall": unit(roles=["reverb"], output="stereo", switches={"main": {"foot": True}}),
        "direct box": unit(roles=["utility"], input="mono", output="mono"),
    }
    of = library(units, rig("hall", "direct box"), song({"on": {"hall": {"main": "on"}}}, "on"), gig("song"))

    assert rig_of(of, ["direct box", "hall"]).chain == ("hall", "direct box")


def test_if_a_unit_of_a_chosen_rig_dies_another_that_is_carried_stands_in() -> None:
    """The smaller rig says how, for there the fuzz stays at home; half of the scene is lost, and not all of it."""
    units = {name: unit(switches={"main": {"foot": True}}) for name in ("fuzz", "multi")}
    as_fuzz = {"part": "fuzz", "by": "multi", "switch": "main", "likeness": 0.5}
    of = library(units, rig("multi", stand_ins=[as_fuzz]), song({"on": {"fuzz": "on"}}), gig("song"))
    there = of.model_copy(update={"rigs": {**of.rigs, "chosen": rig_of(of, ["fuzz", "multi"])}})

    lost = {each.name: each.lost for each in Losses(there, "chosen").single()}

    assert lost == {"fuzz": 0.5, "multi": 0.0}
    assert rig_of(of, ["fuzz"]).stand_ins == ()


def test_stand_ins_for_what_is_carried_change_nothing_while_it_is_there() -> None:
    """Neither what the rig reaches nor any cue: nobody plays the part of a unit that sounds itself."""
    of = demo_library()
    chosen = rig_of(of, of.rigs["hall board"].carried)
    few = tuple(each for each in chosen.stand_ins if each.part not in chosen.carried)
    many, fewer = (
        of.model_copy(update={"rigs": {**of.rigs, "chosen": each}})
        for each in (chosen, chosen.model_copy(update={"stand_ins": few}))
    )
    whole = [name for name, each in of.gigs.items() if not each.out and not each.played_by]

    assert len(few) < len(chosen.stand_ins)
    assert whole
    assert reach(many, "chosen", tonight=False) == reach(fewer, "chosen", tonight=False)
    assert [compile_gig(many, name, "chosen") for name in whole] == [
        compile_gig(fewer, name, "chosen") for name in whole
    ]
