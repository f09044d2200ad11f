"""A unit of a shared loop fails in the middle of a gig: the one that is left alone in the loop still sounds (S11)."""

import pytest

from scenebook.live.acts import Act, Verb
from scenebook.live.caller import Caller, Outcome
from scenebook.live.places import Place
from scenebook.model import Library
from tests.support.build import GIG, RIG, library, rig, song, unit
from tests.support.compiling import on_port
from tests.support.on_stage import Stage

SWITCHER = unit(switches={"A": {"message": {"controller": 1}}})
OWN = unit(switches={"main": {"message": {"controller": 80}}})


def board() -> Library:
    """Return a gig on fuzz and wah in one loop, each with a switch of its own that a message works, and a delay."""
    units = {"fuzz": OWN, "wah": OWN, "delay": OWN, "switcher": SWITCHER}
    played = song(
        {"fuzz": {"fuzz": "on"}, "wah": {"wah": "on"}, "clean": {"delay": "on"}}, "fuzz", "wah", "clean", "wah"
    )
    made = rig("fuzz", "wah", "delay", units=on_port(*units), loops={"switcher": {"A": ["fuzz", "wah"]}})
    return library(units, made, played)


class Gig:
    """A caller and the units that hear it."""

    def __init__(self) -> None:
        self.caller, self.stage = Caller(board(), GIG, RIG), Stage(board())
        self.stand()
        self.caller.port_back("front", 0)
        self.ask(Verb.AGAIN)

    def stand(self) -> None:
        self.stage.stand(self.caller.parts.tonight, self.caller.programme)
        self.stage.look(self.caller.parts.check)

    def ask(self, verb: Verb, place: Place | None = None, unit: str = "") -> list[str]:
        """Ask something; return what stands otherwise than the place asks, and what the plan sends."""
        outcome: Outcome = self.caller.take(Act(verb, "key", place, unit=unit), 0.0)
        assert outcome.refused == ""
        if outcome.plan is None:
            self.stand()
            return []
        self.stage.obey(outcome.plan, {}, entered=True)
        differ = self.stage.differences(outcome.plan.step.place, {each.port: each.form for each in outcome.plan.ports})
        assert differ == []
        return [message.data.hex(" ").upper() for each in outcome.plan.ports for message in each.messages]


@pytest.mark.parametrize("verb", [Verb.NEXT, Verb.AGAIN])
def test_the_one_that_is_left_alone_is_turned_on_by_its_own_message(verb: Verb) -> None:
    """The wah's own switch is off, since the fuzz played: without its message the loop would open on silence."""
    gig = Gig()
    gig.ask(Verb.NEXT)
    gig.ask(Verb.OUT, unit="fuzz")
    if verb is Verb.AGAIN:
        gig.ask(Verb.AGAIN)

    sent = gig.ask(Verb.NEXT)

    assert {"B1 50 7F", "B3 01 7F"} <= set(sent)
    assert gig.ask(Verb.NEXT)[0] == "B3 01 00"
    assert gig.ask(Verb.NEXT)[-1] == "B3 01 7F"


def test_a_unit_that_nobody_can_work_any_more_leaves_the_other_to_sound() -> None:
    """Deaf and without a footswitch it counts as out; the wah goes on."""
    gig = Gig()
    gig.ask(Verb.NEXT)
    gig.ask(Verb.DEAF, unit="fuzz")
    assert gig.caller.programme.stays == ("fuzz",)

    assert {"B1 50 7F", "B3 01 7F"} <= set(gig.ask(Verb.NEXT))
