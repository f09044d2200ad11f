"""The records of a gig: plain enough for a line of JSON, and enough to stand where it stood."""

import json
from dataclasses import replace

from scenebook.live import records
from scenebook.live.acts import Act, Verb
from scenebook.live.caller import Caller
from scenebook.live.places import HOME, SAFE, Part, Place
from scenebook.live.plans import Record
from scenebook.live.records import replayed
from scenebook.live.snapshot import Learned, Role
from scenebook.live.stepping import Standing
from scenebook.live.tonight import Tonight
from tests.support.build import GIG, RIG
from tests.support.calling import ask, begun, evening

FULLEST = Standing(
    place=SAFE,
    left=Place(Part.SET, 1, 0),
    back=Place(Part.SPARE, 0, 1),
    tonight=Tonight(
        out=frozenset({"a", "b"}),
        played_by={"c": "d"},
        deaf=frozenset({"e"}),
        keys={Place(Part.SET, 0, 0): "E minor"},
        tempos={Place(Part.SPARE, 0, 0): 92.5},
        cut=frozenset({Place(Part.SET, 0, 1), Place(Part.SET, 0, 3)}),
    ),
    learned=(Learned("pedal", b"\x90\x3c\x40", "next"),),
)
NO_TEMPOS = (float("nan"), float("inf"), 0.0, -5, 1e-300, 400.1, "fast")


def written(*made: Record) -> list[Record]:
    """Return records as they come back from a file."""
    return [json.loads(json.dumps(record)) for record in made]


def test_an_opening_record_holds_all_of_a_standing() -> None:
    """Whoever begins to read there knows everything."""
    assert replayed(written(records.opened("gig", "rig", FULLEST, Role.CALLING, 1.0))) == FULLEST


def test_without_records_nothing_is_known() -> None:
    """A first evening; ports and bytes alone say nothing of where it stands."""
    other = [records.sent("front", [b"\xc0\x05"], 1.0), records.port_changed("front", "", "gone", 2.0)]

    assert replayed([]) is None
    assert replayed(written(*other)) is None


def test_a_step_says_where_it_leads_by_what_and_how() -> None:
    """It is written before its first byte, so it cannot say what has gone."""
    caller = begun()

    (record,) = caller.take(Act(Verb.NEXT, "footswitch note 60"), 12.5).records

    assert written(record) == [
        {
            "kind": "step",
            "at": 12.5,
            "verb": "next",
            "by": "footswitch note 60",
            "place": ["set", 0, 0],
            "song": "one",
            "scene": "a",
            "forms": {"front": "lean", "wet": "lean"},
            "jump": False,
        }
    ]


def test_a_change_says_what_was_asked_and_all_that_is_different() -> None:
    """The evening's log tells both."""
    caller = begun()
    ask(caller, Verb.OUT, unit="reverb")

    (record,) = ask(caller, Verb.CUT, Place(Part.SET, 1, 1)).records

    assert written(record) == [
        {
            "kind": "tonight",
            "at": 1.0,
            "verb": "cut",
            "by": "key",
            "place": ["set", -1, 0],
            "asked": ["set", 1, 1],
            "tonight": {
                "out": ["reverb"],
                "played_by": {},
                "deaf": [],
                "keys": [],
                "tempos": [],
                "cut": [["set", 1, 1]],
            },
        }
    ]


def test_bytes_are_written_as_a_manual_prints_them() -> None:
    """So that they can be held against one."""
    gone = records.sent("front", [b"\xb0\x50\x7f", b"\xc0\x05"], 3.0)
    lost = records.dropped("wet", [b"\x90\x3c\x40"], 4.0)

    assert gone == {"kind": "sent", "at": 3.0, "port": "front", "bytes": ["B0 50 7F", "C0 05"]}
    assert lost == {"kind": "dropped", "at": 4.0, "port": "wet", "bytes": ["90 3C 40"]}
    assert records.noticed("It rains", "roof", 5.0) == {
        "kind": "notice",
        "at": 5.0,
        "words": "It rains",
        "about": "roof",
    }
    assert records.closed("asked", 6.0) == {"kind": "closed", "at": 6.0, "why": "asked"}


