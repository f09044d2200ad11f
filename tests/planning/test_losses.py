"""What a unit would add or gives, and what every single loss costs."""

from typing import Any

import pytest

from scenebook.model import Library
from scenebook.planning.joins import Join, Lines
from scenebook.planning.losses import Changed, Loss, Losses, LossKind
from scenebook.planning.power import power
from scenebook.planning.reach import Outcome, reach
from scenebook.storage.folder import read_folder
from tests.demo_library.reading import DEMO
from tests.support.build import GIG, RIG, gig, library, rig, song, unit

FOOT: dict[str, Any] = {"switches": {"main": {"foot": True}}}
DC = {"volts": "9", "ma": 20}
UNITS = {
    "fuzz": unit(**FOOT, supply=DC),
    "wah": unit(**FOOT, supply={"volts": "none"}),
    "multi": unit(**FOOT, supply={**DC, "own": True}),
    "chorus": unit(switches={"main": {"message": {"controller": 80}}}, supply=DC),
    "dear": unit(**FOOT, owned=False, weight_g=100),
    "light": unit(**FOOT, weight_g=100),
    "heavy": unit(**FOOT, weight_g=900),
}
MULTI_AS_FUZZ = {"part": "fuzz", "by": "multi", "switch": "main", "likeness": 0.5}
FIRST = {
    "fuzz": {"fuzz": "on"},
    "both": {"fuzz": "on", "wah": "on"},
    "wet": {"chorus": "on"},
}


def losses(*chain: str, scenes: dict[str, Any] | None = None, **of_rig: Any) -> Losses:
    return Losses(board(*chain, scenes=scenes, **of_rig), RIG)


def board(*chain: str, scenes: dict[str, Any] | None = None, **of_rig: Any) -> Library:
    return library(UNITS, rig(*chain, **of_rig), song(scenes or FIRST), gig("song"))


def lost(of: Losses, kind: LossKind, name: str) -> Loss:
    return next(each for each in of.single() if (each.kind, each.name) == (kind, name))


def test_the_unit_that_adds_most_comes_first_and_brings_the_stand_ins_of_every_rig() -> None:
    """The fuzz whole, the multi by half; the multi's entry stands in another rig."""
    of = board("chorus", units={"chorus": {"port": "p", "channel": 1}})
    of = of.model_copy(update={"rigs": {**of.rigs, "other": rig("multi", stand_ins=[MULTI_AS_FUZZ])}})

    found = {each.unit: each.worth for each in Losses(of, RIG).additions()}

    assert list(found)[:2] == ["fuzz", "multi"]
    assert (found["fuzz"], found["multi"], found["wah"]) == (1.0, 0.5, 0.0)


def test_of_units_that_add_as_much_the_owned_and_then_the_lighter_comes_first() -> None:
    """Owned units cost nothing."""
    names = [each.unit for each in losses("fuzz", "wah", "chorus", scenes={"all": {}}).additions()]

    assert names.index("light") < names.index("heavy") < names.index("dear")


def test_the_carried_unit_that_gives_least_comes_first() -> None:
    """What it gives is what would be lost without it."""
    of = losses("fuzz", "wah", "multi", scenes={**FIRST, "wet": {}}, stand_ins=[MULTI_AS_FUZZ])

    assert [(each.unit, each.worth) for each in of.removals()] == [("multi", 0.0), ("fuzz", 1.0), ("wah", 1.0)]


def test_a_dead_unit_tells_its_scenes_and_the_leads_to_join() -> None:
    """Before and after it in the chain."""
    of = losses("wah", "fuzz", "multi", scenes={"a": {"fuzz": "on"}, "b": {}}, stand_ins=[MULTI_AS_FUZZ])

    assert lost(of, LossKind.UNIT, "fuzz") == Loss(
        LossKind.UNIT,
        "fuzz",
        "",
        ("fuzz",),
        (),
        0.5,
        (Changed("song", "a", 1, Outcome.WHOLE, Outcome.STAND_IN, 0.5),),
        0,
        (Join(Lines.SIGNAL, "wah", "multi"),),
    )


