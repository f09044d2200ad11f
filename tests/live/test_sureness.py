"""Lean goes out only to a port that stands as the list believes: every short story, against a plain reckoning."""

from collections import Counter
from collections.abc import Iterator
from itertools import product

from scenebook.cueing.cues import Message, MessageKind
from scenebook.live.acts import Act, Verb
from scenebook.live.caller import Caller, Outcome
from scenebook.live.places import HOME, Part, Place
from scenebook.live.snapshot import Form
from tests.support.build import GIG, RIG
from tests.support.calling import evening

PORTS, LIBRARY = ("front", "wet"), evening()
AFTER = {  # what comes right after what in the little gig of tests/support/calling.py, written out
    HOME: Place(Part.SET, 0, 0),
    Place(Part.SET, 0, 0): Place(Part.SET, 0, 1),
    Place(Part.SET, 0, 1): Place(Part.SET, 1, 0),
    Place(Part.SET, 1, 0): Place(Part.SET, 1, 1),
    Place(Part.SPARE, 0, 0): Place(Part.SPARE, 0, 1),
}
ACTS = {
    "next": Act(Verb.NEXT),
    "back": Act(Verb.BACK),
    "again": Act(Verb.AGAIN),
    "safe": Act(Verb.SAFE),
    "resume": Act(Verb.RESUME),
    "to the last cue": Act(Verb.GO, place=Place(Part.SET, 1, 1)),
    "to the spare song": Act(Verb.GO, place=Place(Part.SPARE, 0, 0)),
    "out": Act(Verb.OUT, unit="delay"),
    "in": Act(Verb.IN, unit="delay"),
    "tempo": Act(Verb.TEMPO, place=Place(Part.SET, 0, 0), text="99"),
}


class Reckoning:
    """Follows a story with none of the caller's code: which place each port got all of, and what stands on its wire."""

    def __init__(self) -> None:
        self.caller = Caller(LIBRARY, GIG, RIG)
        self.got: dict[str, Place | None] = dict.fromkeys(PORTS)
        self.stands: dict[str, dict[bytes, int]] = {port: {} for port in PORTS}
        self.waiting: list[Message] = []
        self.counted: Counter[Form] = Counter()

    def happens(self, word: str) -> None:
        """Let one thing happen and hold it against the reckoning."""
        if word == "wet is gone":
            self.got["wet"] = None
            self.waiting = [message for message in self.waiting if message.port != "wet"]
            self.caller.port_gone("wet", 0)
        elif word.endswith("is there"):
            self.got[word.split()[0]] = None
            self.judge(self.caller.port_back(word.split()[0], 0), hurried=False)
        elif word == "sleep":
            self.caller.offered("slept", 0)
            self.got = dict.fromkeys(PORTS)
            self.waiting = []
        else:
            hurried = word == "next, half of it"
            self.judge(self.caller.take(ACTS["next" if hurried else word], 0, self.waiting), hurried=hurried)
            self.changed(word)

    def changed(self, word: str) -> None:
        if word in ("out", "in") and self.caller.parts.offer:
            self.got["front"] = None

    def judge(self, outcome: Outcome, *, hurried: bool) -> None:
        """Lean only after the cue before, all of it; and then the wire has what the full list would bring."""
        for each in outcome.plan.ports if outcome.plan else ():
            assert outcome.plan is not None
            place = outcome.plan.step.place
            unsent = [m for m in self.waiting if m.port == each.port and m.kind is not MessageKind.TRIGGER]
            before = None if unsent else self.got[each.port]
            if each.form is Form.LEAN:
                assert before is not None
                assert AFTER.get(before) == place
            self.counted[each.form] += 1
            count = len(each.messages) // 2 if hurried else len(each.messages)
            self.hears(each.port, each.messages[:count])
            self.waiting = [m for m in self.waiting if m.port != each.port] + list(each.messages[count:])
            self.got[each.port] = place
            if count == len(each.messages):
                full = [message for message in outcome.plan.step.full.messages if message.port == each.port]
                assert self.stands[each.port].items() >= dict(values(full)).items()

    def hears(self, port: str, messages: tuple[Message, ...]) -> None:
        self.stands[port] |= dict(values(messages))


def values(messages: tuple[Message, ...] | list[Message]) -> Iterator[tuple[bytes, int]]:
    return ((each.data[:2], each.data[2]) for each in messages if each.kind is not MessageKind.TRIGGER)


def told(words: list[str], length: int) -> Counter[Form]:
    """Tell every story of so many things, after a start with both ports and the first cue; count what went out."""
    counted: Counter[Form] = Counter()
    for story in product(words, repeat=length):
        reckoning = Reckoning()
        for word in ("front is there", "wet is there", "again", "next", *story):
            reckoning.happens(word)
        counted += reckoning.counted
    return counted


def test_lean_never_follows_what_a_port_has_not_got_whole() -> None:
    """Every story of three steps and mishaps, and of four where a port is lost or a cue is overtaken."""
    hurry = ["next", "next, half of it", "back", "wet is gone", "wet is there", "again"]

    counted = told([*hurry, "safe", "to the spare song", "sleep"], 3) + told(hurry, 4)

    assert counted[Form.LEAN] > 5_000
    assert counted[Form.FULL] > 5_000


def test_lean_never_follows_a_change_that_a_port_has_not_got() -> None:
    """Every story of three out of changes for tonight and steps."""
    counted = told(["next", "next, half of it", "out", "in", "wet is gone", "wet is there"], 3)

    assert counted[Form.LEAN] > 100
    assert counted[Form.FULL] > 100
