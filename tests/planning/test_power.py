"""Which unit hangs on which outlet, why one does not, and the least change that would do."""

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenebook.cli.power_words import power_lines
from scenebook.model import Outlet, Practice, Supply, Unit
from scenebook.planning.outlets import Bar, bars, draw_of, unknowns
from scenebook.planning.power import Change, ChangeKind, Power, power, power_of
from tests.demo_library.reading import demo_library

NEGATIVE, POSITIVE = "centre negative", "centre positive"


def taking(ma: float | None = 50, volts: str = "9", *, boot_s: float | None = None, **said: object) -> Unit:
    whole = {"volts": volts, "ma": ma, "polarity": NEGATIVE, "plug": "5.5 x 2.1 mm", **said}
    return Unit(supply=Supply.model_validate(whole), boot_s=boot_s)


def outlet(name: str, ma: float | None = 100, volts: str = "9", **said: object) -> Outlet:
    whole = {"polarity": NEGATIVE, "plug": "5.5 × 2.1", "isolated": True, **said}
    return Outlet.model_validate({"name": name, "volts": volts, "ma": ma, **whole})


def plan(units: dict[str, Unit], *outlets: Outlet, limit_w: float | None = None, **practice: float) -> Power:
    return power_of(units, Unit(outlets=outlets, outlets_w=limit_w), Practice.model_validate(practice))


def fed(of: Power) -> dict[str, tuple[str, ...]]:
    return {load.outlet.name: load.units for load in of.loads if load.units}


def test_each_unit_gets_the_first_outlet_that_will_do() -> None:
    """Ties go to the order in the chain, so that the answer is the same everywhere."""
    found = plan(
        {"fuzz": taking(10), "delay": taking(250), "drive": taking(20)}, outlet("1"), outlet("2", 400), outlet("3")
    )

    assert fed(found) == {"1": ("fuzz",), "2": ("delay",), "3": ("drive",)}
    assert found.feeds_all
    assert found.proved


def test_units_share_an_outlet_only_where_there_are_too_few() -> None:
    """A shared ground can hum: as few as can be share one."""
    assert fed(plan({"a": taking(30), "b": taking(30)}, outlet("1"), outlet("2"))) == {"1": ("a",), "2": ("b",)}
    assert fed(plan({"a": taking(30), "b": taking(30)}, outlet("1"))) == {"1": ("a", "b")}


def test_what_has_to_share_goes_where_most_room_is_left() -> None:
    """Two units on an outlet that is filled to the last mA, beside one that is nearly idle, ask for trouble."""
    units = {"delay": taking(200), "multi": taking(200), "tuner": taking(10)}

    found = plan(units, outlet("1", 500), outlet("2", 500))

    assert fed(found) == {"1": ("delay", "tuner"), "2": ("multi",)}
    tight = plan({"a": taking(40), "b": taking(40), "c": taking(60)}, outlet("1"), outlet("2", 500))
    assert fed(tight) == {"1": ("c",), "2": ("a", "b")}


def test_an_outlet_that_is_shared_takes_a_splitting_lead_and_says_what_is_lost() -> None:
    """The lead has to be had, and a shared ground can hum."""
    lines = list(power_lines("board", plan({"a": taking(30), "b": taking(30), "c": taking(50)}, outlet("1", 500))))
    apart = list(power_lines("board", plan({"a": taking(30)}, outlet("1"))))

    said = "Outlet 1 feeds 3 units: a splitting lead goes to a + b + c; they lose their isolation from each other, and"
    assert any(line.startswith(said) for line in lines)
    assert not any("splitting lead" in line for line in apart)


@pytest.mark.parametrize(
    ("unit", "given_by", "why"),
    [
        (taking(volts="12"), outlet("1"), Bar.VOLTS),
        (taking(volts="12-18"), outlet("1", volts="9"), Bar.VOLTS),
        (taking(current="AC", polarity=None), outlet("1"), Bar.CURRENT),
        (taking(polarity=POSITIVE), outlet("1"), Bar.POLARITY),
        (taking(plug="5.5 x 2.5 mm"), outlet("1"), Bar.PLUG),
        (taking(90), outlet("1"), Bar.LITTLE),
        (taking(positive_ground=True), outlet("1", isolated=False), Bar.GROUND),
    ],
)
def test_what_does_not_go_together_is_never_joined(unit: Unit, given_by: Outlet, why: Bar) -> None:
    """Each of these can destroy a unit, or does not work."""
    found = plan({"unit": unit}, given_by)

    assert [each.unit for each in found.unfed] == ["unit"]
    assert found.unfed[0].why == (("1", (why,)),)


