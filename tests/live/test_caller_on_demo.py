"""The demo's evenings, called in any order with whatever goes wrong: the units always stand as the scene asks."""

import random
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest

from scenebook.cueing.cues import Action
from scenebook.live.acts import Act, Verb
from scenebook.live.caller import Caller, Outcome
from scenebook.live.programme import programme_of
from scenebook.live.skipped import after_jump
from scenebook.model import Library
from scenebook.storage.folder import read_folder
from tests.demo_library.reading import DEMO
from tests.support.on_stage import Stage

GIGS = ["Pell Quay hall", "Skerrow Head fly-in"]
STEPS = [Verb.NEXT] * 12 + [Verb.BACK, Verb.AGAIN, Verb.SAFE, Verb.RESUME]


@pytest.fixture(scope="module")
def demo() -> Library:
    """The demo library, read once."""
    return read_folder(Path(DEMO))[0]


class Evening:
    """One evening of the demo with its stage; `took` counts what happened."""

    def __init__(self, demo: Library, gig: str, chance: random.Random) -> None:
        rig = demo.gigs[gig].rig or ""
        self.caller, self.stage = Caller(demo, gig, rig), Stage(demo, gig, rig)
        self.chance, self.took = chance, Counter[str]()
        self.ports, self.there = demo.rigs[rig].ports, set[str]()
        self.units, self.all_units = demo.rigs[rig].carried, list(demo.units)
        self.stand()
        for port in self.ports:
            self.plug(port)
        self.ask(Act(Verb.AGAIN))

    def stand(self) -> None:
        parts = self.caller.parts
        self.stage.stand(parts.tonight, parts.programme)
        self.stage.look(parts.check)

    def ask(self, act: Act, *, hurried: bool = False) -> None:
        before = self.caller.standing.place
        takes = {port: self.chance.randint(0, 9) for port in self.ports} if hurried else {}
        self.obey(self.caller.take(act, 0.0, self.stage.messages), takes, entered=before != self.caller.standing.place)

    def obey(self, outcome: Outcome, takes: dict[str, int], *, entered: bool) -> None:
        if outcome.plan is None:
            return
        self.took[outcome.plan.form] += 1
        self.stage.obey(outcome.plan, takes, entered=entered)
        self.stage.look(self.caller.parts.check)
        forms = {each.port: each.form for each in outcome.plan.ports}
        assert self.stage.differences(outcome.plan.step.place, forms) == []

    def plug(self, port: str) -> None:
        self.there.add(port)
        self.obey(self.caller.port_back(port, 0.0), {}, entered=False)

    def change(self) -> None:
        verb = self.chance.choice([Verb.OUT, Verb.IN, Verb.IN, Verb.DEAF, Verb.HEARS, Verb.HEARS, Verb.PLAYED_BY])
        act = Act(verb, unit=self.chance.choice(self.units), other=self.chance.choice(self.all_units))
        if not self.caller.take(act, 0.0).refused:
            self.took["changed"] += 1
            self.stand()

    def lose(self) -> None:
        port = self.chance.choice(self.ports)
        self.caller.port_gone(port, 0.0, waiting=self.stage.messages)
        self.stage.lose(port)
        for _ in range(self.chance.randint(0, 2)):
            self.ask(Act(Verb.NEXT))
        self.plug(port)
        self.took["lost"] += 1

    def goes_on(self) -> None:
        """Let one thing happen."""
        dice = self.chance.random()
        if dice < 0.03:
            self.lose()
        elif dice < 0.04:
            self.change()
        elif dice < 0.1:
            self.ask(Act(Verb.GO, place=self.chance.choice(list(self.caller.programme.by_place))))
        elif dice < 0.2:
            self.stage.let_go(self.chance.randint(1, 30))
        else:
            self.ask(Act(self.chance.choice(STEPS)), hurried=dice < 0.3)


@pytest.mark.parametrize("gig", GIGS)
def test_whatever_happens_the_demos_units_stand_as_the_scene_asks(
    demo: Library, gig: str, tell: Callable[[str], None]
) -> None:
    """A thousand steps and mishaps in each gig; every plan that arrives whole is compared, unit by unit."""
    evening = Evening(demo, gig, random.Random(gig))

    for _ in range(1_000):
        evening.goes_on()

    tell(f"{gig}: {dict(evening.took)}")
    assert evening.took["lean"] > 300
    assert evening.took["full"] > 100
    assert evening.took["changed"] > 2


@pytest.mark.parametrize("gig", GIGS)
def test_after_a_jump_anywhere_each_thing_is_told_once_and_how_it_stands(demo: Library, gig: str) -> None:
    """What was skipped is no press, since nobody knows how it stood; what the cue itself asks for goes before it."""
    programme = programme_of(demo, gig, demo.gigs[gig].rig or "")
    later = 0
    for place, step in programme.by_place.items():
        moves = after_jump(programme, place)
        told = [(move.unit, move.member) for move in moves]
        assert len(told) == len(set(told))
        skipped = [move for move in moves if move.for_cue != step.full.number]
        assert {(move.action, move.before) for move in skipped} <= {(Action.CHECK, "")}
        later += len(skipped)
    assert later
