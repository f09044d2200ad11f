"""The caller: where each step leads, what goes out lean and what full, and what it says when a step leads nowhere."""

from dataclasses import replace

import pytest

from scenebook.cueing.cues import Action
from scenebook.live.acts import Verb
from scenebook.live.caller import ANYWHERE, Caller, Outcome
from scenebook.live.places import HOME, SAFE, Part, Place
from scenebook.live.snapshot import Form, Learned, Role
from scenebook.live.stepping import Standing
from tests.support.build import GIG, RIG, library, rig, song, unit
from tests.support.calling import DELAY, ON, REVERB, ask, at, begun, evening, forms, sent
from tests.support.compiling import on_port


def test_a_start_sends_nothing_and_offers_to_send_again() -> None:
    """Nobody wants the rig to jump while the laptop starts; after a crash least of all."""
    caller = Caller(evening(), GIG, RIG, standing=Standing(Place(Part.SET, 1, 0)))

    back = [caller.port_back(port, 0.0) for port in ("front", "wet")]

    assert [outcome.plan for outcome in back] == [None, None]
    assert at(caller) == ("set", 1, 0)
    assert caller.parts.offer == ANYWHERE


def test_the_next_cue_goes_out_lean() -> None:
    """Only what changes: the delay comes on, and the reverb hears nothing."""
    caller = begun()

    outcome = ask(caller, Verb.NEXT)

    assert forms(outcome) == {"front": "lean", "wet": "lean"}
    assert sent(outcome) == ["B0 50 7F"]
    assert sent(outcome, "wet") == []
    assert caller.parts.offer == ""


@pytest.mark.parametrize(
    ("verb", "place"),
    [(Verb.BACK, None), (Verb.GO, Place(Part.SET, 1, 1)), (Verb.GO, Place(Part.SPARE, 0, 0)), (Verb.SAFE, None)],
)
def test_a_jump_goes_out_full(verb: Verb, place: Place | None) -> None:
    """What was skipped never went out, so everything does."""
    caller = begun()
    ask(caller, Verb.NEXT)

    outcome = ask(caller, verb, place)

    assert forms(outcome) == {"front": "full", "wet": "full"}
    assert len(sent(outcome)) + len(sent(outcome, "wet")) >= 2


def test_going_to_the_cue_ahead_is_the_next_step() -> None:
    """A playback rig that calls each part in order costs no more than a footswitch."""
    caller = begun()

    assert forms(ask(caller, Verb.GO, Place(Part.SET, 0, 0))) == {"front": "lean", "wet": "lean"}


def test_going_to_the_cue_that_stands_does_nothing() -> None:
    """An absolute address that comes twice is done once."""
    caller = begun()
    ask(caller, Verb.NEXT)

    assert ask(caller, Verb.GO, Place(Part.SET, 0, 0)) == Outcome()


def test_the_end_and_the_beginning_are_said_in_words() -> None:
    """Nothing goes out, and the gig stays where it is."""
    caller = begun()

    assert ask(caller, Verb.BACK) == Outcome(refused="This is where the gig begins.")
    ask(caller, Verb.GO, Place(Part.SET, 1, 1))
    assert caller.parts.ahead is None
    assert ask(caller, Verb.NEXT) == Outcome(refused="This is the last cue of the gig.")
    assert at(caller) == ("set", 1, 1)


def test_after_a_spare_song_the_set_goes_on_where_it_was_left() -> None:
    """Left in the middle of a song, that song goes on."""
    caller = begun()
    ask(caller, Verb.NEXT)
    ask(caller, Verb.GO, Place(Part.SPARE, 0, 0))
    ask(caller, Verb.NEXT)
    ahead = caller.parts.ahead

    outcome = ask(caller, Verb.NEXT)

    assert ahead is not None
    assert ahead.place == Place(Part.SET, 0, 0)
    assert at(caller) == ("set", 0, 0)
    assert forms(outcome) == {"front": "full", "wet": "full"}


