"""Units as objects: what volts stand for, outlets, and the supply of a rig."""

import pytest
from pydantic import ValidationError

from scenebook.model import Outlet, Practice, Supply, Unit
from scenebook.model.checks import check_rig, check_unit
from scenebook.model.objects import volts_range
from scenebook.model.practice import Preference
from tests.support.build import rig, unit


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("9", (9, 9)),
        ("9 V", (9, 9)),
        ("9-18", (9, 18)),
        ("9 – 18 V", (9, 18)),
        ("9 V to 18 V", (9, 18)),
        ("4.5", (4.5, 4.5)),
        ("18-9", None),
        ("9 or 18", None),
        ("see plate", None),
        ("", None),
        ("-9", None),
    ],
)
def test_volts_are_read_as_plates_write_them_and_never_guessed(text: str, expected: tuple[float, float] | None) -> None:
    """What is not understood is unknown: a guess could destroy a unit."""
    assert volts_range(text) == expected


def test_a_unit_may_say_that_it_takes_no_supply() -> None:
    """A volume pedal is passive, which is not the same as not noted."""
    assert Supply(volts="none").none
    assert not Supply(volts="9").none


@pytest.mark.parametrize(
    ("written", "kept"),
    [("18V", "18"), ("18 V", "18"), ("9 v - 18 V", "9-18"), ("9 to 18", "9 to 18"), ("none", "none"), ("9", "9")],
)
def test_volts_that_are_written_with_their_unit_are_kept_without_it(written: str, kept: str) -> None:
    """Else they are printed as "18V V DC"."""
    assert Supply(volts=written).volts == kept
    assert kept == "none" or Outlet(name="1", volts=written).volts == kept


@pytest.mark.parametrize("written", ["18-9", "see plate", "9V DC", "9 or 12", "-9"])
def test_volts_that_nobody_can_read_are_a_fault(written: str) -> None:
    """They are refused where a unit is entered; a library that holds such stays as it is, and the check tells them."""
    (fault,) = check_unit(Unit(supply=Supply(volts=written)))

    assert fault.path == ("supply", "volts")
    assert str(fault).startswith(f"{written!r} is no voltage; accepted: volts as on the plate, such as 9, 18 V or 9-18")


def test_an_outlet_needs_volts_that_can_be_read() -> None:
    """An outlet of unknown voltage feeds nothing."""
    with pytest.raises(ValidationError, match="an outlet's volts are written as 9, or 9-18"):
        Outlet(name="1", volts="some")


def test_two_outlets_of_one_name_are_a_fault() -> None:
    """A plan names outlets, so each needs its own name."""
    outlets = (Outlet(name="1", volts="9"), Outlet(name="1", volts="12"))

    assert [str(fault) for fault in check_unit(Unit(outlets=outlets))] == ["outlet '1' is described twice."]


def test_the_supply_of_a_rig_must_be_there_and_have_outlets() -> None:
    """Both are told where the rig is entered."""
    units = {"fuzz": unit(), "supply": Unit(outlets=(Outlet(name="1", volts="9"),))}

    assert list(check_rig(rig("fuzz", supply="supply"), units)) == []
    assert [fault.path for fault in check_rig(rig("fuzz", supply="fuzz"), units)] == [("supply",)]
    (fault,) = check_rig(rig("fuzz", supply="suply"), units)
    assert str(fault) == "no unit is called 'suply'. Did you mean 'supply'?"


def test_every_preference_of_common_practice_says_why_and_none_contradicts_another() -> None:
    """A table that wants a before b and b before a would blame every place."""
    order = Practice().order

    assert all(each.reason for each in order)
    pairs = {(each.first, each.then) for each in order}
    assert len(pairs) == len(order)
    assert not {(then, first) for first, then in pairs} & pairs


def test_a_library_may_override_any_of_common_practice() -> None:
    """In its own words."""
    said = {"headroom": "0.3", "order": [{"first": "reverb", "then": "fuzz", "reason": "we like it"}]}

    practice = Practice.model_validate(said)

    assert practice.headroom == 0.3
    assert practice.order == (Preference.model_validate(said["order"][0]),)  # type: ignore[index]
    with pytest.raises(ValidationError):
        Practice(headroom=1)
