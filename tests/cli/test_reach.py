"""What a player reads of a rig's reach, of rigs side by side, and of the work between songs."""

import json
from pathlib import Path

import pytest

from scenebook.cli.reach_words import distance_words, number_words, position_words
from scenebook.model.values import Scale
from tests.support.terminal import contents, typed


def test_reach_says_what_each_scene_comes_to_and_what_loses_most_first(demo: Path) -> None:
    """One look tells whether the fly board will do."""
    printed = typed("rig", "reach", "fly board", "--gig", "Pell")

    lines = printed.out.splitlines()
    assert printed.code == 0
    assert lines[0] == "fly board reaches 74%: worth 97.8 of 132."
    songs = [line for line in lines if line.startswith("  ") and " of " in line and ", loses " in line]
    lost = [float(line.rsplit("loses ", 1)[1]) for line in songs]
    assert lost == sorted(lost, reverse=True)
    assert "    haul   3×  without compressor, optical; drive, valve: drive, soft, likeness 0.7" in lines
    assert any(line.startswith("Would add most:") for line in lines)


def test_reach_tells_knobs_losses_and_the_leads_to_join(demo: Path) -> None:
    """What is asked for when something dies."""
    out = typed("rig", "reach", "hall board", "--gig", "Pell Quay hall").out

    assert "  delay, tape voiced wow, at Pell Quay hall, 1 time:\n    3 in Harbour lights out, dimming\n" in out
    assert "    → 5 is the middle, 2 off. delay, digital could play one of the two (not carried).\n" in out
    assert "    join the lead from octave down with the one to drive, soft\n" in out
    assert (
        "    MIDI: join the lead from the thru of loop switcher with the one to delay, tape voiced; "
        "then only multi-effects, large is deaf\n"
    ) in out


def test_scenes_of_no_gig_are_told_apart_and_only_counted_where_they_are_many(demo: Path) -> None:
    """Spare songs can be played too; one short gig leaves most of a library aside."""
    few, many = typed("rig", "reach", "hall").out, typed("rig", "reach", "hall", "--gig", "Skerrow").out

    assert "\n\nIn no set of these gigs:\n" in few
    assert "  Limpet              stuck     without equaliser, seven bands\n" in few
    assert "\n\nIn no set of these gigs: " in many


def test_reach_speaks_json_with_the_same_numbers(demo: Path) -> None:
    """For a player's own scripts: worth is the sum over scenes, and each scene says why."""
    found = json.loads(typed("rig", "reach", "fly board", "--json").out)

    assert found["whole"] == sum(each["times"] for each in found["scenes"]) == 255
    assert found["worth"] == pytest.approx(sum(each["worth"] for each in found["scenes"]))
    assert {each["outcome"] for each in found["scenes"]} == {
        "whole",
        "by a stand-in",
        "without a colour",
        "lacking a must",
    }
    assert found["would_add"][0]["unit"] == "multi-effects, large"
    assert {each["kind"] for each in found["losses"]} == {"unit", "supply", "MIDI lead"}


def test_the_mean_is_more_than_the_worst(demo: Path) -> None:
    """And says more of a scene that has much and lacks little."""
    worst = json.loads(typed("rig", "reach", "fly board", "--json").out)
    mean = json.loads(typed("rig", "reach", "fly board", "--mean", "--json").out)

    assert mean["whole"] == worst["whole"]
    assert mean["worth"] > worst["worth"]


def test_rigs_stand_side_by_side(demo: Path) -> None:
    """The same facts in the order given, and what nobody knows of a unit is named."""
    printed = typed("rig", "compare", "hall board", "studio")
    found = json.loads(typed("rig", "compare", "hall board", "studio", "--json").out)

    lines = printed.out.splitlines()
    assert lines[0].split() == ["hall", "board", "studio", "wall"]
    assert [line.split("  ")[0] for line in lines[1:7]] == [
        "units",
        "price of what is not owned",
        "weight",
        "current",
        "area",
        "reach",
    ]
    assert [each["rig"] for each in found] == ["hall board", "studio wall"]
    assert [each["gig"] for each in found[0]["gigs"]] == [
        "Pell Quay hall",
        "Skerrow Head fly-in",
        "Tallow reading room",
    ]


