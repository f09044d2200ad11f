"""What a player reads of outlets, of places in the chain and of a switcher's loops."""

import json
from pathlib import Path

import pytest

from scenebook.planning.power import CAUTIONS
from tests.support.terminal import contents, typed


def test_power_says_what_hangs_where_and_warns(demo: Path) -> None:
    """Every unit of the hall board has an outlet; the cautions are always there."""
    printed = typed("rig", "power", "hall")

    lines = printed.out.splitlines()
    assert (printed.code, printed.err) == (0, "")
    assert lines[0] == "hall board on supply, ten outlets: it feeds every unit."
    assert any(line.startswith("  8 ") and "multi-effects, large (9 V DC, 620 mA)" in line for line in lines)
    assert any("set to 9 V: loop switcher" in line for line in lines)
    in_all = "In all 1,594 mA, 14.3 W of 30 W, at the volts noted; 1,970.3 mA, 17.7 W while all start at once."
    assert in_all in lines
    assert "On their own mains supply: ring modulator" in lines
    assert "Take no supply: volume pedal" in lines
    assert lines[-len(CAUTIONS) :] == [f"  {caution}" for caution in CAUTIONS]


def test_power_says_why_not_and_the_least_change(demo: Path) -> None:
    """A wall of units on ten outlets: some need a lead, some an outlet, and one an AC supply."""
    printed = typed("rig", "power", "studio", "--supply", "supply, ten")
    out = printed.out

    assert (printed.code, printed.err) == (1, "")
    assert "drive, valve has no outlet:\n" in out
    assert "AC is not DC" in out
    assert "The least that would feed them all:\n" in out
    assert "for preamp, viola on outlet 9: a lead from one plug to the other that turns the polarity" in out
    assert "for drive, valve: one more outlet, 12 V AC, 5.5 x 2.5 mm, made for at least 1,125 mA" in out
    assert CAUTIONS[0] in out


def test_power_names_another_supply_that_would_do(demo: Path) -> None:
    """A bigger supply may lie on the shelf."""
    printed = typed("rig", "power", "hall", "--supply", "supply, five").out

    assert printed.startswith("hall board on supply, five outlets: 7 units fed, 3 not.\n")
    assert "Or another supply of the library, which feeds them all: supply, ten outlets\n" in printed


def test_power_without_a_supply_says_what_one_must_give(demo: Path) -> None:
    """The wall names none."""
    printed = typed("rig", "power", "studio")
    out = printed.out

    assert printed.code == 1
    assert out.startswith("studio wall: it names no supply.\n")
    assert "What a supply would have to give, an outlet for each:\n  tuner, stage   " in out
    assert "9 V DC, centre positive, 3.5 x 1.35 mm, isolated and for it alone\n" in out
    assert "15 V DC, centre positive, 5.5 x 2.5 mm\n" in out  # its ground is noted to be the negative pole


def test_power_speaks_json(demo: Path) -> None:
    """For a player's own scripts."""
    found = json.loads(typed("rig", "power", "fly board", "--json").out)

    assert found["feeds_all"] is True
    assert found["outlets"][2]["units"] == ["drive, soft", "preamp and direct box"]
    assert found["outlets"][2]["needed_ma"] == 58.75
    assert [each["outlet"] for each in found["splitting_leads"]] == ["3"]
    assert (found["ma"], found["watts"]) == (630, 5.67)
    assert found["cautions"] == list(CAUTIONS)


def test_place_says_todays_place_the_best_and_why(demo: Path) -> None:
    """A fuzz that wants the bare pickup stands behind the tuner's buffer."""
    printed = typed("rig", "place", "studio", "fuzz, silicon")
    hall = typed("rig", "place", "hall", "fuzz, silicon")

    assert (printed.code, printed.err) == (0, "")
    assert "fuzz, silicon should come before tuner, stage  a low-impedance fuzz wants the bare pickup" in printed.out
    assert (
        "Best in one place: between volume pedal and preamp, viola; a broken preference is heard 50 times.\n"
        in printed.out
    )
    assert "Today: between octave down and drive, soft; a broken preference is heard 43 times.\n" in hall.out
    assert "No other place breaks less: leave it where it is.\n" in hall.out
    assert "common practice, with no source" in printed.out


def test_place_tells_pairs_for_a_multi_effects(demo: Path) -> None:
    """Before its send and after its return."""
    out = typed("rig", "place", "hall", "multi-effects, large", "--gig", "Pell").out

    assert "Best with other units in its send and return: first between ring modulator and" in out
    assert "Before the send and after the return, the best of 21 pairs:\n" in out


def test_place_leaves_well_alone(demo: Path) -> None:
    """And says so."""
    out = typed("rig", "place", "hall", "octave down").out

    assert "breaks no preference.\nNo other place breaks less: leave it where it is.\n" in out


def test_place_speaks_json(demo: Path) -> None:
    """Every place with what it breaks."""
    found = json.loads(typed("rig", "place", "hall", "octave down", "--json").out)

    assert found["today"] == found["best"]
    assert [each["weight"] for each in found["places"]][:5] == [54, 0, 0, 17, 27]
    assert found["places"][3]["broken"][0]["first"] == "octave down"


def test_switcher_compares_todays_loops_with_the_best(demo: Path) -> None:
    """Before and after in presses inside songs."""
    wall, hall = typed("rig", "switcher", "studio").out, typed("rig", "switcher", "hall").out

    assert "Today: 52 presses inside songs, 22 between them.\n" in wall
    assert "Nothing presses less inside songs: leave the loops as they are." in wall
    assert "Nothing presses less inside songs: leave the loops as they are.\n" in hall
    assert "These scenes speak of a loop by name; look at them if loops change: Nine gannets, surface\n" in hall


def test_switcher_speaks_json(demo: Path) -> None:
    """The loops today and at their best."""
    found = json.loads(typed("rig", "switcher", "hall", "--json").out)

    assert found["best"] == found["today"]
    assert found["presses"]["without"] == {"inside": 192, "between": 39}
    assert found["proved"] is True


@pytest.mark.parametrize(
    ("words", "error"),
    [
        (["power", "moon"], "no rig is called 'moon'"),
        (
            ["power", "hall", "--supply", "drive, soft"],
            "rig 'hall board': 'drive, soft' has no outlets, so it feeds nothing",
        ),
        (["place", "hall", "moon"], "no unit is called 'moon'"),
        (["place", "hall", "drive, soft", "--gig", "moon"], "no gig is called 'moon'"),
        (["switcher", "fly board"], "rig 'fly board': no unit of it has loops"),
        (["switcher", "hall", "--switcher", "tuner"], "rig 'hall board': 'tuner, stage' holds no loops there"),
    ],
)
def test_bad_input_is_one_clear_error_and_changes_nothing(demo: Path, words: list[str], error: str) -> None:
    """Where, what was found, what is accepted."""
    before = contents(demo)

    printed = typed("rig", *words)

    assert (printed.code, printed.out) == (2, "")
    assert printed.err.startswith("Error: ")
    assert error in printed.err
    assert len(printed.err.splitlines()) == 1
    assert contents(demo) == before
