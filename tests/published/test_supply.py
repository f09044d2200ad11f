"""Supply currents against plain physics and a worked table.

P = V x I is Joule's law, and currents on one rail add up by Kirchhoff's. The headroom, a load of 80 %, is common
practice of technicians and binds nobody. Marks: C computed from those laws, P common practice.
"""

import pytest

from scenebook.model import Outlet, Practice, Supply, Unit
from scenebook.planning.outlets import Bar, needed_ma, watts
from scenebook.planning.power import power_of

ON_ONE_RAIL = (100, 50, 35, 20, 300)


def taking(ma: float, volts: str = "9", **said: object) -> Unit:
    return Unit(supply=Supply.model_validate({"volts": volts, "ma": ma, "polarity": "centre negative", **said}))


def giving(*limits: float, volts: str = "9", headroom: float = 0.2) -> tuple[Unit, Practice]:
    outlets = (
        Outlet(name=str(number), volts=volts, polarity="centre negative", ma=ma, isolated=True)
        for number, ma in enumerate(limits, 1)
    )
    return Unit(outlets=tuple(outlets)), Practice(headroom=headroom)


@pytest.mark.parametrize(
    ("volts", "ma", "expected"),
    [(9, 100, 0.9), (18, 60, 1.08), (12, 500, 6.0), (9, 505, 4.545)],  # C: P = V x I
)
def test_power_is_voltage_times_current(volts: float, ma: float, expected: float) -> None:
    """What the mains side has to carry."""
    assert watts(volts, ma) == pytest.approx(expected)


def test_currents_on_one_rail_add_up_to_505_ma_and_4_545_w() -> None:
    """100 + 50 + 35 + 20 + 300 mA at 9 V (C)."""
    source, practice = giving(1000)

    plan = power_of({str(ma): taking(ma) for ma in ON_ONE_RAIL}, source, practice)

    assert plan.feeds_all
    assert (plan.ma, plan.watts) == (505, pytest.approx(4.545))


def test_at_80_percent_load_505_ma_need_an_outlet_made_for_631_25() -> None:
    """505 / 0.8 = 631.25 (C), with the headroom of common practice (P): a hair less is too little."""
    units = {str(ma): taking(ma) for ma in ON_ONE_RAIL}

    assert needed_ma(ON_ONE_RAIL, 0.2) == pytest.approx(631.25)
    assert power_of(units, *giving(631.25)).feeds_all
    assert not power_of(units, *giving(631.24)).feeds_all


def test_two_outlets_of_100_ma_cannot_feed_one_unit_of_150() -> None:
    """The total would fit, but each outlet has a limit of its own: it is a bin packing (C)."""
    plan = power_of({"one": taking(150)}, *giving(100, 100, headroom=0))

    assert [each.unit for each in plan.unfed] == ["one"]
    assert plan.unfed[0].why == (("1", (Bar.LITTLE,)), ("2", (Bar.LITTLE,)))


def test_a_unit_may_take_less_than_an_outlet_can_give() -> None:
    """An outlet made for more is harmless; only more volts are not (C)."""
    assert power_of({"one": taking(20)}, *giving(2000)).feeds_all
    assert not power_of({"one": taking(20)}, *giving(2000, volts="12")).feeds_all


def test_milliamperes_at_two_voltages_are_summed_in_watts() -> None:
    """9 V x 100 mA + 12 V x 100 mA = 2.1 W: mA of two voltages say nothing together (C)."""
    outlets = tuple(
        Outlet(name=volts, volts=volts, polarity="centre negative", ma=200, isolated=True) for volts in ("9", "12")
    )

    plan = power_of({"low": taking(100), "high": taking(100, "12")}, Unit(outlets=outlets), Practice())

    assert plan.watts == pytest.approx(2.1)
