"""What a player reads of a rig's reach, of rigs side by side, and of the work between songs."""

import json
import re
from pathlib import Path

import pytest

from scenebook.cli.reach_words import distance_words, position_words
from scenebook.model.amounts import number_words, share_words
from scenebook.model.values import Scale
from tests.support.terminal import contents, typed, write_folder


def test_reach_says_what_each_scene_comes_to_and_what_loses_most_first(demo: Path) -> None:
    """One look tells whether the fly board will do."""
    printed = typed("rig", "reach", "fly board", "--gig", "Pell")

    found = json.loads(typed("rig", "reach", "fly board", "--gig", "Pell", "--json").out)

    lines = printed.out.splitlines()
    assert printed.code == 0
    share, worth = share_words(found["worth"], 132), number_words(found["worth"])
    assert lines[0] == f"fly board reaches {share}: {worth} of 132 scenes as played."
    songs = [line for line in lines if line.startswith("  ") and " of " in line and ", loses " in line]
    lost = [float(line.rsplit("loses ", 1)[1]) for line in songs]
    assert lost == sorted(lost, reverse=True)
    assert "    ◇ haul   3×  without the colour compressor, optical; drive, soft for drive, valve (0.7)" in lines
    assert any(line.startswith("Would add most:") for line in lines)


def test_a_dead_switcher_is_told_by_what_it_costs_the_feet(demo: Path) -> None:
    """192 presses without loops, 24 with them (`rig switcher` says so): nothing that a scene needs is lost."""
    reached = typed("rig", "reach", "hall board").out
    packed = json.loads(typed("rig", "pack", "hall board", "--json").out)

    assert "feet press 168 times more inside songs, once the leads are joined" in reached
    dead = next(each for each in packed["if_it_dies"] if each["name"] == "loop switcher")
    assert dead["more_presses_inside_songs"] == 168


def test_a_must_that_lacks_and_a_colour_that_is_missing_are_marked_apart(demo: Path) -> None:
    """One costs the scene, the other a fifth of it: the eye must find the first."""
    lines = typed("rig", "reach", "hall board").out.splitlines()

    legend = next(number for number, line in enumerate(lines) if line.startswith("  ◆ lacks a must   ◇ is without"))
    end = next(number for number, line in enumerate(lines) if line.startswith("Would add most"))
    rows = [line.strip() for line in lines[legend + 1 : end]]
    assert any(row.startswith("◆ haul") for row in rows)
    assert all(row.startswith("◆") for row in rows if "lacks the must" in row)
    assert all(row.startswith(("◆", "◇")) for row in rows if "without the colour" in row)


def test_songs_of_which_all_is_reached_are_one_line_each_stand_in_one_row(demo: Path) -> None:
    """What is well needs no forty lines; what plays the part of something is told once with its likeness."""
    lines = typed("rig", "reach", "hall board").out.splitlines()

    assert any(
        re.fullmatch(r"Whole in every scene \(\d+ songs, with how many scenes as played\):", line) for line in lines
    )
    assert "      whole:      slip 1×" in lines
    assert any(line.split("  ")[1:3] == ["0.5", " multi-effects, large chorus for phaser, slow"] for line in lines)


def test_reach_tells_knobs_losses_and_the_leads_to_join(demo: Path) -> None:
    """What is asked for when something dies."""
    out = typed("rig", "reach", "hall board", "--gig", "Pell Quay hall").out

    assert "  delay, tape voiced wow, at Pell Quay hall, once; and in a gap once:\n    3 in " in out
    assert "    7 in Harbour lights out, dark\n" in out
    assert "    → 5 is the middle, 2 off.\n" in out  # no other unit has a wow
    assert "    join the lead from loop 2 send of loop switcher with the one to loop 2 return of loop switcher\n" in out
    assert (
        "    MIDI: join the lead from the thru of loop switcher with the one to delay, tape voiced; "
        "then only multi-effects, large is deaf\n"
    ) in out


def test_a_lead_that_nobody_noted_is_told_with_its_mark(demo: Path) -> None:
    """A player who joins two leads on a dark stage must know that one of them was only taken for granted."""
    rig = "name: two\nchain: [ring modulator, 'delay, tape voiced']\nunits:\n"
    rig += "  ring modulator: {port: p, channel: 1}\n  'delay, tape voiced': {port: p, channel: 2}\n"
    (demo.parent / "f/rigs").mkdir(parents=True)
    (demo.parent / "f/rigs/two.yaml").write_text(rig)
    assert typed("library", "import", str(demo.parent / "f")).code == 0

    out = typed("rig", "reach", "two").out
    leads = [each for each in json.loads(typed("rig", "reach", "two", "--json").out)["losses"] if each["from"]]

    assert "\n  MIDI lead from port p to ring modulator, not noted, taken for granted: " in out
    join = "MIDI: join the lead from port p with the one to delay, tape voiced (not noted, taken for granted)"
    assert f"\n    {join}; then only ring modulator is deaf\n" in out
    assert [(each["from"], each["name"], each["assumed"]) for each in leads] == [
        ("port p", "ring modulator", True),
        ("ring modulator", "delay, tape voiced", True),
    ]
    assert leads[0]["join"] == [{"lines": "MIDI", "from": "port p", "to": "delay, tape voiced", "assumed": True}]


