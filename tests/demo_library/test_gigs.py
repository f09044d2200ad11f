"""The demo library's gigs, compiled: what its player would find at each of them."""

from collections.abc import Iterator
from functools import cache

import pytest

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import Action, ByHand, Cue, CueList
from tests.demo_library.reading import demo_library

HALL, FESTIVAL, SEATED = "Pell Quay hall", "Skerrow Head fly-in", "Tallow reading room"


@cache
def cues(gig: str, rig: str | None = None, *, full: bool = False) -> CueList:
    return compile_gig(demo_library(), gig, rig, full=full)


def the_cue(gig: str, song: str, scene: str) -> Cue:
    return next(cue for cue in cues(gig).cues if (cue.song, cue.scene) == (song, scene))


def moves(gig: str, action: Action) -> Iterator[ByHand]:
    return (move for cue in cues(gig).cues for move in cue.by_hand if move.action is action)


@pytest.mark.parametrize("full", [False, True])
@pytest.mark.parametrize("rig", ["studio wall", "hall board", "fly board", "fly board, no MIDI"])
@pytest.mark.parametrize("gig", [HALL, FESTIVAL, SEATED])
def test_every_gig_compiles_on_every_rig(gig: str, rig: str, *, full: bool) -> None:
    """A gig may be moved to another rig on the day: the worst that happens is a list of what it lacks."""
    compiled = cues(gig, rig, full=full)

    assert len(compiled.cues) == len(cues(gig).cues)
    assert len(compiled.spares) == len(demo_library().gigs[gig].spares)


def test_the_hall_board_plays_all_that_the_hall_asks_for() -> None:
    """It was built for these songs: stand-ins for the wall's units, no must lacking, hardly a cue late."""
    assert [cue.song for cue in cues(HALL).cues if cue.lacks] == []
    assert sum(bool(cue.late) for cue in cues(HALL).cues) <= 4
    assert any(cue.stand_ins for cue in cues(HALL).cues)
    assert any(cue.without for cue in cues(HALL).cues)


def test_the_hall_board_sends_on_both_ports_and_waits_for_units_to_settle() -> None:
    """Two clocks, recalls on both, and something to prove."""
    sent = [message for cue in cues(HALL).cues for message in cue.messages]

    assert {message.port for message in sent} == {"front", "wet"}
    assert max(cue.settled_us for cue in cues(HALL).cues) > 300_000


def test_at_the_festival_something_is_lacking_something_without_and_something_late() -> None:
    """Seven units, eight seconds between songs: the sheet has all its marks to show."""
    festival = cues(FESTIVAL).cues

    assert "multi-effects, large preset ringing" in the_cue(FESTIVAL, "Kelp fire", "smoke").lacks
    assert "filter, envelope" in the_cue(FESTIVAL, "Nine gannets", "dive").without
    assert the_cue(FESTIVAL, "Chalk line", "pulse").late.startswith("late by")
    assert 1 <= sum(bool(cue.late) for cue in festival) <= 10


def test_at_the_festival_the_hired_octave_plays_the_part_of_our_own() -> None:
    """Same settings by name; the low pass that it does not have is gone without."""
    pulse = the_cue(FESTIVAL, "Chalk line", "pulse")

    assert "octave down, hired" in {state.unit for state in pulse.states if state.sounds}
    assert "octave down" not in {state.unit for state in pulse.states}
    assert "octave down low pass" in pulse.without


def test_at_the_festival_a_section_plays_the_drive_that_is_out() -> None:
    """The soft drive broke on the way; nobody rewrites a song for that."""
    assert any(
        text.startswith("drive, soft: multi-effects, small drive")
        for text in the_cue(FESTIVAL, "Orren bar", "verse").stand_ins
    )


def test_at_the_festival_the_winch_song_is_shorter_and_faster() -> None:
    """The entry's own form and tempo count for that day alone."""
    assert [cue.scene for cue in cues(FESTIVAL).cues if cue.song == "Winch song"] == ["haul", "shout", "haul", "shout"]
    assert [cue.scene for cue in cues(HALL).cues if cue.song == "Winch song"].count("slip") == 1


def test_the_seated_show_has_no_message_and_is_playable_by_foot() -> None:
    """No laptop on stage: presses, recalls and turns; a few of them late, and the sheet says so."""
    seated = cues(SEATED).cues

    assert [cue.number for cue in seated if cue.messages] == []
    assert any(moves(SEATED, Action.RECALL))
    assert 1 <= sum(bool(cue.late) for cue in seated) <= len(seated) // 4


def test_what_rings_at_the_end_of_one_song_rings_into_the_next_after_a_segue() -> None:
    """The loop of Wrack line walking still runs when the lights of the harbour are lit."""
    lit = the_cue(SEATED, "Harbour lights out", "lit")

    assert "looper, small" in {state.unit for state in lit.states if state.sounds}


def test_without_a_segue_the_same_song_begins_from_home() -> None:
    """At the hall there is a gap before it, so nothing is left over."""
    lit = the_cue(HALL, "Harbour lights out", "lit")

    assert "looper, two tracks" not in {state.unit for state in lit.states if state.sounds}


def test_times_that_nobody_can_know_are_said_to_be_unknown() -> None:
    """Cold chapel is free of bars: the singer decides, so no sheet can tell how long there is."""
    assert any(cue.late.startswith("time not known") for gig in (HALL, SEATED) for cue in cues(gig).cues)
