"""That a stand-in is heard, and that no unit has more sections on than it has at once (S9)."""

from typing import Any

import pytest

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import Cue
from tests.support.build import GIG, gig, library, rig, song, unit
from tests.support.compiling import compiled, stands

FOOT = {"foot": True}
SINGLE = unit(switches={"main": FOOT})
MULTI = unit(
    switches={
        "main": FOOT,
        "drive": {**FOOT, "section": "drive"},
        "echo": {**FOOT, "section": "delay"},
    },
    programs={"count": 4, "first": "0", "foot": True},
    preset=[
        {"slot": "0", "name": "dry"},
        {"slot": "1", "name": "driven", "stores": {"main": "on", "drive": "on", "echo": "off"}},
        {"slot": "2", "name": "asleep", "stores": {"main": "off"}, "rest": "off"},
    ],
    sections_at_once=1,
)
UNITS = {"fuzz": SINGLE, "echo": SINGLE, "multi": MULTI}
FUZZ_BY_DRIVE = {"part": "fuzz", "by": "multi", "switch": "drive", "likeness": 0.9}
ECHO_BY_ECHO = {"part": "echo", "by": "multi", "switch": "echo", "likeness": 0.8}
FUZZ_BY_DRIVEN = {"part": "fuzz", "by": "multi", "preset": "driven", "likeness": 0.9}


def cues(*scenes: Any, stand_ins: Any = (FUZZ_BY_DRIVE, ECHO_BY_ECHO), home: Any = None) -> tuple[Cue, ...]:
    """Return what a song of these scenes comes to on a rig of the multi alone, after home."""
    made = rig("multi", stand_ins=list(stand_ins), home={"multi": home} if home else {})
    return compiled(library(UNITS, made, song({str(n): each for n, each in enumerate(scenes)}), gig("song")))[1:]


def on(cue: Cue) -> list[str]:
    return [member for member, state in stands(cue, "multi").items() if state == "on"]


def test_a_section_that_stands_in_is_heard() -> None:
    """The multi is bypassed at home: it is turned on with its section, and turned off with it."""
    first, left, last = cues({"fuzz": "on"}, {"fuzz": "leave"}, {})

    assert (on(first), on(left), on(last)) == (["main", "drive"], ["main", "drive"], [])


@pytest.mark.parametrize("says", [{"main": "off"}, {"preset": "asleep"}])
def test_a_unit_that_the_scene_turns_off_stands_in_for_nothing(says: dict[str, str]) -> None:
    """Nobody would hear it."""
    (cue,) = cues({"fuzz": "on", "multi": says})

    assert (cue.lacks, cue.stand_ins) == (("fuzz",), ())


def test_a_preset_that_turns_the_unit_off_is_overruled_by_the_scene() -> None:
    """Its own word of the main switch wins, and stays."""
    (cue,) = cues({"fuzz": "on", "multi": {"preset": "asleep", "main": "on"}})

    assert (cue.lacks, on(cue)) == ((), ["main", "drive"])


def test_a_section_that_is_set_and_not_heard_is_told() -> None:
    """The scene turns it on and leaves the unit bypassed; where it says off itself, that is meant."""
    silent, meant = cues({"multi": {"drive": "on"}}, {"multi": {"main": "off", "drive": "on"}})

    assert silent.notes == ("multi is set but not heard: the scene does not turn it on",)
    assert meant.notes == ()


def test_a_section_that_is_left_on_counts() -> None:
    """Whether the scene leaves the multi's switch, or the fuzz that it plays."""
    by_drive = {"multi": {"drive": "on"}}, {"multi": {"drive": "leave"}}
    for first, then in (({"fuzz": "on"}, {"fuzz": "leave"}), by_drive):
        cue = cues(first, {**then, "echo": "on"})[1]
        assert (cue.lacks, "echo" in on(cue)) == (("echo",), False)


def test_a_section_that_was_off_and_is_left_does_not_count() -> None:
    """There is room for one."""
    cue = cues({}, {"multi": {"drive": "leave"}, "echo": "on"})[1]

    assert (cue.lacks, on(cue)) == ((), ["main", "echo"])


def test_a_section_that_a_preset_or_home_turns_on_counts() -> None:
    """By the scene's word, by a stand-in that is likelier, and at home."""
    assert cues({"multi": "driven", "echo": "on"})[0].lacks == ("echo",)
    assert cues({"fuzz": "on", "echo": "on"}, stand_ins=[FUZZ_BY_DRIVEN, ECHO_BY_ECHO])[0].lacks == ("echo",)
    assert cues({"echo": "on"}, home={"drive": "on"})[0].lacks == ("echo",)
    assert cues({"multi": {"drive": "off"}, "echo": "on"}, home={"drive": "on"})[0].lacks == ()


def test_a_preset_that_turns_on_too_much_is_refused() -> None:
    """The echo is likelier, and with the preset two sections would be on."""
    (cue,) = cues({"fuzz": "on", "echo": "on"}, stand_ins=[{**FUZZ_BY_DRIVEN, "likeness": 0.3}, ECHO_BY_ECHO])

    assert (cue.lacks, on(cue)) == (("fuzz",), ["main", "echo"])


def test_a_stand_in_that_turns_nothing_on_needs_no_room() -> None:
    """The drive is on from home already, and the scene says nothing of it."""
    (cue,) = cues({"fuzz": "on"}, home={"drive": "on"})

    assert (cue.lacks, on(cue)) == ((), ["main", "drive"])


def test_a_scene_that_turns_on_too_many_itself_is_warned_of_once() -> None:
    """It is the player's own word, so it is kept; the library opens and the gig compiles."""
    both = {"multi": {"main": "on", "drive": "on", "echo": "on"}}
    of = library(UNITS, rig("multi"), song({"first": both, "second": both, "third": {"multi": {"echo": "on"}}}))

    assert compile_gig(of, GIG).warnings == (
        "song 'song', scene 'first': 'multi' has 2 sections on (drive, echo), and does 1 at once",
    )
