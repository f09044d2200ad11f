"""What travels and weighs, how long it takes to set up, and what the stage is asked for."""

from typing import Any

import pytest

from scenebook.model import Library, Settings, Unit
from scenebook.planning.lifting import CASE, recommended_weight
from scenebook.planning.losses import LossKind
from scenebook.planning.packing_list import HEAVY_BAG_G, Item, Step, carried_load, packing_list
from tests.support.build import RIG, library, rig, song, unit

DC = {"volts": 9, "current": "DC", "polarity": "centre negative", "ma": 50, "plug": "5.5 x 2.1 mm"}
BOX = {"main": {"foot": True}}


def box(**said: Any) -> Unit:
    return unit(switches=BOX, supply=DC, **{"weight_g": 300, **said})


def packed_of(units: dict[str, Unit], /, **of_rig: Any) -> Library:
    """Return a library whose rig has these units in a chain; those with outlets are its supply, outside the chain."""
    chain = [name for name, each in units.items() if not each.outlets]
    supply = next((name for name, each in units.items() if each.outlets), None)
    scenes = {"all": {chain[0]: "on"}}
    return library(units, rig(*chain, supply=supply, **of_rig), song(scenes, tempo=120))


OUTLET = {"volts": 9, "ma": 500, "polarity": "centre negative"}
SUPPLY = unit(switches={}, outlets=[{"name": name, **OUTLET} for name in (1, 2)], weight_g=400)
ONE_OUTLET = unit(switches={}, outlets=[{"name": 1, **OUTLET}], weight_g=400)


def test_frame_case_supply_and_leads_are_counted() -> None:
    """What the scales at the airport show is more than the units."""
    of = packed_of({"fuzz": box(), "delay": box(weight_g=700), "supply": SUPPLY}, frame_g=900, case_g=1500)

    found = packing_list(of, RIG)

    assert found.items == (
        Item("fuzz", 1, 300),
        Item("delay", 1, 700),
        Item("supply", 1, 400),
        Item("bare board or frame", 1, 900),
        Item("case or bag", 1, 1500),
        Item("signal leads, those to instrument and amplifier too", 3, 60, taken=True),
        Item("supply leads, the mains lead too", 3, 60, taken=True),
    )
    assert found.known_g == 300 + 700 + 400 + 900 + 1500 + 6 * 60
    assert found.unknown == ()


def test_a_splitting_lead_is_one_of_the_leads_that_travel() -> None:
    """Who packs by the list has it with him; it weighs as much as the leads that it is in place of."""
    own, split = ({"fuzz": box(), "delay": box(), "supply": which} for which in (SUPPLY, ONE_OUTLET))

    found, other = packing_list(packed_of(split), RIG), packing_list(packed_of(own), RIG)

    said = "splitting lead, 2 supply leads in one, outlet 1 to fuzz and delay, 1 plug to 2"
    assert [(item.what, item.pieces) for item in found.items if "supply lead" in item.what] == [
        ("supply leads, the mains lead too", 1),
        (said, 1),
    ]
    assert found.known_g == other.known_g


def test_midi_leads_are_those_that_the_board_cuts() -> None:
    """Two units on one port are a lead from the port and one from thru, noted or taken for granted."""
    places = {name: {"port": "main", "channel": at} for at, name in enumerate(("multi", "delay"), 1)}
    units = {"multi": box(), "delay": box()}

    noted = packing_list(packed_of(units, units=places, leads=[{"port": "main", "to": "multi"}]), RIG)
    taken = packing_list(packed_of(units, units=places), RIG)

    assert [item.what for item in noted.items if item.what.startswith("MIDI")] == [
        "MIDI leads, 1 of them not noted, taken for granted"
    ]
    (item,) = [item for item in taken.items if item.what.startswith("MIDI")]
    assert (item.pieces, "taken for granted" in item.what) == (2, True)


def test_of_what_nobody_weighed_nothing_is_said_of_lifting() -> None:
    """Leads alone, taken as one weight, are no ground to say that one person may lift it all."""
    found = packing_list(packed_of({"fuzz": box(weight_g=None)}), RIG)

    assert (found.carry.weighed, found.carry.alone) == (False, False)


def test_an_unknown_weight_is_named_and_never_nothing() -> None:
    """A sum that leaves a unit out in silence is a fine at the airport."""
    found = packing_list(packed_of({"fuzz": box(weight_g=None)}, case_g=1500), RIG)

    assert found.unknown == ("fuzz", "bare board or frame")
    assert found.carry.unknown == found.unknown
    assert next(item for item in found.items if item.what == "fuzz").grams is None


def test_a_unit_with_its_own_mains_supply_brings_it_along() -> None:
    """It is one more power drop, and one more thing to forget."""
    of = packed_of({"fuzz": box(), "ring": box().model_copy(update={"supply": _own()}), "supply": SUPPLY})

    found = packing_list(of, RIG)

    assert Item("mains supply of ring", 1, None) in found.items
    assert found.stage.drops == ("supply", "ring")