def test_after_a_spare_song_between_songs_the_next_song_comes() -> None:
    """Left at the last cue of a song, the song after it follows."""
    caller = begun()
    ask(caller, Verb.GO, Place(Part.SET, 0, 1))
    ask(caller, Verb.GO, Place(Part.SPARE, 0, 1))

    ask(caller, Verb.NEXT)

    assert at(caller) == ("set", 1, 0)


def test_a_house_sound_is_left_by_the_next_step_as_well() -> None:
    """It stands alone: whatever sound it is, the set comes after it."""
    caller = begun()
    ask(caller, Verb.GO, Place(Part.HOUSE, 0, 0))
    assert caller.parts.left == HOME

    ask(caller, Verb.NEXT)

    assert at(caller) == ("set", 0, 0)


def test_the_set_is_resumed_where_it_was_left() -> None:
    """Whatever was called in between."""
    caller = begun()
    ask(caller, Verb.GO, Place(Part.SET, 0, 1))
    ask(caller, Verb.GO, Place(Part.SPARE, 0, 1))
    ask(caller, Verb.GO, Place(Part.HOUSE, 0, 1))
    assert caller.parts.left == Place(Part.SET, 0, 1)

    outcome = ask(caller, Verb.RESUME)

    assert at(caller) == ("set", 0, 1)
    assert forms(outcome) == {"front": "full", "wet": "full"}
    assert ask(caller, Verb.RESUME) == Outcome(refused="The set has not been left.")


def test_safe_twice_is_back_again() -> None:
    """One touch to be quiet, the same touch to go on."""
    caller = begun()
    ask(caller, Verb.NEXT)

    quiet = ask(caller, Verb.SAFE)
    assert caller.standing.place == SAFE
    assert sent(quiet) == ["B0 50 00"]
    assert sent(quiet, "wet") == ["B0 51 7F"]
    ask(caller, Verb.SAFE)

    assert at(caller) == ("set", 0, 0)


def test_from_safe_the_next_step_is_the_one_after_the_cue_that_was_left() -> None:
    """In the sets and in a spare song."""
    caller = begun()
    ask(caller, Verb.NEXT)
    ask(caller, Verb.SAFE)
    assert forms(ask(caller, Verb.NEXT)) == {"front": "full", "wet": "full"}
    assert at(caller) == ("set", 0, 1)

    ask(caller, Verb.GO, Place(Part.SPARE, 0, 0))
    ask(caller, Verb.SAFE)
    assert (caller.parts.left, caller.standing.back) == (Place(Part.SET, 0, 1), Place(Part.SPARE, 0, 0))
    ask(caller, Verb.NEXT)
    assert at(caller) == ("spare song", 0, 1)


def test_sending_again_is_full_and_fires_nothing() -> None:
    """The sample has played; it is not played twice."""
    caller = begun()
    ask(caller, Verb.NEXT)
    first = ask(caller, Verb.NEXT)
    assert sent(first)[-2:] == ["90 3C 64", "80 3C 40"]

    again = ask(caller, Verb.AGAIN)

    assert forms(again) == {"front": "full", "wet": "full"}
    assert sent(again) == ["B0 50 00"]


def test_a_trigger_that_was_still_waiting_has_its_turn_when_all_is_sent_again() -> None:
    """It is owed: nobody has heard it yet."""
    caller = begun()
    ask(caller, Verb.NEXT)
    first = ask(caller, Verb.NEXT)
    assert first.plan is not None
    waiting = first.plan.ports[0].messages

    again = ask(caller, Verb.AGAIN, waiting=waiting)

    assert sent(again)[-2:] == ["90 3C 64", "80 3C 40"]
    assert sent(ask(caller, Verb.AGAIN, waiting=waiting[-1:])) == ["B0 50 00"]


def test_a_step_that_overtakes_another_goes_out_full_where_messages_were_left() -> None:
    """The other port had everything, so lean serves it."""
    caller = begun()
    first = ask(caller, Verb.NEXT)
    assert first.plan is not None

    second = ask(caller, Verb.NEXT, waiting=first.plan.ports[0].messages)

    assert forms(second) == {"front": "full", "wet": "lean"}
    assert forms(ask(caller, Verb.NEXT)) == {"front": "lean", "wet": "lean"}


