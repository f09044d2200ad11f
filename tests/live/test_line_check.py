"""The stand walks through a line check: always full, from one place to the next, and back to the gig afterwards."""

import json
from typing import Any

import pytest

from scenebook.live.acts import Verb
from scenebook.live.caller import Caller, Outcome
from scenebook.live.places import HOME, SAFE, Part, Place
from scenebook.live.records import replayed
from scenebook.live.snapshot import Role
from scenebook.live.stepping import Standing
from scenebook.live.walking import Checking, Walk
from scenebook.planning.line_check import Kind
from tests.support.build import GIG, RIG
from tests.support.calling import ask, at, begun, evening, forms, sent
from tests.support.running import CHORUS, FIRST, gig
from tests.support.running import begun as begun_gig

A, B = Place(Part.SET, 0, 0), Place(Part.SET, 0, 1)
FULL = {"front": "full", "wet": "full"}


def check(caller: Caller) -> Checking:
    found = caller.parts.checking
    assert found is not None
    return found


def in_check(steps: int = 0) -> Caller:
    """Return a caller at home that has begun the line check and gone so many steps."""
    caller = begun()
    ask(caller, Verb.CHECK)
    for _ in range(steps):
        ask(caller, Verb.NEXT)
    return caller


def places(caller: Caller) -> list[Place]:
    walk = caller.standing.walk
    assert walk is not None
    return list(walk.places)


def test_it_begins_in_silence_and_shows_what_comes() -> None:
    """Whoever is about to be heard sees it first, and the caution with it."""
    caller = begun()

    outcome = ask(caller, Verb.CHECK)

    assert outcome.plan is None
    assert at(caller) == ("set", -1, 0)
    assert places(caller) == [A, B]  # one of the delay, one of the reverb, which fires the trigger too
    ahead = caller.parts.ahead
    assert ahead is not None
    assert ahead.place == A
    assert check(caller).here is None
    assert check(caller).at == -1


def test_each_step_goes_out_full_though_it_is_the_neighbours() -> None:
    """A lean list would show nothing of what has not changed."""
    caller = in_check()

    outcomes = [ask(caller, Verb.NEXT), ask(caller, Verb.NEXT)]

    assert [forms(each) for each in outcomes] == [FULL, FULL]
    assert at(caller) == ("set", 0, 1)
    here = check(caller).here
    assert here is not None
    assert [(thing.kind, str(thing)) for thing in here.first][:2] == [
        (Kind.SOUNDS, "reverb"),
        (Kind.FIRED, "delay hit"),
    ]
    assert "90 3C 64" in sent(outcomes[1])


def test_a_place_that_stands_already_is_sent_as_well() -> None:
    """The check may be begun where it begins."""
    caller = begun()
    ask(caller, Verb.NEXT)
    ask(caller, Verb.CHECK)

    assert forms(ask(caller, Verb.NEXT)) == FULL
    assert check(caller).at == 0


def test_back_goes_through_it_and_stops_at_its_beginning() -> None:
    """What was not heard is heard once more."""
    caller = in_check(2)

    assert forms(ask(caller, Verb.BACK)) == FULL
    assert at(caller) == ("set", 0, 0)
    assert ask(caller, Verb.BACK) == Outcome(refused="This is where the line check begins.")


def test_after_the_last_place_the_gig_stands_where_it_was_begun() -> None:
    """A spare song, called out of the set: its place, and the place in the set, both come back."""
    caller = begun()
    ask(caller, Verb.GO, Place(Part.SET, 1, 0))
    ask(caller, Verb.GO, Place(Part.SPARE, 0, 0))
    before = caller.standing
    ask(caller, Verb.CHECK)
    for _ in places(caller):
        ask(caller, Verb.NEXT)
    assert check(caller).ahead is None

    outcome = ask(caller, Verb.NEXT)

    assert forms(outcome) == FULL
    assert caller.standing == before
    assert caller.parts.checking is None


@pytest.mark.parametrize("verb", [Verb.CHECK, Verb.RESUME])
def test_it_can_be_ended_at_any_time(verb: Verb) -> None:
    """The house wants to open the doors."""
    caller = in_check(1)

    assert forms(ask(caller, verb)) == FULL
    assert caller.standing.place == HOME
    assert caller.standing.walk is None


