"""What a player reads of a gig's line check."""

import json
from pathlib import Path

from tests.support.terminal import typed


def test_the_check_says_which_cues_what_they_touch_and_when_to_take_care(demo: Path) -> None:
    """In the order of the evening; the caution stands before the cue that it is about."""
    printed = typed("gig", "check", "Tallow")

    lines = printed.out.splitlines()
    assert printed.code == 0
    assert lines[0] == "Tallow reading room on fly board, no MIDI: 4 cues touch all that the gig uses."
    assert lines[1].startswith("Loudness: assumed ")
    assert "1. cue 5: Fog on the inside/out" in lines
    assert "   move the pedal: volume pedal level" in lines
    loud = lines.index("2. cue 10: Wrack line walking/storm")
    assert lines[loud - 2].startswith("▲ The loudest scene of the gig: agree with the house")
    assert "   the loudest scene" in lines[loud:]


def test_what_the_gig_does_not_use_is_named(demo: Path) -> None:
    """Nobody wonders at the sound check why the boost was never heard."""
    out = typed("gig", "check", "Tallow").out

    assert "\nNot used tonight:\n   never on while it sounds: tuner, stage mute;" in out
    assert "   never fires: looper, small clear\n" in out


def test_another_rig_has_a_check_of_its_own(demo: Path) -> None:
    """Other units, other cues."""
    assert typed("gig", "check", "Tallow", "--rig", "hall").out.startswith("Tallow reading room on hall board: ")


def test_the_check_speaks_json(demo: Path) -> None:
    """For a player's own scripts."""
    found = json.loads(typed("gig", "check", "Pell", "--json").out)

    assert len(found["cues"]) == 12
    assert found["cues"][0]["first"][0] == {"kind": "a message goes out", "name": "front", "member": ""}
    assert [each["part"] for each in found["cues"]][-1] == "spare song"
    assert sum(bool(each["caution"]) for each in found["cues"]) == 1
    assert found["not_used"] == []


def test_a_gig_that_is_not_there_is_said(demo: Path) -> None:
    """One sentence, and exit code 2."""
    printed = typed("gig", "check", "Nowhere")

    assert printed.code == 2
    assert "Nowhere" in printed.err