LEADS = [{"port": "p", "to": "multi"}, {"thru": "multi", "to": "chorus"}, {"thru": "chorus", "to": "light"}]
HEARD = {name: {"port": "p", "channel": number} for number, name in enumerate(["multi", "chorus", "light"], 1)}


def test_behind_a_dead_unit_all_is_deaf_until_its_two_leads_are_joined() -> None:
    """The chorus hears through the multi."""
    found = lost(losses("multi", "chorus", "light", units=HEARD, leads=LEADS), LossKind.UNIT, "multi")

    assert (found.gone, found.deaf, found.by_hand) == (("multi",), ("chorus", "light"), 1)
    assert Join(Lines.MIDI, "port p", "chorus") in found.joins


def test_a_lost_lead_leaves_all_behind_it_deaf_and_what_only_messages_work_is_lost() -> None:
    """Nothing but a message switches the chorus, so its scene cannot be set."""
    found = lost(losses("multi", "chorus", "light", units=HEARD, leads=LEADS), LossKind.LEAD, "chorus")

    assert (found.start, found.gone, found.deaf) == ("multi", (), ("chorus", "light"))
    assert found.scenes == (Changed("song", "wet", 1, Outcome.WHOLE, Outcome.REFUSED, 1.0),)
    assert found.joins == (Join(Lines.MIDI, "multi", "light"),)


def test_cues_that_open_a_loop_of_a_deaf_switcher_are_worked_by_hand() -> None:
    """No scene names the switcher; the fuzz is in its loop."""
    switcher = unit(switches={"a": {"message": {"controller": 90}, "foot": True}})
    placed = rig("fuzz", loops={"switcher": {"a": ["fuzz"]}}, units={"switcher": {"port": "p", "channel": 1}})
    scenes = {"a": {"fuzz": "on"}, "b": {}}
    of = library({"fuzz": UNITS["fuzz"], "switcher": switcher}, placed, song(scenes), gig("song"))

    assert lost(Losses(of, RIG), LossKind.LEAD, "switcher").by_hand == 1


def test_where_no_leads_are_noted_those_that_are_packed_are_taken_for_granted_and_marked() -> None:
    """From the port to the first that hears it, from its thru to the next: what dies, and which leads to join then."""
    of = losses("multi", "chorus", "light", units=HEARD)
    first, dead = lost(of, LossKind.LEAD, "multi"), lost(of, LossKind.UNIT, "chorus")

    assert (first.start, first.deaf, first.lost, first.assumed) == ("port p", ("multi", "chorus", "light"), 1.0, True)
    assert first.joins == (Join(Lines.MIDI, "port p", "chorus", assumed=True),)
    assert dead.deaf == ("light",)
    assert Join(Lines.MIDI, "multi", "light", assumed=True) in dead.joins


def test_beside_noted_leads_only_the_one_that_is_not_noted_is_marked() -> None:
    """It is taken to come from the port."""
    of = losses("multi", "chorus", "light", units=HEARD, leads=LEADS[:2])

    found = {each.name: each for each in of.single() if each.kind is LossKind.LEAD}

    assert {name: (each.start, each.assumed) for name, each in found.items()} == {
        "multi": ("port p", False),
        "chorus": ("multi", False),
        "light": ("port p", True),
    }
    assert found["multi"].joins == (Join(Lines.MIDI, "port p", "chorus"),)


def test_a_lost_supply_takes_what_it_feeds() -> None:
    """Not the wah, which takes none, and not the multi, which brings its own; both can still sound."""
    of = losses("fuzz", "wah", "multi", "chorus", units={"chorus": HEARD["chorus"]}, stand_ins=[MULTI_AS_FUZZ])

    found = lost(of, LossKind.SUPPLY, "")

    assert found.gone == ("fuzz", "chorus")
    assert found.lost == 2.0
    assert found.joins == (
        Join(Lines.SIGNAL, "the instrument", "wah"),
        Join(Lines.SIGNAL, "multi", "the amplifier"),
    )