def test_the_gig_goes_on_without_a_port_and_it_gets_all_when_it_is_back() -> None:
    """The plan names only ports that are there; triggers have had their time."""
    caller = begun()
    gone = caller.port_gone("front", 2.0, midi="somewhere")
    assert gone.records == ({"kind": "port", "at": 2.0, "port": "front", "midi": "somewhere", "state": "gone"},)
    ask(caller, Verb.NEXT)
    assert forms(ask(caller, Verb.NEXT)) == {"wet": "lean"}

    back = caller.port_back("front", 3.0)

    assert forms(back) == {"front": "full"}
    assert sent(back) == ["B0 50 00"]
    assert forms(ask(caller, Verb.NEXT)) == {"front": "lean", "wet": "lean"}


def test_after_a_sleep_nothing_is_sent_until_something_is_asked() -> None:
    """Ports come back one by one, and stay silent; then everything goes out."""
    caller = begun()
    ask(caller, Verb.NEXT)

    caller.offered("The machine has slept", 5.0)

    assert caller.port_back("front", 6.0).plan is None
    assert caller.parts.offer == ANYWHERE
    assert [notice.words for notice in caller.parts.notices] == ["The machine has slept"]
    assert forms(ask(caller, Verb.NEXT)) == {"front": "full", "wet": "full"}
    assert caller.parts.notices == ()


def test_a_control_that_a_cue_leaves_free_is_set_after_a_jump_past_the_cue_that_set_it() -> None:
    """Lean would not send it again: it went out two cues ago, which nobody has played tonight."""
    scenes = {"a": {"delay": {"level": "50 %"}}, "b": {}, "c": {"delay": {"level": "50 %"}}}
    caller = begun(library({"delay": DELAY, "reverb": REVERB}, evening().rigs[RIG], song(scenes)))

    assert sent(ask(caller, Verb.GO, Place(Part.SET, 0, 1))) == ["B0 50 00"]
    outcome = ask(caller, Verb.NEXT)

    assert forms(outcome) == {"front": "full", "wet": "lean"}
    assert sent(outcome) == ["B0 50 00", "B0 14 40"]
    for _ in range(3):
        ask(caller, Verb.BACK)
    steps = [ask(caller, Verb.NEXT) for _ in range(3)]
    assert [forms(step)["front"] for step in steps] == ["lean", "lean", "lean"]


def test_after_a_jump_hands_are_told_what_to_check_and_what_they_would_have_prepared() -> None:
    """A knob that stands for this scene, and one that was to be set in a pause that was skipped."""
    knob = unit(switches={"main": {"message": {"controller": 82}}}, controls={"gain": "clock"})
    scenes = {"a": {}, "b": {}, "c": {"fuzz": {"main": "on", "gain": "3 o'clock"}}}
    songs = {
        "one": song({"x": {}}, tempo=120),
        "two": song(scenes, {"scene": "a", "bars": 8, "free": 4}, "b", "c", tempo=120),
    }
    board = rig("fuzz", units=on_port("fuzz"), home={"fuzz": {"gain": "noon"}})
    caller = Caller(library({"fuzz": knob}, board, songs), GIG, RIG)
    caller.port_back("front", 0)

    ask(caller, Verb.GO, Place(Part.SET, 1, 1))

    told = [(move.action, move.member, move.before, move.after, move.for_cue) for move in caller.parts.check]
    assert (Action.CHECK, "gain", "", "3 o'clock", 4) in told
    ask(caller, Verb.NEXT)
    assert not caller.parts.check
    ask(caller, Verb.AGAIN)
    assert [(m.action, m.after) for m in caller.parts.check if m.member == "gain"] == [(Action.CHECK, "3 o'clock")]


def test_a_flipping_switch_is_to_be_looked_at_where_its_port_got_everything() -> None:
    """No message can promise it, and nobody knows whether it was flipped before the port went."""
    flips = unit(switches={"main": {"toggle": {"controller": 82}}})
    board = rig("fuzz", "delay", units={**on_port("fuzz"), **on_port("delay", port="wet")})
    caller = begun(
        library({"fuzz": flips, "delay": DELAY}, board, song({"a": {"fuzz": ON}, "b": {"fuzz": ON}, "c": {}}))
    )
    first = ask(caller, Verb.NEXT)
    assert first.plan is not None

    ask(caller, Verb.NEXT, waiting=first.plan.ports[0].messages)

    assert [(m.action, m.unit, m.member, m.after) for m in caller.parts.check] == [(Action.CHECK, "fuzz", "main", "on")]


