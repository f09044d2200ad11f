"""The supply of a board: where it is, its leads, what splits an outlet, and who gets none."""

from typing import Any

import pytest

from scenebook.model import Unit
from scenebook.planning.board import BoardPlan, plan_board, read_board
from scenebook.planning.supply_leads import Split, SupplyAt, is_said_under
from tests.support import build
from tests.support.boards import supply_of
from tests.support.build import RIG, library, rig, song

NINE = {"volts": "9", "polarity": "centre negative", "plug": "5.5 x 2.1 mm", "ma": 50}
PATIENT, EFFORT = 60.0, 0.2


def unit(**supply: Any) -> Unit:
    """A unit of 100 by 100 mm with its jacks at the back."""
    size, switches = {"width": 100, "depth": 100}, {"main": {"foot": True}}
    return build.unit(size=size, jacks=("top",), switches=switches, supply=supply or None)


def on_board(units: dict[str, Unit], supply: Unit | None, size: str = "600x400", **said: Any) -> BoardPlan:
    """Return the plan of a rig of these units, fed by a supply."""
    all_units = {**units, **({"supply": supply} if supply else {})}
    of_rig = rig(*units, **({"supply": "supply"} if supply else {}))
    of = library(all_units, of_rig, song({"a": {}}, "a"))
    return plan_board(of, RIG, read_board(size), seconds=PATIENT, effort=EFFORT, **said)


def fed(plan: BoardPlan) -> list[tuple[str, str, str]]:
    """Return outlet, unit and kind of each supply lead."""
    return [(each.start.jack, each.stop.unit, each.kind) for each in plan.leads if each.kind in ("DC", "AC")]


def test_the_supply_stands_on_the_board_and_each_fed_unit_has_its_lead() -> None:
    """As long as its way, plugs and a bend counted, in whole 5 cm."""
    plan = on_board({"fuzz": unit(**NINE), "delay": unit(**NINE)}, supply_of(2))

    assert [each.unit for each in plan.placed] == ["fuzz", "delay", "supply"]
    assert fed(plan) == [("outlet 1", "fuzz", "DC"), ("outlet 2", "delay", "DC")]
    for lead in plan.leads:
        assert lead.way_mm == abs(lead.start.x - lead.stop.x) + abs(lead.start.y - lead.stop.y)
        assert lead.way_mm + 100 <= lead.cut_mm < lead.way_mm + 150
    assert plan.leads[-1].stop.jack == "DC in"
    assert plan.leads[-1].note == "centre negative, 5.5 x 2.1 mm"
    assert "mains: to supply" in plan.off_board


@pytest.mark.parametrize(
    ("notes", "under"),
    [
        ("Screwed under the frame.", True),
        ("Hangs under the hall board", True),
        ("lies underneath the board", True),
        ("", False),
        ("Under load it hums.", False),
        ("the board is under it", False),
    ],
)
def test_a_supply_is_under_the_frame_only_where_its_notes_say_so(notes: str, under: bool) -> None:
    """Nothing is guessed: room that is not there would be found out on the workbench."""
    supply = supply_of(1, notes=notes)

    plan = on_board({"fuzz": unit(**NINE)}, supply)

    assert is_said_under(supply) is under
    assert plan.supply.at is (SupplyAt.UNDER if under else SupplyAt.BOARD)
    assert ("supply" in {each.unit for each in plan.placed}) is not under


def test_from_under_the_frame_a_lead_comes_from_the_middle_and_through_it() -> None:
    """That is taken for granted, and 100 mm more for the way up."""
    plan = on_board({"fuzz": unit(**NINE)}, supply_of(1), supply_at=SupplyAt.UNDER)

    (lead,) = plan.leads
    assert (lead.start.x, lead.start.y, lead.start.side) == (300, 200, None)
    assert lead.way_mm == abs(lead.stop.x - 300) + abs(lead.stop.y - 200) + 100


@pytest.mark.parametrize("said", [{"supply_at": SupplyAt.BESIDE}, {"beside": ["supply"]}])
def test_leads_from_a_supply_beside_the_board_are_named_and_not_cut(said: dict[str, Any]) -> None:
    """How far it stands away no board knows."""
    plan = on_board({"fuzz": unit(**NINE)}, supply_of(1), **said)

    assert (plan.supply.at, plan.leads) == (SupplyAt.BESIDE, ())
    assert plan.off_board == ("DC: supply outlet 1 to fuzz", "mains: to supply")


def test_an_outlet_that_two_units_share_needs_a_splitting_lead_and_it_is_named() -> None:
    """A daisy chain or a Y has to be bought or made as well."""
    plan = on_board({"fuzz": unit(**NINE), "delay": unit(**NINE)}, supply_of(1))

    assert plan.supply.splits == (Split("1", ("fuzz", "delay")),)
    assert fed(plan) == [("outlet 1, splitting lead", "fuzz", "DC"), ("outlet 1, splitting lead", "delay", "DC")]


def test_who_gets_no_lead_is_named_with_the_reason() -> None:
    """Own supply, no supply at all, nothing noted, no outlet that will do."""
    units = {
        "fuzz": unit(**NINE),
        "ring": unit(volts="12", current="AC", ma=160, own=True),
        "pedal": unit(volts="none"),
        "drone": unit(),
        "valve": unit(**{**NINE, "volts": "12"}),
    }

    plan = on_board(units, supply_of(3), "900x400")

    assert fed(plan) == [("outlet 1", "fuzz", "DC")]
    assert plan.supply.not_fed == ("valve: no outlet of supply feeds it", "drone: supply not known")
    assert "mains: to the own supply of ring" in plan.off_board


def test_a_rig_that_names_no_supply_has_none_on_its_board() -> None:
    """And says for which units leads will lack."""
    plan = on_board({"fuzz": unit(**NINE)}, None)

    assert (plan.supply.supply, plan.supply.at, plan.leads) == (None, None, ())
    assert plan.supply.not_fed == ("fuzz: the rig names no supply",)


def test_a_supply_without_a_size_is_named_and_its_leads_are_not_cut() -> None:
    """Its place is not known."""
    plan = on_board({"fuzz": unit(**NINE)}, supply_of(1, size=None))

    assert plan.no_size == ("supply",)
    assert (plan.leads, plan.off_board[0]) == ((), "DC: supply outlet 1 to fuzz")


def test_a_board_that_only_the_supply_makes_too_small_says_so() -> None:
    """Under the frame it would fit."""
    plan = on_board({"fuzz": unit(**NINE)}, supply_of(1), "170x130")

    assert (plan.fits, plan.fits_without_supply) == (False, True)
    assert on_board({"fuzz": unit(**NINE)}, supply_of(1), "170x130", supply_at=SupplyAt.UNDER).fits is True