def test_a_range_of_volts_goes_with_any_outlet_inside_it() -> None:
    """A unit for 9 to 18 V takes 12; an outlet that is set takes the unit's voltage."""
    assert plan({"a": taking(volts="9-18")}, outlet("1", volts="12")).feeds_all
    assert plan({"a": taking(volts="9 V")}, outlet("1", volts="9-18")).loads[0].volts == (9, 9)


def test_units_of_two_voltages_never_share_an_outlet_that_is_set() -> None:
    """One of them would get the other's voltage."""
    units = {"a": taking(10, "9"), "b": taking(10, "12"), "c": taking(10, "9-12")}

    found = plan(units, outlet("1", volts="9-18"))

    assert fed(found) == {"1": ("a", "c")}
    assert found.unfed[0].why == (("1", (Bar.TAKEN,)),)


@pytest.mark.parametrize("polarity", [NEGATIVE, POSITIVE])
def test_positive_ground_is_alone_on_its_outlet(polarity: str) -> None:
    """Beside another unit the two grounds would short the supply."""
    units = {"old": taking(10, positive_ground=True, polarity=polarity), "new": taking(10, polarity=polarity)}

    found = plan(units, outlet("1", polarity=polarity))

    assert fed(found) == {"1": ("old",)}


def test_a_centre_positive_unit_of_unknown_ground_has_an_isolated_outlet_for_itself_and_is_to_be_looked_at() -> None:
    """The plug says nothing of the ground, and a positive ground beside another unit shorts the supply."""
    units = {"fuzz": taking(10, polarity=POSITIVE), "other": taking(10, polarity=POSITIVE, positive_ground=False)}
    shared, apart = (outlet(name, polarity=POSITIVE, isolated=name == "2") for name in ("1", "2"))

    either, dark, alone = plan(units, shared, apart), plan(units, shared), plan(units, apart)

    assert fed(either) == {"1": ("other",), "2": ("fuzz",)}
    assert [each.unit for each in dark.unfed] == ["fuzz"]
    assert dark.unfed[0].why == (("1", (Bar.GROUND,)),)
    assert len(alone.loads[0].units) == 1
    for each in (either, dark, alone):
        (caution,) = each.cautions
        assert caution.startswith("fuzz is centre positive, and whether its ground is the positive pole is not noted")
        assert "Look at its plate, ask its maker, or measure, with supply and battery out" in caution


def test_no_lead_that_turns_the_polarity_puts_an_unknown_ground_beside_another_unit() -> None:
    """A germanium fuzz on the tuner's outlet, by such a lead, would join its plus with the tuner's minus."""
    units = {"tuner": taking(30), "fuzz": taking(3, polarity=POSITIVE)}

    one, two = plan(units, outlet("1")), plan(units, outlet("1"), outlet("2"))

    assert [(each.kind, each.units) for each in one.changes] == [(ChangeKind.OUTLET, ("fuzz",))]
    assert any("isolated and for it alone" in line for line in power_lines("board", one))
    assert [(each.kind, each.outlet) for each in two.changes] == [(ChangeKind.LEAD, "2")]
    said = {**units, "fuzz": taking(3, polarity=POSITIVE, positive_ground=False)}
    assert [(each.kind, each.outlet) for each in plan(said, outlet("1")).changes] == [(ChangeKind.LEAD, "1")]
    assert plan(said, outlet("1")).cautions == ()


def test_ac_units_on_one_outlet_are_for_their_makers_to_allow() -> None:
    """Two rectifiers on one winding, with the grounds of both joined by the signal."""
    units = {name: taking(50, current="AC", polarity=None) for name in ("ring", "tube")}

    found = plan(units, outlet("1", 500, current="AC", polarity=None))

    assert fed(found) == {"1": ("ring", "tube")}
    assert [each.split(":")[0] for each in found.cautions] == ["ring + tube share the AC outlet 1"]


