"""Rigs side by side."""

import pytest

from scenebook.model import Library, Rig
from scenebook.planning.compare import GigHands, Total, compared
from scenebook.planning.reach import reach
from tests.support.build import GIG, gig, library, rig, song, unit

FOOT = {"switches": {"main": {"foot": True}}}
UNITS = {
    "fuzz": unit(**FOOT, weight_g=300, size={"width": 60, "depth": 100}, supply={"volts": "9", "ma": 20}),
    "wah": unit(**FOOT, owned=False, price=80, supply={"volts": "none"}, weight_g=900),
    "hired": unit(**FOOT, owned=False, boot_s=70),
    "deaf": unit(weight_g=10),
    "ring": unit(supply={"volts": "12", "current": "AC", "own": True, "ma": 160}),
    "brick": unit(outlets=[{"name": "1", "volts": "9", "ma": 500}], weight_g=500, size={"width": 100, "depth": 50}),
}


def side_by_side(**rigs: object) -> Library:
    scenes = {"a": {"fuzz": "on"}, "b": {"wah": "on", "fuzz": "on"}}
    of = library(UNITS, rig(), {"song": song(scenes), "stuck": song({"a": {"deaf": "on"}})}, gig("song"))
    return of.model_copy(update={"rigs": rigs})


def test_what_is_known_is_added_up_and_what_is_not_is_named() -> None:
    """Never taken as 0: of the hired one nobody knows price, weight, current or size."""
    of = side_by_side(one=rig("fuzz", "wah", "hired", supply="brick", frame_g=1000, case_g=2000))

    (facts,), _ = compared(of, ["one"])

    leads = (
        4 + 3
    )  # of the signal, its two ends too; of the supply to the fuzz and the hired one, and its own to the mains
    assert facts.units == ("fuzz", "wah", "hired", "brick")
    assert facts.load == "3 units and a supply"
    assert facts.price == Total(80, ("hired",))
    assert facts.weight_g == Total(300 + 900 + 500 + 3000 + leads * 60, ("hired",))
    assert facts.current_ma == Total(20, ("hired",))
    assert facts.area_mm2 == Total(60 * 100 + 100 * 50, ("wah", "hired"))


def test_a_unit_with_its_own_supply_takes_nothing_from_the_rigs() -> None:
    """It brings a transformer along."""
    assert compared(side_by_side(one=rig("ring", "fuzz")), ["one"])[0][0].current_ma == Total(20, ())


def test_reach_and_presses_are_those_of_reach_and_compile() -> None:
    """One press for each that goes on: the fuzz, then the wah; what is set before the first song is set up."""
    of = side_by_side(small=rig("fuzz"), large=rig("fuzz", "wah"))

    (small, large), _ = compared(of, ["small", "large"])

    assert (small.share, large.share) == (reach(of, "small").share, 1.0) == (0.5, 1.0)
    assert (small.gigs, large.gigs) == ((GigHands(GIG, 1, 0),), (GigHands(GIG, 2, 0),))


def test_a_gig_that_cannot_be_played_says_why() -> None:
    """The others are compared all the same."""
    of = side_by_side(one=rig("fuzz", "deaf")).model_copy(update={"gigs": {GIG: gig("stuck"), "other": gig("song")}})

    stuck, other = compared(of, ["one"])[0][0].gigs

    assert "nothing works 'main' on this rig" in stuck.refused
    assert (other.presses, other.refused) == (1, "")


def test_a_rig_that_cannot_play_a_named_gig_says_why_and_the_others_are_compared() -> None:
    """One that carries the replacement already has nobody to play the part."""
    of = side_by_side(one=rig("fuzz", "wah"), two=rig("fuzz", "wah", "hired"))
    of = of.model_copy(update={"gigs": {GIG: gig("song", played_by={"wah": "hired"})}})

    facts, failed = compared(of, ["one", "two"], [GIG])
    every, none = compared(of, ["two"])

    assert [each.rig for each in facts] == ["one"]
    assert [each.rig for each in failed] == ["two"]
    assert "hired" in failed[0].why
    assert ([gig for gig, _ in every[0].left_out], none) == ([GIG], ())


@pytest.mark.parametrize(
    ("board", "seconds"),
    [
        (rig("fuzz", frame_g=900), 50 + 3 + 15),
        (rig("fuzz", "hired", case_g=900), 20 + 70 + 6 + 15),
        (rig("fuzz", "hired"), 580 + 70 + 6 + 15),
    ],
)
def test_set_up_lasts_until_the_line_check_is_done(board: Rig, seconds: float) -> None:
    """Case to sound or the slowest unit awake, then home, then the check; all of it common practice."""
    facts = compared(side_by_side(one=board), ["one"])[0][0]

    assert (facts.set_up_s, facts.is_fixed) == (seconds, bool(board.frame_g or board.case_g))