def test_an_ac_unit_lives_on_when_a_supply_of_dc_dies() -> None:
    """The rig names its supply, and that one has DC outlets alone."""
    units = {
        **UNITS,
        "ring": unit(**FOOT, supply={"volts": "12", "current": "AC"}),
        "brick": unit(outlets=[{"name": "1", "volts": "9", "ma": 500}]),
    }
    of = library(units, rig("fuzz", "ring", supply="brick"), song(FIRST), gig("song"))

    assert lost(Losses(of, RIG), LossKind.SUPPLY, "brick").gone == ("fuzz",)


def test_what_the_supply_cannot_feed_lives_on_when_it_dies() -> None:
    """It hangs on something else: the plan of the supply has no outlet for it; of mA not known nothing is hidden."""
    units = {
        **UNITS,
        "hungry": unit(**FOOT, supply={"volts": "9", "ma": 900, "polarity": "centre negative"}),
        "vague": unit(**FOOT, supply={"volts": "9"}),
        "brick": unit(outlets=[{"name": "1", "volts": "9", "ma": 500, "polarity": "centre negative"}]),
    }
    fuzz = unit(**FOOT, supply={**DC, "polarity": "centre negative"})
    of = library({**units, "fuzz": fuzz}, rig("fuzz", "hungry", "vague", supply="brick"), song(FIRST), gig("song"))

    assert power(of, RIG).unfed[0].unit == "hungry"
    assert lost(Losses(of, RIG), LossKind.SUPPLY, "brick").gone == ("fuzz", "vague")


def test_past_several_that_are_dead_messages_go_from_the_last_alive_to_the_next_alive() -> None:
    """One lead over all of them."""
    placed = {**HEARD, "fuzz": {"port": "p", "channel": 7}}
    leads = [{"port": "p", "to": "fuzz"}, {"thru": "fuzz", "to": "chorus"}, {"thru": "chorus", "to": "multi"}]
    of = losses("fuzz", "chorus", "multi", units={n: placed[n] for n in ("fuzz", "chorus", "multi")}, leads=leads)

    joins = lost(of, LossKind.SUPPLY, "").joins

    assert [each for each in joins if each.lines is Lines.MIDI] == [Join(Lines.MIDI, "port p", "multi")]


def test_a_parallel_path_of_which_nothing_is_left_stays_open() -> None:
    """Joined, it would add the plain signal to itself; a part of a path is joined inside it."""
    chain: Any = {"parallel": [["fuzz"], ["wah", "multi"]]}
    of = Losses(library(UNITS, rig("light", chain, "heavy"), song(FIRST), gig("song")), RIG)

    assert lost(of, LossKind.UNIT, "fuzz").joins == ()
    assert lost(of, LossKind.UNIT, "wah").joins == (Join(Lines.SIGNAL, "the split", "multi"),)
    assert lost(of, LossKind.UNIT, "light").joins == (Join(Lines.SIGNAL, "the instrument", "the split"),)
    assert lost(of, LossKind.UNIT, "heavy").joins == (Join(Lines.SIGNAL, "the mix", "the amplifier"),)


def test_what_dies_in_a_send_leaves_its_send_to_be_joined_with_its_return() -> None:
    """The multi stands at two places; before it and behind it are its own jacks."""
    of = Losses(library(UNITS, rig("fuzz", "multi", "wah", "multi", "chorus"), song(FIRST), gig("song")), RIG)

    assert lost(of, LossKind.UNIT, "wah").joins == (Join(Lines.SIGNAL, "the send of multi", "the return of multi"),)
    assert lost(of, LossKind.UNIT, "fuzz").joins == (Join(Lines.SIGNAL, "the instrument", "multi"),)
    assert lost(of, LossKind.UNIT, "chorus").joins == (Join(Lines.SIGNAL, "multi", "the amplifier"),)