def test_the_start_of_all_units_at_once_keeps_to_what_the_supply_gives() -> None:
    """Running they take 2.7 W of 4 W, 3.2 being free; starting 5.4 W: one of them starts too much."""
    units = {"a": taking(150, boot_s=5), "b": taking(150, boot_s=5)}

    found = plan(units, outlet("1", 500), outlet("2", 500), limit_w=4, surge=2)
    enough = plan(units, outlet("1", 500), outlet("2", 500), limit_w=5.4, surge=2)

    assert [each.unit for each in found.unfed] == ["b"]
    assert enough.feeds_all
    assert (enough.watts, enough.peak_watts) == (pytest.approx(2.7), pytest.approx(5.4))


def test_what_boots_takes_more_at_start_up() -> None:
    """Without headroom the start alone would be too much for the outlet."""
    assert plan({"a": taking(90)}, outlet("1"), headroom=0).feeds_all
    assert not plan({"a": taking(90, boot_s=5)}, outlet("1"), headroom=0).feeds_all


def test_what_is_not_known_is_named_and_in_no_sum() -> None:
    """Unknown draw is unknown, not zero."""
    units = {"bare": Unit(), "silent": taking(None), "odd": taking(volts="see plate"), "bent": taking(polarity=None)}

    found = plan(units, outlet("1"), outlet("2", None), outlet("3", polarity=None))

    assert found.unknown == (
        ("bare", ("supply",)),
        ("silent", ("mA",)),
        ("odd", ("volts",)),
        ("bent", ("polarity",)),
    )
    assert found.unclear == (("2", ("mA",)), ("3", ("polarity",)))
    assert (found.ma, found.unfed, found.feeds_all) == (0, (), False)


def test_a_unit_without_supply_and_one_with_its_own_need_no_outlet() -> None:
    """A volume pedal takes nothing; a transformer of its own goes into the wall."""
    units = {"pedal": Unit(supply=Supply(volts="none")), "ring": taking(own=True, current="AC")}

    found = plan(units)

    assert (found.without, found.own, found.feeds_all) == (("pedal",), ("ring",), True)
    assert unknowns(units["pedal"]) == ()


def test_the_least_change_is_a_lead_before_an_outlet() -> None:
    """A plug and a polarity can be put right by a lead; a voltage cannot."""
    units = {"viola": taking(50, polarity=POSITIVE, plug="5.5 x 2.5 mm"), "phaser": taking(50, "18")}

    found = plan(units, outlet("1"), outlet("2"))

    assert found.changes == (
        Change(ChangeKind.LEAD, ("viola",), "1", (Bar.POLARITY, Bar.PLUG)),
        Change(ChangeKind.OUTLET, ("phaser",), None, (), 62.5),
    )
    assert [load.units for load in found.changed] == [("viola",), (), ("phaser",)]


def test_an_idle_outlet_that_only_lacks_ma_is_to_be_a_bigger_one() -> None:
    """Then the supply needs no more outlets, only a stronger one."""
    found = plan({"one": taking(150)}, outlet("1"), outlet("2"))

    assert found.changes == (Change(ChangeKind.BIGGER, ("one",), "1", (), 187.5),)


def test_after_the_change_every_unit_is_listed_once_on_what_feeds_it() -> None:
    """A bigger outlet feeds its unit in its own place, set to its volts; one more outlet comes after them all."""
    units = {"tuner": taking(30), "floor": taking(500, boot_s=5), "shimmer": taking(280), "ring": taking(50, "24")}

    found = plan(units, outlet("1"), outlet("2", 200, "9-18"), outlet("3", 100, "18"))

    lines = list(power_lines("board", found))
    begin = lines.index("and then:") + 1
    assert lines[begin : begin + 5] == [
        "  outlet 1         tuner",
        "  outlet 2         set to 9 V: floor",
        "  outlet 3         nothing",
        "  one more outlet  shimmer",
        "  one more outlet  ring",
    ]
    assert sorted(unit for load in found.changed for unit in load.units) == sorted(units)
    assert all(load.needed_ma <= (load.outlet.ma or 0) + 1e-6 for load in found.changed)


