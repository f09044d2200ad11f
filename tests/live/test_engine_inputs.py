"""Footswitches and playback rigs step a running gig, and new ones are learned by pressing them."""

import pytest

from scenebook.errors import BadValueError
from scenebook.live.acts import Verb
from scenebook.live.places import HOME, Part, Place
from scenebook.live.records import replayed
from scenebook.live.snapshot import Role
from scenebook.web.over import tonight_sheet
from tests.support.running import CHORUS, FIRST, Running, gig, library_on_stage

STEPS = [
    {"does": "next", "channel": 16, "note": 60},
    {"does": "safe", "channel": 16, "controller": 64, "listens": "ped"},
]


def test_a_footswitch_steps_once_for_each_press() -> None:
    """It bounces, and is let go."""
    running = gig(steps=STEPS)

    running.press("9F 3C 64")
    running.press("9F 3C 64")
    running.press("8F 3C 40")

    assert running.place == FIRST
    assert running.snapshot.sent.by == "footswitch note 60 on, velocity 100, channel 16"


def test_what_comes_back_around_a_thru_steps_nothing() -> None:
    """The rig's own program change, on the channel that the footswitch uses."""
    running = gig(steps=[{"does": "back", "channel": 2, "program": 1}])
    running.act(Verb.NEXT)

    running.press("C1 01")  # what has just gone out to the multi-effects
    assert running.place == FIRST
    running.run(1)
    running.press("C1 01")

    assert running.place == HOME


def test_a_playback_rig_calls_a_song_and_a_part_and_twice_is_once() -> None:
    """Absolute addresses: the player at the laptop and the playback rig may both be right."""
    running = gig(playback={"channel": 16, "part_controller": 20, "listens": "player"})

    running.press("CF 00", "player")
    running.run(1)
    running.press("BF 14 01", "player")
    assert running.place == CHORUS
    count = len(running.journal)
    running.press("BF 14 01", "player")
    running.press("CF 00", "player")

    assert (running.place, len(running.journal)) == (CHORUS, count)


PLAYBACK = {"channel": 16, "part_controller": 20, "listens": "player"}


def test_a_song_and_its_part_that_come_in_together_are_one_song() -> None:
    """A playback rig sends both in the same millisecond."""
    running = gig(playback=PLAYBACK)
    running.act(Verb.NEXT)

    running.ports.press("player", "CF 01")
    running.ports.press("player", "BF 14 01")
    running.turns(1)

    assert running.place == Place(Part.SET, 1, 1)


def test_a_song_of_which_the_first_part_is_cut_is_called_at_the_first_that_is_played() -> None:
    """The intro is left out tonight; the playback rig's number still means the song."""
    running = gig(playback=PLAYBACK)
    running.act(Verb.CUT, place=Place(Part.SET, 1, 0))
    running.press("CF 01", "player")
    assert running.place == Place(Part.SET, 1, 1)
    assert "not played tonight" in running.press("BF 14 00", "player").refused

    running.act(Verb.GO, place=FIRST)
    running.act(Verb.KEEP, place=Place(Part.SET, 1, 0))
    running.press("CF 01", "player")
    assert running.place == Place(Part.SET, 1, 0)


def test_a_song_is_called_at_its_first_part_that_is_played_after_a_restart_too() -> None:
    """What was cut tonight is cut still."""
    before = gig(playback=PLAYBACK)
    before.act(Verb.CUT, place=Place(Part.SET, 1, 0))
    after = Running(library_on_stage(playback=PLAYBACK), journal=before.journal)

    after.press("CF 01", "player")

    assert after.place == Place(Part.SET, 1, 1)


def test_two_triggers_on_one_message_are_an_error_at_the_start() -> None:
    """Before the first song, and not at it."""
    with pytest.raises(BadValueError, match="would do two things"):
        gig(steps=[STEPS[0], {**STEPS[0], "does": "back"}])


def test_a_press_is_learned_and_does_its_step_from_then_on() -> None:
    """Another controller was lent at the venue."""
    running = gig(steps=STEPS)

    assert running.act(Verb.LEARN, text="next").learning == "next"
    running.press("B0 07 7F", "player")
    assert running.place == HOME  # the press that is learned steps nothing
    assert (running.snapshot.learning, running.snapshot.refused) == ("", "")
    assert running.snapshot.learned is not None
    assert running.snapshot.learned.does == "next"
    running.press("B0 07 00", "player")
    running.press("B0 07 7F", "player")

    assert running.place == FIRST
    assert "learned" in running.journal.kinds()