def test_a_dead_switcher_is_bridged_into_between_and_out_of_its_loops() -> None:
    """Two units in one loop stay joined as they are."""
    units = {**UNITS, "switcher": unit(switches={"a": {"foot": True}, "b": {"foot": True}})}
    loops = {"switcher": {"a": ["fuzz"], "b": ["wah", "multi"]}}
    of = Losses(library(units, rig("light", "fuzz", "wah", "multi", loops=loops), song(FIRST), gig("song")), RIG)

    assert [(each.before, each.after) for each in lost(of, LossKind.UNIT, "switcher").joins] == [
        ("light", "fuzz"),
        ("fuzz", "wah"),
        ("multi", "the amplifier"),
    ]


def test_what_dies_in_or_beside_a_loop_is_joined_at_the_jacks_of_its_switcher() -> None:
    """The leads of a loop go to the switcher, not to the neighbour in the chain."""
    units = {**UNITS, "switcher": unit(switches={"a": {"foot": True}, "b": {"foot": True}})}
    loops = {"switcher": {"a": ["fuzz"], "b": ["wah", "multi"]}}
    placed = rig("light", "fuzz", "wah", "multi", "heavy", loops=loops)
    of = Losses(library(units, placed, song(FIRST), gig("song")), RIG)

    found = {each.name: [(join.before, join.after) for join in each.joins] for each in of.single()}

    assert found["light"] == [("the instrument", "switcher")]
    assert found["fuzz"] == [("a send of switcher", "a return of switcher")]
    assert found["wah"] == [("b send of switcher", "multi")]
    assert found["multi"] == [("wah", "b return of switcher")]
    assert found["heavy"] == [("switcher", "the amplifier")]
    assert found[""] == [  # the supply: fuzz alone of those in the chain
        ("a send of switcher", "a return of switcher")
    ]


def test_where_every_path_of_a_parallel_is_dead_one_lead_carries_the_signal_past_it() -> None:
    """A board that is silent for want of one lead would be worse than a plain signal."""
    chain: Any = {"parallel": [["fuzz"], ["chorus"]]}
    of = Losses(library(UNITS, rig("light", chain, "heavy"), song(FIRST), gig("song")), RIG)

    joins = [each for each in lost(of, LossKind.SUPPLY, "").joins if each.lines is Lines.SIGNAL]

    assert joins == [Join(Lines.SIGNAL, "the split", "the mix")]


def test_a_unit_that_only_its_loop_can_switch_is_lost_with_the_switcher() -> None:
    """It is there, and nothing turns it on."""
    units = {"deaf": unit(), "switcher": unit(switches={"a": {"foot": True}})}
    of = library(units, rig("deaf", loops={"switcher": {"a": ["deaf"]}}), song({"a": {"deaf": "on"}}), gig("song"))

    assert lost(Losses(of, RIG), LossKind.UNIT, "switcher").scenes == (
        Changed("song", "a", 1, Outcome.WHOLE, Outcome.REFUSED, 1.0),
    )


def test_who_is_played_by_another_tonight_dies_with_its_replacement() -> None:
    """The place is what is lost."""
    of = library(UNITS, rig("fuzz"), song({"a": {"fuzz": "on"}}), gig("song", played_by={"fuzz": "heavy"}))
    found = Losses(of, RIG)

    assert found.worth == lost(found, LossKind.UNIT, "fuzz").lost == 1.0
    assert {each.unit: each.worth for each in found.additions()}["heavy"] == 0.0