def test_a_change_may_ask_for_more_than_any_outlet_is_noted_to_give() -> None:
    """With its share kept free 19 A wants 23.75 A, which is above what may be noted of an outlet."""
    found = plan({"wall": taking(19_000), "ring": taking(19_000, "12")}, outlet("1"))

    assert [(load.units, load.outlet.ma) for load in found.changed] == [(("wall",), 23_750), (("ring",), 23_750)]


def test_all_outlets_together_keep_to_what_the_supply_gives() -> None:
    """Five outlets of 500 mA do not make a supply of 22 W."""
    units = {"a": taking(300), "b": taking(300)}

    assert plan(units, outlet("1", 500), outlet("2", 500), limit_w=6.75).feeds_all  # 5.4 W at 80 %
    short = plan(units, outlet("1", 500), outlet("2", 500), limit_w=6.7)
    assert [each.unit for each in short.unfed] == ["b"]
    assert short.changes == (Change(ChangeKind.OUTLET, ("b",), None, (), 375),)


def test_no_supply_says_what_one_would_have_to_give() -> None:
    """Before anything is bought."""
    found = plan({"a": taking(100), "b": taking(20)})

    assert [(each.kind, each.ma) for each in found.changes] == [(ChangeKind.OUTLET, 125), (ChangeKind.OUTLET, 25)]


def test_the_demo_boards_are_fed_by_their_own_supplies() -> None:
    """Every unit of both has its outlet."""
    library = demo_library()

    assert power(library, "hall board").feeds_all
    assert power(library, "fly board").feeds_all
    assert not power(library, "hall board", "supply, five outlets").feeds_all


_UNITS = st.lists(
    st.builds(
        taking,
        st.integers(1, 120),
        st.sampled_from(["9", "12", "9-18"]),
        polarity=st.sampled_from([NEGATIVE, NEGATIVE, POSITIVE]),
        boot_s=st.sampled_from([None, 5]),
    ),
    min_size=1,
    max_size=5,
)
_OUTLETS = st.lists(
    st.tuples(st.integers(20, 200), st.sampled_from(["9", "12", "9-12"]), st.booleans()), min_size=1, max_size=3
)


@settings(max_examples=60, deadline=None)
@given(_UNITS, _OUTLETS)
def test_the_solver_feeds_as_many_as_trying_everything_does(
    units: list[Unit], outlets: list[tuple[int, str, bool]]
) -> None:
    """And no more: each outlet is checked again by hand."""
    named = {f"unit {number}": unit for number, unit in enumerate(units)}
    all_outlets = [outlet(str(n), ma, volts, isolated=isolated) for n, (ma, volts, isolated) in enumerate(outlets)]
    practice = Practice(headroom=0.2)

    found = plan(named, *all_outlets)

    counts = [
        (len(units) - where.count(None), -_shared(where))
        for where in product([None, *range(len(outlets))], repeat=len(units))
        if _is_right(named, all_outlets, where, practice)
    ]
    assert not found.changes or sorted(unit for load in found.changed for unit in load.units) == sorted(named)
    on = {unit: n for n, load in enumerate(found.loads) for unit in load.units}
    where = tuple(on.get(name) for name in named)
    assert _is_right(named, all_outlets, where, practice)
    assert (len(units) - where.count(None), -_shared(where)) == max(counts)


def _shared(where: tuple[int | None, ...]) -> int:
    used = [at for at in where if at is not None]
    return len(used) - len(set(used))


def _is_right(named: dict[str, Unit], outlets: list[Outlet], where: tuple[int | None, ...], practice: Practice) -> bool:
    draws = [draw_of(name, unit, practice) for name, unit in named.items()]
    for at, each in enumerate(outlets):
        hung = [draw for draw, place in zip(draws, where, strict=True) if place == at]
        if any(bars(draw, each, practice.headroom) for draw in hung) or (len(hung) > 1 and any(d.alone for d in hung)):
            return False
        volts = [set(range(9, 19)) if d.supply.volts == "9-18" else {int(d.supply.volts)} for d in hung]
        given_volts = set(range(9, 13)) if each.volts == "9-12" else {int(each.volts)}
        if not given_volts.intersection(*volts):
            return False
        assert each.ma is not None
        if sum(d.ma for d in hung) > each.ma * 0.8 + 1e-6 or sum(d.peak_ma for d in hung) > each.ma + 1e-6:
            return False
    return True
