"""A rig that was chosen gets a supply: owned, able to feed it, and as light as can be."""

from typing import Any

from scenebook.model import Unit
from scenebook.planning.supplying import supply_for
from tests.support.build import RIG, library, rig, song, unit

NEEDS = {"volts": 9, "current": "DC", "polarity": "centre negative", "ma": 50, "plug": "5.5 x 2.1 mm"}


def bar(outlets: int, plug: str = "5.5 x 2.1 mm", **said: Any) -> Unit:
    """Return a supply with so many outlets of 100 mA."""
    one = {"volts": 9, "current": "DC", "polarity": "centre negative", "ma": 100, "plug": plug}
    each = [{"name": at + 1, "isolated": True, **one} for at in range(outlets)]
    return unit(switches={}, outlets=each, **said)


def found(**supplies: Unit) -> tuple[str | None, int]:
    box = unit(switches={"main": {"foot": True}}, supply=NEEDS)
    of = library({"one": box, "two": box, **supplies}, rig("one", "two"), song({"all": {"one": "on"}}))
    plan = supply_for(of, of.rigs[RIG])
    return (plan.supply, len(plan.unfed)) if plan else (None, 0)


def test_the_lightest_that_feeds_every_unit_is_taken() -> None:
    """Who flies counts every gram, but a unit that is dark plays nothing."""
    heavy, light = bar(3, weight_g=900), bar(2, weight_g=500)

    assert found(small=bar(1, weight_g=100), heavy=heavy, light=light, unweighed=bar(2)) == ("light", 0)


def test_one_that_is_not_owned_is_not_taken() -> None:
    """It would have to be bought, and nobody was asked."""
    assert found(shop=bar(2, weight_g=100, owned=False), mine=bar(2, weight_g=800)) == ("mine", 0)


def test_where_none_feeds_all_the_one_that_leaves_fewest_dark_is_taken() -> None:
    """What is lacking is told by the power plan."""
    assert found(small=bar(1, weight_g=100)) == ("small", 1)


def test_of_those_that_leave_as_many_dark_one_that_only_wants_a_lead_is_taken() -> None:
    """A lead from plug to plug is had in any shop; one more outlet is another supply."""
    few = bar(2, weight_g=100, outlets_w=0.1)

    assert found(few=few, plugs=bar(2, "3.5 x 1.35 mm", weight_g=300)) == ("plugs", 2)


def test_a_library_without_a_supply_gives_none() -> None:
    """Nothing is made up."""
    assert found() == (None, 0)