@pytest.mark.parametrize("name", ["hall board", "fly board"])
def test_losses_and_additions_are_what_another_rig_would_reach(name: str) -> None:
    """Each asked again the long way: the unit out at every gig, or in the rig."""
    demo = read_folder(DEMO)[0]
    found = Losses(demo, name)
    for each in found.removals():
        if not any(each.unit in evening.played_by for evening in demo.gigs.values()):
            gigs = {n: g.model_copy(update={"out": (*g.out, each.unit)}) for n, g in demo.gigs.items()}
            short = reach(demo.model_copy(update={"gigs": gigs}), name).worth
            assert found.worth - short == pytest.approx(each.worth), each.unit
    board = demo.rigs[name]
    said = board.model_dump(exclude_defaults=True)
    by_far = next(each for each in found.additions() if each.unit.startswith("multi"))
    more = [each for other in demo.rigs.values() for each in other.stand_ins if each.by == by_far.unit]
    longer = type(board).model_validate(
        {
            **said,
            "chain": [*board.chain, by_far.unit],
            "stand_ins": [*board.stand_ins, *more],
            "units": {**board.units, by_far.unit: {"port": "more", "channel": 16}},
        }
    )
    assert reach(demo.model_copy(update={"rigs": {name: longer}}), name).worth - found.worth == pytest.approx(
        by_far.worth
    )


def test_a_gig_whose_replacement_cannot_be_made_counts_for_nothing() -> None:
    """As in reach."""
    of = board("fuzz", "wah").model_copy(
        update={"gigs": {GIG: gig("song"), "bad": gig("song", played_by={"fuzz": "wah"})}}
    )

    assert Losses(of, RIG).worth == reach(of, RIG).worth == 2.0


def test_what_a_unit_adds_is_what_the_whole_gig_gains_with_it() -> None:
    """Only scenes that it can touch are walked again; one that leaves what came before goes with its song."""
    scenes = {"a": {"fuzz": "on"}, "b": {"fuzz": "leave", "wah": "on"}, "c": {"fuzz": {"main": "leave"}}, "d": {}}
    songs = {"one": song(scenes, "a", "b", "c", "d", "b"), "two": song({"x": {"wah": "on"}, "y": {"light": "on"}})}
    of = library(UNITS, rig("heavy"), songs, gig("one", "two", "one"))

    found = {each.unit: each.worth for each in Losses(of, RIG).additions()}

    for name in ("fuzz", "wah", "multi", "light"):
        more = [MULTI_AS_FUZZ] if name == "multi" else []
        carried = of.model_copy(update={"rigs": {RIG: rig("heavy", name, stand_ins=more)}})
        known = of.model_copy(update={"rigs": {**of.rigs, "wall": rig("multi", stand_ins=[MULTI_AS_FUZZ])}})
        told = {each.unit: each.worth for each in Losses(known, RIG).additions()} if more else found
        assert told[name] == pytest.approx(reach(carried, RIG).worth - reach(of, RIG).worth)


def test_what_a_unit_gives_is_what_its_loss_costs_to_the_last_digit() -> None:
    """Tenths added in another order must not be 8.8 here and 8.9 there."""
    stand_ins = [{"part": "fuzz", "by": "multi", "switch": "main", "likeness": 0.15}]
    of = losses("fuzz", "multi", scenes={str(n): {"fuzz": "on"} for n in range(7)}, stand_ins=stand_ins)

    gives = {each.unit: each.worth for each in of.removals()}

    assert gives["fuzz"] == lost(of, LossKind.UNIT, "fuzz").lost == 5.95


def test_a_dead_switcher_costs_the_feet_what_its_loops_saved() -> None:
    """No scene is lost, but both units of its loops are on the floor: a press each time one goes on or off."""
    switcher = unit(switches={name: {"message": {"controller": 90 + at}} for at, name in enumerate("ab")})
    loops = {"switcher": {"a": ["fuzz"], "b": ["wah"]}}
    placed = rig("fuzz", "wah", "multi", loops=loops, units={"switcher": {"port": "p", "channel": 1}})
    scenes = {"dry": {}, "fuzz": {"fuzz": "on"}, "both": {"fuzz": "on", "wah": "on"}}
    played = song(scenes, "dry", "fuzz", "both", "dry")
    of = Losses(library({**UNITS, "switcher": switcher}, placed, played, gig("song")), RIG)

    dead = lost(of, LossKind.UNIT, "switcher")

    assert (dead.lost, dead.feet) == (0.0, 4)
    assert lost(of, LossKind.UNIT, "multi").feet == 0