def test_scenes_of_no_gig_are_told_apart_and_only_counted_where_they_are_many(demo: Path) -> None:
    """Spare songs can be played too; one short gig leaves most of a library aside."""
    few, many = typed("rig", "reach", "hall").out, typed("rig", "reach", "hall", "--gig", "Skerrow").out

    assert "\n\nIn no set of these gigs:\n" in few
    assert "  ◇ Limpet              stuck     without the colour equaliser, seven bands\n" in few
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
        "carried",
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
        "Skerrow Head fly-in on fly board: 1 min 34 s by hand between songs\n"
        "\n"
        "3. Kelp fire → 4. Chalk line: late by 12.7 s\n"
        "  takes 20.7 s with 1 press; there are 8 s\n"
        "  In the gap before:  take five-string viola, F C G D A\n"
        "                      press octave down, hired: on\n"
    )


def test_work_says_why_a_first_press_makes_nothing_late(demo: Path) -> None:
    """It is made on the beat, when the song begins anyhow."""
    out = typed("gig", "work", "Tallow").out

    assert "  takes 0.7 s with 1 press, on the beat; there is no gap\n  At the cue:  press looper, small: off\n" in out
    assert ": late by 5.7 s\n  takes 6.4 s with 2 presses, the first on the beat; there is no gap\n" in out
    assert "\nThe first press at a cue falls on the beat itself, so it makes nothing late; " in out


def test_a_rig_that_cannot_be_compared_is_named_and_the_others_are_compared(demo: Path) -> None:
    """It carries the replacement already; the answer is no, and said."""
    assert typed("rig", "add", "clash", "octave down", "octave down, hired").code == 0

    printed = typed("rig", "compare", "hall", "clash", "fly board", "--gig", "Skerrow")

    assert (printed.code, printed.err) == (1, "")
    assert printed.out.splitlines()[0].split("  ")[-1] == "fly board"
    assert "clash cannot be compared: the gig's replacements: 'octave down' cannot be played by" in printed.out
    assert (
        "\nclash cannot play Skerrow Head fly-in, which is left out of its reach: "
        in typed("rig", "compare", "clash").out
    )


def test_units_are_counted_alike_wherever_a_rig_is_told(demo: Path) -> None:
    """A supply feeds and does not sound: it counts apart."""
    words = "12 units and a supply"

    assert f"hall board {words}" in " ".join(typed("rig", "list").out.split())
    assert f"carried                     {words}\n" in typed("rig", "compare", "hall").out
    chosen = typed("rig", "choose", "--max", "units=2", "--must", "supply, five").out
    assert chosen.startswith("The best rig: 2 units and a supply, in chain order\n")
    assert "  units:  2 of 2 units\n" in chosen


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
    assert printed.out.startswith("small reaches 100 %: 0 of 0 scenes.\n")


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


def test_reach_tells_which_stand_in_for_a_whole_preset_would_help(empty: Path, tmp_path: Path) -> None:
    """The sections have theirs, and the scene lacks its must all the same."""
    switches = "switches: {chorus: {foot: true, section: modulation}, hall: {foot: true, section: reverb}}\n"
    programs = "programs: {count: 9, first: 1, foot: true}\n"
    wide = "presets: [{slot: 1, name: wide, stores: {chorus: on, hall: on}}]\n"
    stand_ins = "".join(
        f"  - {{part: floor, part_switch: {each}, by: pocket, switch: {each}, likeness: 0.9}}\n"
        for each in ("chorus", "hall")
    )
    folder = write_folder(
        tmp_path / "f",
        units__floor=f"name: floor\n{switches}{programs}{wide}",
        units__pocket=f"name: pocket\n{switches}{programs}",
        rigs__fly=f"name: fly\nchain: [pocket]\nstand_ins:\n{stand_ins}",
        songs__one="name: one\nscenes:\n  verse:\n    units:\n      floor: {preset: wide}\n",
    )
    assert typed("library", "import", str(folder)).code == 0

    out = typed("rig", "reach", "fly").out

    assert "lacks the must floor preset wide" in out
    assert (
        "Stand-ins that the rig could be told, by your ear, and how often each would play:\n"
        "  floor, part_preset: wide  by pocket, preset: one to be described with chorus and hall on  1×\n"
        "  Their sections have stand-ins, but a preset is one thing: only a stand-in with part_preset meets it.\n"
    ) in out
    (found,) = json.loads(typed("rig", "reach", "fly", "--json").out)["presets_by_sections"]
    assert found["switches"] == ["chorus", "hall"]