def test_a_weight_that_nobody_knows_is_named(demo: Path) -> None:
    """It is never counted as nothing."""
    assert typed("unit", "add", "mystery box").code == 0
    assert typed("rig", "add", "two", "mystery box", "tuner, stage").code == 0

    out = typed("rig", "compare", "two").out

    assert "\nweight                      0.67 kg + 3 unknown\n" in out
    assert "two: weight not known of mystery box; bare board or frame; case or bag\n" in out


def test_work_says_the_worst_change_of_songs_first(demo: Path) -> None:
    """Another viola in eight seconds cannot be done."""
    printed = typed("gig", "work", "Skerrow")

    assert printed.code == 0
    assert printed.out.startswith(
        "Skerrow Head fly-in on fly board: 93.5 s by hand between songs\n"
        "\n"
        "3. Kelp fire → 4. Chalk line: late by 12.7 s\n"
        "  20.7 s of 8 s, 1 press\n"
        "  In the gap before: take five-string viola, F C G D A\n"
    )


def test_work_speaks_json_in_the_words_of_compile(demo: Path) -> None:
    """A move is a move."""
    found = json.loads(typed("gig", "work", "Skerrow", "--json").out)

    assert len(found["changes"]) == 11
    assert found["takes_ms"] == sum(each["takes_ms"] for each in found["changes"])
    assert set(found["changes"][0]["moves"][0]) == {
        "do",
        "unit",
        "member",
        "from",
        "to",
        "when",
        "for_cue",
        "takes_ms",
        "presses",
    }


@pytest.mark.parametrize(
    ("command", "message"),
    [
        (["rig", "reach", "hull board"], "Error: no rig is called 'hull board'. Did you mean 'hall board'?\n"),
        (
            ["rig", "reach", "hall", "--gig", "Pel Key"],
            "Error: no gig is called 'Pel Key'; accepted: 'Pell Quay hall', ",
        ),
        (["rig", "compare", "hall", "nowhere"], "Error: no rig is called 'nowhere'"),
        (["gig", "work", "Nowhere"], "Error: no gig is called 'Nowhere'"),
    ],
)
def test_a_name_that_is_not_there_is_one_clear_error(demo: Path, command: list[str], message: str) -> None:
    """And nothing changes."""
    before = contents(demo)

    printed = typed(*command)

    assert (printed.code, printed.out) == (2, "")
    assert printed.err.startswith(message)
    assert contents(demo) == before


def test_a_library_without_songs_and_gigs_can_be_asked(empty: Path) -> None:
    """Nothing is reached, nothing is lost, and nobody falls over it."""
    assert typed("unit", "add", "fuzz").code == 0
    assert typed("rig", "add", "small", "fuzz").code == 0

    printed = typed("rig", "reach", "small")

    assert printed.code == 0
    assert printed.out.startswith("small reaches 100%: worth 0 of 0.\n")


@pytest.mark.parametrize(
    ("value", "scale", "position", "distance"),
    [
        (0.65, Scale.CLOCK, "1:30", "6 h 30 min"),
        (0.05, Scale.CLOCK, "7:30", "30 min"),
        (6.5, Scale.TEN, "6.5", "6.5"),
        (35.0, Scale.PERCENT, "35 %", "35 %"),
        (489.13, Scale.NOTE_VALUE, "489 ms", "489 ms"),
        (-3.0, Scale.DECIBEL, "-3 dB", "-3 dB"),
    ],
)
def test_positions_are_said_as_a_player_writes_them(value: float, scale: Scale, position: str, distance: str) -> None:
    """A knob has no decimals."""
    assert (position_words(value, scale), distance_words(value, scale)) == (position, distance)


def test_numbers_have_no_zeros_at_their_end() -> None:
    """And thousands are set apart."""
    assert [number_words(each) for each in (12.0, 12.25, 0.04, 1200.0)] == ["12", "12.2", "0", "1,200"]