def _own() -> Any:
    return box().supply.model_copy(update={"own": True})  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("load_g", "over"),
    [
        (16_000, 0),
        (16_200, 1),  # more than is recommended for one person, so lifted
        (23_001, 3),  # more than the usual limits of one pair of hands and of a bag
        (HEAVY_BAG_G + 1, 4),
    ],
)
def test_one_person_lifts_no_more_than_is_recommended(load_g: float, over: int) -> None:
    """23 kg and 32 kg are usual baggage limits; 16.1 kg is what the equation gives for a case lifted by its handle."""
    carry = carried_load(Library(), [Item("case", 1, load_g)])

    assert carry.recommended_g == pytest.approx(16_072, abs=1)
    assert carry.recommended_g == 1000 * recommended_weight(CASE)
    assert (len(carry.over), carry.alone) == (over, over == 0)


def test_the_steps_go_from_power_to_the_last_unit_awake_to_the_line_check() -> None:
    """What boots does so while leads are plugged; a slow one is waited for."""
    units = {"fuzz": box(), "slow": box(boot_s=75), "quick": box(boot_s=4), "supply": SUPPLY}
    found = packing_list(packed_of(units, frame_g=900, home={"fuzz": "off"}), RIG)

    assert [(step.at_s, step.takes_s) for step in found.steps] == [
        (0, 20), (20, 30), (50, 45), (95, 3 * found.home_moves), (95 + 3 * found.home_moves, 15),
    ]  # fmt: skip
    assert found.steps[2].what == "Wait for the last unit, slow"
    assert found.awake == (("quick", 4), ("slow", 75))


def test_loose_units_take_longer_and_a_library_may_say_how_long() -> None:
    """Nothing says that the units are on a board; and every time is the player's own to write."""
    of = packed_of({"fuzz": box()})
    quick = Settings.model_validate({"practice": {"loose_set_up_s": 100, "lead_s": 10, "line_check_s": 7}})

    usual, own = packing_list(of, RIG), packing_list(of.model_copy(update={"settings": quick}), RIG)

    assert (usual.is_fixed, usual.stage.set_up_s, usual.stage.strike_s) == (False, 600, 300)
    assert own.steps[:2] == (
        Step(0, 30, "Units out of their bags and in their places"),
        Step(30, 60, "All leads in; amplifier off or turned down"),
    )
    assert own.steps[-1].takes_s == 7


def test_a_unit_that_may_boot_and_does_not_say_how_long_is_named() -> None:
    """Something with messages or presets wakes up; a switch and two knobs do not."""
    digital = unit(switches={"main": {"message": {"controller": 7}}}, supply=DC)

    found = packing_list(packed_of({"fuzz": box(), "digital": digital}), RIG)

    assert found.boot_unknown == ("digital",)


def test_the_stage_is_told_lines_floor_and_power() -> None:
    """Plugs are counted at both sides: (120 + 2 x 25) x 100 mm; and what nobody measured is named."""
    first, last = box(size={"width": 120, "depth": 100}), box(output="stereo")
    found = packing_list(packed_of({"fuzz": first, "delay": last, "supply": SUPPLY}), RIG).stage

    assert found.lines == (("delay", 2, False),)
    assert found.floor_m2 == pytest.approx(0.017)
    assert found.no_size == ("delay", "supply")
    assert found.watts == pytest.approx(2 * 9 * 0.05)


def test_every_carried_unit_has_its_line_on_the_page_for_when_it_dies() -> None:
    """Which two leads to join, what is lost, and who plays its part."""
    stand_ins = [{"part": "fuzz", "by": "drive", "switch": "main", "likeness": 0.7}]
    found = packing_list(packed_of({"fuzz": box(), "drive": box()}, stand_ins=stand_ins), RIG)

    dies = {each.loss.name: each for each in found.dies if each.loss.kind is LossKind.UNIT}
    assert dies.keys() == {"fuzz", "drive"}
    (join,) = dies["fuzz"].loss.joins
    assert (join.before, join.after) == ("the instrument", "drive")
    assert dies["fuzz"].stand_ins == ("fuzz by drive, likeness 0.7",)
    assert dies["fuzz"].loss.lost == pytest.approx(0.3)
    assert dies["drive"].stand_ins == ()


def test_an_empty_rig_packs_nothing() -> None:
    """A rig may have no units yet."""
    of = library({}, rig(), {})

    found = packing_list(of, RIG)

    assert found.stage.lines == ()
    assert found.dies == ()
    assert found.known_g == 60 * 3  # two signal leads and a mains lead, by common practice


def test_no_lead_is_counted_to_a_unit_that_the_supply_does_not_feed() -> None:
    """As on the board, which cuts none for it and says why; what feeds it instead, no library says."""
    hungry = box().model_copy(update={"supply": box().supply.model_copy(update={"ma": 9000})})  # type: ignore[union-attr]
    found = packing_list(packed_of({"fuzz": box(), "hungry": hungry, "unsaid": unit(), "supply": SUPPLY}), RIG)

    assert Item("supply leads, the mains lead too", 2, 60, taken=True) in found.items
    assert found.no_supply_lead == ("hungry: no outlet of supply feeds it", "unsaid: supply not known")