def test_a_jump_out_of_it_ends_it() -> None:
    """Somebody begins the gig."""
    caller = in_check(1)

    ask(caller, Verb.GO, Place(Part.SPARE, 0, 1))

    assert caller.standing.walk is None
    assert caller.standing.left == HOME
    assert at(caller) == ("spare song", 0, 1)


def test_a_jump_to_what_comes_is_its_next_step() -> None:
    """A touch on what the page shows ahead."""
    caller = in_check()

    ask(caller, Verb.GO, A)

    assert check(caller).at == 0
    assert ask(caller, Verb.GO, A) == Outcome()


def test_safe_interrupts_it() -> None:
    """Something howls; afterwards it goes on."""
    caller = in_check(1)
    ask(caller, Verb.SAFE)
    assert caller.standing.place == SAFE

    ask(caller, Verb.SAFE)
    assert at(caller) == ("set", 0, 0)
    ask(caller, Verb.SAFE)
    ask(caller, Verb.NEXT)

    assert at(caller) == ("set", 0, 1)
    assert check(caller).at == 1


def test_a_caution_stands_before_the_loudest() -> None:
    """With no level known it is the scene with most drives; here none has any, so it is every one."""
    caller = in_check()

    ahead = check(caller).ahead
    assert ahead is not None
    assert "protect your hearing" in ahead.caution


def test_a_part_that_is_cut_is_left_out_of_it() -> None:
    """And the check stands where it stood."""
    caller = in_check(1)

    ask(caller, Verb.CUT, B)

    assert places(caller) == [A]
    assert check(caller).at == 0
    ahead = caller.parts.ahead
    assert ahead is not None
    assert ahead.place == HOME


def test_a_unit_that_is_out_is_not_waited_for() -> None:
    """A check that is begun anew is the shortest for what is there."""
    caller = begun()
    ask(caller, Verb.OUT, unit="reverb")

    ask(caller, Verb.CHECK)

    assert "reverb" not in [thing.name for each in check(caller).checks for thing in each.first]


def kept(outcome: Outcome) -> list[Any]:
    return [json.loads(json.dumps(record)) for record in outcome.records]


def test_after_a_crash_it_goes_on_where_it_was() -> None:
    """The records hold its places, so that nothing has to be worked out again."""
    caller = begun()
    written = [*caller.begin(0.0)]
    for verb in (Verb.NEXT, Verb.CHECK, Verb.NEXT):
        written += kept(ask(caller, verb))

    again = Caller(evening(), GIG, RIG, standing=replayed(written))

    assert again.standing == caller.standing
    assert again.standing.walk == Walk((A, B), A, at=0)
    assert again.parts.checking == caller.parts.checking


def test_a_second_stand_follows_it() -> None:
    """It shows the same, and can take over in the middle."""
    caller = begun()
    other = Caller(evening(), GIG, RIG, role=Role.FOLLOWING)
    for verb in (Verb.CHECK, Verb.NEXT):
        for record in kept(ask(caller, verb)):
            other.take(record, 1.0)

    assert other.standing.walk == caller.standing.walk
    assert other.parts.checking == caller.parts.checking


@pytest.mark.parametrize("walk", [{}, {"places": [], "at": 0, "began": ["set", -1, 0]}, {"places": 5, "at": -1}])
def test_a_record_whose_check_is_not_whole_is_passed_over(walk: dict[str, Any]) -> None:
    """A newer program wrote it, or a disk that was full."""
    step = {"kind": "step", "place": ["set", 0, 0]}

    assert replayed([step, {"kind": "step", "place": ["set", 1, 0], "walk": walk}]) == Standing(A)


def test_the_running_gig_shows_it() -> None:
    """The solver is asked outside the gig's own thread, and the snapshot tells what is checked."""
    running = begun_gig(gig())

    shown = running.act(Verb.CHECK)

    assert shown.checking is not None
    assert [(each.cue.song, each.cue.scene) for each in shown.checking.checks] == [("one", "chorus")]
    assert running.ports.take_sent() == []
    running.act(Verb.NEXT)
    running.run(1)
    assert running.ports.take_sent()
    assert running.place in (FIRST, CHORUS)
    assert running.journal.kinds()[-1] == "sent"