def test_another_instrument_is_to_be_checked_after_a_jump_past_its_change() -> None:
    """The capo was put on two songs ago in the list, and never tonight."""
    songs = {
        name: song({"x": {}, "y": {}}, **said)
        for name, said in {"one": {}, "two": {"instrument": {"name": "viola", "capo": 2}}}.items()
    }
    caller = begun(library({"delay": DELAY, "reverb": REVERB}, evening().rigs[RIG], songs))

    ask(caller, Verb.GO, Place(Part.SET, 1, 1))

    assert ("instrument", "viola, capo 2") in [(move.unit, move.after) for move in caller.parts.check]


def test_a_caller_that_follows_sends_nothing_and_goes_where_the_other_goes() -> None:
    """Two laptops, one rig: the second knows everything and says nothing."""
    first, second = begun(), Caller(evening(), GIG, RIG, role=Role.FOLLOWING)
    second.port_back("front", 0)
    told = [*first.begin(0), *ask(first, Verb.NEXT).records, *ask(first, Verb.OUT, unit="reverb").records]
    told += ask(first, Verb.GO, Place(Part.SPARE, 0, 0)).records

    outcomes = [second.take(second.prepare(record), 1.0) for record in told]

    assert outcomes == [Outcome(records=(record,)) for record in told]
    assert second.standing == replace(first.standing, role=Role.FOLLOWING)
    assert second.parts.step == first.parts.step
    assert ask(second, Verb.NEXT) == Outcome(refused="This stand follows another one: take over first.")


def test_taking_over_is_one_act_and_sends_nothing_by_itself() -> None:
    """The rig stands as the other left it; the next step is sure all the same."""
    caller = Caller(evening(), GIG, RIG, role=Role.FOLLOWING)
    for port in ("front", "wet"):
        caller.port_back(port, 0)

    taken = ask(caller, Verb.TAKE)

    assert taken.plan is None
    assert caller.parts.role is Role.CALLING
    assert caller.parts.offer == ANYWHERE
    assert ask(caller, Verb.TAKE) == Outcome(refused="This stand calls already.")
    assert forms(ask(caller, Verb.NEXT)) == {"front": "full", "wet": "full"}
    assert ask(caller, Verb.YIELD).plan is None
    assert ask(caller, Verb.YIELD) == Outcome(refused="This stand follows another one: take over first.")


def test_what_a_message_does_is_learned_once() -> None:
    """Pressed again for something else, it does that."""
    caller = begun()

    caller.learn(Learned("pedal", b"\x90\x3c\x40", "next"), 1)
    caller.learn(Learned("pedal", b"\x90\x3e\x40", "back"), 1)
    caller.learn(Learned("pedal", b"\x90\x3c\x40", "safe"), 1)

    known = [(each.data.hex(), each.does) for each in caller.standing.learned]
    assert known == [("903e40", "back"), ("903c40", "safe")]


def test_a_place_that_is_gone_from_the_library_is_taken_up_at_the_one_before_it() -> None:
    """The song was shortened at home while the gig's records knew it longer."""
    caller = Caller(evening(), GIG, RIG, standing=Standing(Place(Part.SET, 1, 7)))

    assert at(caller) == ("set", 1, 1)
    assert [notice.about for notice in caller.parts.notices] == ["place"]
    assert Caller(evening(), GIG, RIG, standing=Standing(Place(Part.SPARE, 3, 0))).standing.place == HOME


def test_form_says_what_went_out() -> None:
    """Lean only if all of it was; nothing where no port is there."""
    caller = Caller(evening(), GIG, RIG)

    outcome = ask(caller, Verb.NEXT)

    assert outcome.plan is not None
    assert (outcome.plan.form, outcome.plan.full, outcome.plan.messages) == (Form.NOTHING, (), 0)