def test_a_press_that_does_something_already_is_not_learned() -> None:
    """It is said, and what it did it does still."""
    running = gig(steps=STEPS)
    running.act(Verb.LEARN, text="back")

    assert "would do two things" in running.press("9F 3C 64").refused
    running.press("8F 3C 40")
    running.run(1)
    running.press("9F 3C 64")

    assert running.place == FIRST


def test_a_press_that_does_the_same_already_is_told_and_not_written_down() -> None:
    """Teaching a pedal what the rig says of it is no fault."""
    running = gig(steps=STEPS)
    running.act(Verb.LEARN, text="next")

    snapshot = running.press("9F 3C 64")

    assert (snapshot.refused, snapshot.learning) == ("", "")
    assert snapshot.learned is not None
    assert not snapshot.learned.is_new
    assert "learned" not in running.journal.kinds()
    assert tonight_sheet(snapshot).learned == "It does that already: 9F 3C 64, next"


def test_only_steps_can_be_learned_and_learning_can_be_ended() -> None:
    """A press that takes a unit out would be a surprise."""
    running = gig()

    assert "no footswitch can do 'out'" in running.act(Verb.LEARN, text="out").refused
    running.act(Verb.LEARN, text="next")
    assert running.act(Verb.LEARN, text="").learning == ""


def test_what_was_learned_outlasts_a_restart() -> None:
    """The second half of the evening, after a crash."""
    before = gig()
    before.act(Verb.LEARN, text="next")
    before.press("B0 07 7F", "player")
    after = Running(library_on_stage(), journal=before.journal)

    after.press("B0 07 7F", "player")

    assert after.place == FIRST


def test_what_the_other_stand_has_learned_steps_this_one_after_it_takes_over() -> None:
    """The lent footswitch was learned on the first laptop; this one must know it the moment it calls."""
    first, second = gig(), Running(library_on_stage(), role=Role.FOLLOWING)
    second.act(Verb.LEARN, text="back")
    second.press("B0 08 7F", "pedal")  # learned here, before
    first.act(Verb.LEARN, text="next")
    first.press("B0 07 7F", "player")
    for record in list(first.journal):
        second.engine.follow(record)
        second.turns(2)
    second.act(Verb.TAKE)

    second.press("B0 07 7F", "player")
    assert second.place == FIRST
    second.press("B0 08 7F", "pedal")
    assert second.place == HOME
    assert [each.does for each in replayed(second.journal).learned] == ["back", "next"]  # type: ignore[union-attr]


def test_what_the_other_stand_learns_anew_takes_the_place_of_what_it_had_learned() -> None:
    """The first press was one for the wrong step."""
    first, second = gig(), Running(library_on_stage(), role=Role.FOLLOWING)
    for does in ("back", "next"):
        first.act(Verb.LEARN, text=does)
        first.press("C0 07", "player")
    for record in list(first.journal):
        second.engine.follow(record)
        second.turns(2)
    second.act(Verb.TAKE)

    assert second.press("C0 07", "player").step.place == FIRST


def test_a_trigger_port_that_is_not_there_is_told() -> None:
    """A footswitch that does nothing is noticed before the first song."""
    running = Running(library_on_stage(steps=[{**STEPS[0], "listens": "floor"}]))

    assert running.snapshot.notices[0].words == "The MIDI port 'floor', by which the gig is stepped, is not there"
    running.ports.plug("floor controller", is_input=True)
    running.turns(3)
    assert running.snapshot.notices == ()
    assert running.press("9F 3C 64", "floor controller").step.place == FIRST


def test_an_input_that_vanishes_is_heard_again_when_it_is_back() -> None:
    """A footswitch whose plug was kicked out."""
    running = gig(steps=STEPS)
    running.ports.ins.remove("pedal")
    running.turns(2)
    running.ports.ins.append("pedal")
    running.run(3)

    assert running.press("9F 3C 64").step.place == FIRST
