"""How a rig is run on stage is said and shown by one command, and shown wherever a rig, unit or song is."""

import json
from pathlib import Path

import pytest

from tests.support.terminal import contents, typed


def test_what_is_said_of_a_rig_on_stage_stays_and_is_shown(demo: Path) -> None:
    """The interface's name is typed once, at home."""
    said = ["--wire", "front=interface 1", "--usb", "front", "--no-clock", "front", "--clock", "wet"]
    said += ["--step", "next=", "--step", "next=note:60:16", "--step", "back=song:9", "--safe", "delay, tape.mix=10 %"]

    done = typed("rig", "stage", "hall", *said)
    shown = json.loads(typed("rig", "stage", "hall", "--json").out)

    assert (done.code, done.err) == (0, "")
    assert shown["wires"] == {
        "front": {"plug": "usb", "midi": "interface 1", "clock": False, "start_stop": False},
        "wet": {"plug": "5-pin", "midi": "", "clock": True, "start_stop": False},
    }
    assert [(each["does"], each["note"], each["controller"], each["song"]) for each in shown["steps"]] == [
        ("safe", None, 67, None),
        ("next", 60, None, None),
        ("back", None, None, 9),
    ]
    assert shown["safe"]["delay, tape voiced"] == {"preset": "resting", "mix": "10 %"}
    assert "  Port front: USB, MIDI port 'interface 1'" in done.out
    assert "  back: Song Select 9" in done.out
    assert "On stage:\n  Port front: USB" in typed("rig", "show", "hall").out


def test_showing_changes_nothing_and_the_last_change_can_be_undone(demo: Path) -> None:
    """A look is no revision."""
    before = contents(demo)
    shown = typed("rig", "stage", "hall").out
    assert contents(demo) == before

    typed("rig", "stage", "hall", "--wire", "front=other")
    assert typed("library", "undo").code == 0
    assert typed("rig", "stage", "hall").out == shown
    assert typed("rig", "stage", "fly board, no").out == "fly board, no MIDI on stage:\n  nothing is said\n"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--wire", "front"], ["does not say which MIDI port", "PORT=MIDI PORT"]),
        (["--wire", "frond=x"], ["no port of the rig is called 'frond'", "front"]),
        (["--usb", "nosuch"], ["no port of the rig is called 'nosuch'"]),
        (["--step", "next"], ["'next' is no step", "next=note:60:16"]),
        (["--step", "jump=note:60:16"], ["no step is called 'jump'"]),
        (["--step", "next=note:60"], ["is no step"]),
        (["--step", "next=note:200:16"], ["note", "127"]),
        (["--step", "back=controller:64:16"], ["would do two things", "'next'"]),
        (["--step", "back=program:3:15"], ["playback rig's calling of songs"]),
        (["--safe", "wah pedal=on"], ["wah pedal"]),
        (["--safe", "delay, tape.mix=loud"], ["'loud'", "percent"]),
        (["--safe", "ring modulator=leave"], ["cannot leave anything"]),
    ],
)
def test_what_cannot_be_is_refused_and_changes_nothing(demo: Path, arguments: list[str], words: list[str]) -> None:
    """One sentence, at home, not on stage."""
    before = contents(demo)

    printed = typed("rig", "stage", "hall", *arguments)

    assert (printed.code, printed.out) == (2, "")
    assert printed.err.count("Error:") == 1
    assert [word for word in words if word not in printed.err] == [], printed.err
    assert contents(demo) == before


def test_numbers_levels_lists_and_gaps_are_said_and_shown(demo: Path) -> None:
    """Whatever a file may say of a gig on stage, a command shows."""
    assert "number 5" in typed("song", "add", "Low tide", "--number", "5").out
    assert "number 60" in typed("song", "show", "Kelp").out
    assert "level  not said  → -3 dB" in typed("scene", "set", "Limpet", "stuck", "--level", "-3").out
    assert "holds 100 lists of 24 messages on 8 channels" in typed("unit", "show", "foot controller").out
    assert "at least 2 ms between messages" in typed("unit", "show", "multi-effects, small").out
    assert "bends with the clock for 1600 ms" in typed("unit", "show", "delay, tape").out
    assert "Sender: foot controller, programmable, to fly" in typed("rig", "show", "fly board, foot").out
    assert "calls a song, parts by controller 20" in typed("rig", "show", "hall").out