def test_what_is_not_understood_is_passed_over() -> None:
    """A torn line, a newer program's record, a record of something else: the gig stands all the same."""
    good = written(records.opened("gig", "rig", FULLEST, Role.CALLING, 1.0))
    opening = dict(good[0])
    odd: list[Record] = [
        {},
        {"kind": "step"},
        {"kind": ["step"]},
        {"kind": "step", "place": ["moon", 0, 0]},
        {"kind": "step", "place": ["set", "x", 0]},
        {"kind": "step", "place": ["set", float("inf"), 0]},
        {"kind": "step", "place": 7},
        {"kind": "tonight", "place": ["set", 0, 0], "tonight": {"out": []}},
        {"kind": "learned", "learned": [{"listens": "", "bytes": "zz", "does": ""}]},
        *({**opening, "tonight": {**opening["tonight"], "tempos": [[["set", 0, 0], tempo]]}} for tempo in NO_TEMPOS),
        {"kind": "role", "role": "singing"},
        {"kind": "confetti", "at": 1},
    ]

    assert replayed([*odd, *good, *odd]) == FULLEST
    assert replayed(odd) is None


def test_a_gig_that_is_killed_stands_at_the_same_cue_and_says_so() -> None:
    """Nothing is sent by itself; what was changed and learned still holds."""
    caller = begun()
    told = list(caller.begin(0.0))
    for verb, place in ((Verb.NEXT, None), (Verb.GO, Place(Part.SPARE, 0, 1)), (Verb.SAFE, None)):
        told += ask(caller, verb, place).records
    told += ask(caller, Verb.OUT, unit="reverb").records
    told += caller.learn(Learned("pedal", b"\xfa", "next"), 2.0).records

    again = Caller(evening(), GIG, RIG, standing=replayed(written(*told)))

    assert again.standing == caller.standing
    assert (again.parts.step, again.parts.ahead) == (caller.parts.step, caller.parts.ahead)
    assert (again.standing.left, again.standing.back) == (Place(Part.SET, 0, 0), Place(Part.SPARE, 0, 1))
    assert again.parts.offer


def test_a_stand_that_had_handed_over_and_was_killed_says_so() -> None:
    """Started again it would send beside the other one, so the player has to look."""
    caller = begun()
    told = [*caller.begin(0.0), *ask(caller, Verb.NEXT).records, *ask(caller, Verb.YIELD).records]
    standing = replayed(written(*told))
    assert standing == caller.standing

    again = Caller(evening(), GIG, RIG, standing=standing)
    follower = Caller(evening(), GIG, RIG, standing=standing, role=Role.FOLLOWING)

    (notice,) = again.parts.notices
    assert notice.words == "Another stand called when this one ended: see that it sends no more, then go on"
    assert (again.role, again.standing.role) == (Role.CALLING, Role.CALLING)
    assert (follower.parts.notices, follower.standing.role) == ((), Role.FOLLOWING)
    again.take(Act(Verb.AGAIN), 1.0)
    assert again.parts.notices == ()


def test_a_stand_that_took_over_again_has_nothing_to_say() -> None:
    """It called when it ended."""
    caller = begun()
    told = [*caller.begin(0.0), *ask(caller, Verb.YIELD).records, *ask(caller, Verb.TAKE).records]

    assert Caller(evening(), GIG, RIG, standing=replayed(written(*told))).parts.notices == ()


def test_the_role_of_the_stand_that_is_followed_is_not_ones_own() -> None:
    """Its records are copied, and that it calls is no word about this one."""
    first, second = begun(), Caller(evening(), GIG, RIG, role=Role.FOLLOWING)
    for record in (*first.begin(0.0), *ask(first, Verb.YIELD).records, *ask(first, Verb.TAKE).records):
        second.take(second.prepare(record), 1.0)

    assert (second.role, second.standing.role) == (Role.FOLLOWING, Role.FOLLOWING)


def test_what_was_copied_from_another_stand_says_nothing_of_ones_own_role() -> None:
    """Its opening and its taking over are marked as copied in this one's journal."""
    own = records.opened("gig", "rig", Standing(), Role.FOLLOWING, 1.0)
    copied = [records.opened("gig", "rig", FULLEST, Role.CALLING, 1.0), records.role_changed(Role.CALLING, "key", 2.0)]

    standing = replayed(written(own, *({**record, "copied": True} for record in copied)))

    assert standing == replace(FULLEST, role=Role.FOLLOWING)


def test_what_was_changed_and_cannot_be_played_any_more_is_given_up_with_a_notice() -> None:
    """The borrowed unit is not in the library any more; the gig begins as it says itself."""
    standing = Standing(place=Place(Part.SET, 1, 0), tonight=Tonight(played_by={"delay": "nobody"}))

    caller = Caller(evening(), GIG, RIG, standing=standing)

    assert caller.standing == Standing(place=Place(Part.SET, 1, 0), tonight=Tonight())
    (notice,) = caller.parts.notices
    assert notice.words.startswith("What was changed tonight cannot be played any more, so nothing is: ")
    assert caller.standing.place != HOME
