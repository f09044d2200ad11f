"""Whatever is asked, in whatever order, whatever breaks: the units stand as the scene asks, and the records tell it."""

import json
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from scenebook.live.acts import Act, Verb
from scenebook.live.caller import Caller, Outcome
from scenebook.live.places import HOME, SAFE, Part, Place
from scenebook.live.records import replayed
from scenebook.live.snapshot import Learned, Role
from tests.support.build import GIG, RIG
from tests.support.on_stage import Stage
from tests.support.random_evenings import playable_evening

PLACES = st.builds(Place, st.sampled_from(Part), st.integers(-1, 3), st.integers(-1, 6))
SOME = st.integers(0, 6)
NAMES = st.sampled_from([*(f"{who}unit {n}" for who in ("", "twin of ") for n in range(4)), "unit", "nobody", ""])
TEXTS = st.sampled_from(["", "Em", "92", "121,5", "nan", "1e9"])
ANYTHING = st.builds(Act, st.sampled_from(Verb), st.just("page"), st.one_of(st.none(), PLACES), NAMES, NAMES, TEXTS)


class Evening(RuleBasedStateMachine):
    """An evening with two laptops; the second follows, and may take over."""

    @initialize(seed=st.integers(0, 400))
    def open(self, seed: int) -> None:
        self.library, self.now, self.records = playable_evening(seed), 0.0, list[Any]()
        self.caller = Caller(self.library, GIG, RIG)
        self.other = Caller(self.library, GIG, RIG, role=Role.FOLLOWING)
        self.stage, self.there = Stage(self.library), set[str]()
        self.ports = self.library.rigs[RIG].ports
        self.write(self.caller.begin(self.now))
        self.compiled: object = None
        self.stand()
        for port in self.ports:
            self.plug(port)
        self.ask(Act(Verb.AGAIN, "key"))

    def write(self, records: Any) -> None:
        for record in records:
            self.records.append(json.loads(json.dumps(record)))
            told = self.other.take(self.other.prepare(self.records[-1]), self.now)
            assert told.plan is None
            assert told.records == (self.records[-1],)

    def stand(self) -> None:
        parts = self.caller.parts
        if parts.programme is not self.compiled:
            self.compiled = parts.programme
            self.stage.stand(parts.tonight, parts.programme)
            self.stage.look(parts.check)

    def ask(self, act: Act, takes: dict[str, int] | None = None) -> Outcome:
        self.now += 1
        before = self.caller.standing
        outcome = self.caller.take(self.caller.prepare(act), self.now, self.stage.messages)
        if outcome.refused:
            assert outcome == Outcome(refused=outcome.refused)
            assert self.caller.standing == before
            assert outcome.refused.endswith(("?", "."))
        self.write(outcome.records)
        after = self.caller.standing
        self.obey(outcome, takes or {}, entered=(after.place, after.walk) != (before.place, before.walk))
        return outcome

    def obey(self, outcome: Outcome, takes: dict[str, int], *, entered: bool) -> None:
        self.stand()
        parts = self.caller.parts
        if outcome.plan is not None:
            assert {each.port for each in outcome.plan.ports} <= self.there
            assert outcome.plan.step is parts.step
            self.stage.obey(outcome.plan, takes, entered=entered)
            self.stage.look(parts.check)
            forms = {each.port: each.form for each in outcome.plan.ports}
            assert self.stage.differences(parts.step.place, forms) == []

    @rule()
    def next_cue(self) -> None:
        self.step(Verb.NEXT, {})

    @rule(times=st.integers(2, 4))
    def some_cues(self, times: int) -> None:
        for _ in range(times):
            self.step(Verb.NEXT, {})

    @rule(front=SOME, wet=SOME)
    def a_cue_that_is_overtaken(self, front: int, wet: int) -> None:
        self.step(Verb.NEXT, {"front": front, "wet": wet})
        self.step(Verb.NEXT, {})

    @rule(verb=st.sampled_from([Verb.NEXT, Verb.NEXT, Verb.AGAIN, Verb.BACK]), front=SOME, wet=SOME)
    def a_cue_that_takes_its_time(self, verb: Verb, front: int, wet: int) -> None:
        self.step(verb, {"front": front, "wet": wet})

    @rule(verb=st.sampled_from([Verb.BACK, Verb.AGAIN, Verb.SAFE, Verb.RESUME, Verb.CHECK]))
    def another_step(self, verb: Verb) -> None:
        self.step(verb, {})

    def step(self, verb: Verb, takes: dict[str, int]) -> None:
        led = self.caller.parts.ahead
        outcome = self.ask(Act(verb, "key"), takes)
        if verb is Verb.NEXT:
            assert (led is None) == bool(outcome.refused)
            assert led is None or self.caller.parts.step.place == led.place
        if led is None and verb is Verb.NEXT:
            self.ask(Act(Verb.GO, "page", HOME))

    @rule(data=st.data())
    def go_somewhere(self, data: st.DataObject) -> None:
        places = list(self.caller.parts.programme.by_place)
        self.ask(Act(Verb.GO, "page", data.draw(st.sampled_from(places))))

    @rule(unit=st.integers(0, 3), verb=st.sampled_from([Verb.OUT, Verb.IN, Verb.PLAYED_BY, Verb.DEAF, Verb.HEARS]))
    def change_a_unit(self, unit: int, verb: Verb) -> None:
        self.ask(Act(verb, "page", unit=f"unit {unit}", other=f"twin of unit {unit}"))

    @rule(verb=st.sampled_from([Verb.CUT, Verb.CUT, Verb.KEEP, Verb.TEMPO]), data=st.data())
    def change_a_song(self, verb: Verb, data: st.DataObject) -> None:
        places = sorted({*self.caller.parts.programme.by_place, *self.caller.parts.tonight.cut})
        self.ask(Act(verb, "page", data.draw(st.sampled_from(places)), text=data.draw(TEXTS)))

    @rule(act=ANYTHING)
    def anything(self, act: Act) -> None:
        if act.verb not in (Verb.YIELD, Verb.TAKE):
            self.ask(act)

    @rule(count=st.integers(1, 20))
    def time_goes_by(self, count: int) -> None:
        self.stage.let_go(count)

    @rule(port=st.sampled_from(["front", "wet"]), then=st.integers(0, 2))
    def a_port_is_lost_and_found(self, port: str, then: int) -> None:
        """After no cue, one or two."""
        if port not in self.ports:
            return
        if port in self.there:
            self.unplug(port)
        for _ in range(then):
            self.step(Verb.NEXT, {})
        self.plug(port)

    @rule(port=st.sampled_from(["front", "wet"]))
    def a_port_is_lost(self, port: str) -> None:
        if port in self.there:
            self.unplug(port)

    @rule(mishap=st.sampled_from(["sleep", "kill", "take over", "late", "learn"]), data=st.data())
    def a_mishap(self, mishap: str, data: st.DataObject) -> None:
        if mishap == "sleep":
            self.lose_all()
            self.write(self.caller.offered("The machine has slept", self.now).records)
            self.look_around()
        elif mishap == "kill":
            self.is_killed_and_started_again()
        elif mishap == "take over":
            self.the_other_takes_over()
        elif mishap == "late":
            self.a_change_is_late(data.draw(st.sampled_from([Verb.OUT, Verb.DEAF])), data.draw(st.integers(0, 3)))
        else:
            learned = Learned("pedal", bytes([0x90, data.draw(st.integers(0, 3)), 64]), "next")
            self.write(self.caller.learn(learned, self.now).records)

    def a_change_is_late(self, ready: Verb, unit: int) -> None:
        """It was prepared, and by the time it is taken the gig has gone on and changed."""
        late = self.caller.prepare(Act(ready, "page", unit=f"unit {unit}"))
        self.ask(Act(Verb.IN, "page", unit=f"unit {(unit + 1) % 4}"))
        self.ask(Act(Verb.NEXT, "key"))
        self.write(self.caller.take(late, self.now).records)
        self.stand()

    def plug(self, port: str) -> None:
        self.there.add(port)
        self.stage.lose(port)
        assert self.other.port_back(port, self.now).plan is None
        outcome = self.caller.port_back(port, self.now, midi="somewhere")
        self.write(outcome.records)
        self.obey(outcome, {}, entered=False)

    def unplug(self, port: str) -> None:
        self.other.port_gone(port, self.now)
        self.write(self.caller.port_gone(port, self.now, waiting=self.stage.messages).records)
        self.there.discard(port)
        self.stage.lose(port)

    def lose_all(self) -> None:
        for port in self.ports:
            self.stage.lose(port)

    def is_killed_and_started_again(self) -> None:
        was = self.caller
        self.lose_all()
        self.caller = Caller(self.library, GIG, RIG, standing=replayed(self.records))
        assert self.alike(was)
        self.write(self.caller.begin(self.now))
        for port in sorted(self.there):
            assert self.caller.port_back(port, self.now).plan is None
        self.look_around()

    def the_other_takes_over(self) -> None:
        self.lose_all()
        self.write(self.caller.take(Act(Verb.YIELD, "page"), self.now).records)
        assert self.caller.take(Act(Verb.NEXT, "key"), self.now).refused
        self.caller, self.other = self.other, self.caller
        assert self.alike(self.other)
        self.write(self.caller.take(Act(Verb.TAKE, "page"), self.now).records)
        self.look_around()

    def look_around(self) -> None:
        assert self.caller.parts.offer
        self.compiled = None
        self.stand()

    def alike(self, was: Caller) -> bool:
        one, other = self.caller.parts, was.parts
        return self.caller.standing == was.standing and (one.step, one.ahead, one.left, one.tonight, one.programme) == (
            other.step, other.ahead, other.left, other.tonight, other.programme
        )  # fmt: skip

    @invariant()
    def the_records_say_where_it_stands(self) -> None:
        if hasattr(self, "caller"):
            there = replace(self.other.standing, role=self.caller.role)
            assert replayed(self.records) == self.caller.standing == there
            place = self.caller.standing.place
            assert (self.caller.standing.left is None) == (place.part is Part.SET)
            assert (self.caller.standing.back is None) == (place != SAFE)
            assert (self.caller.standing.walk is None) == (self.caller.parts.checking is None)


@pytest.mark.filterwarnings("ignore::hypothesis.errors.NonInteractiveExampleWarning")
def test_whatever_happens_the_units_stand_as_the_scene_asks() -> None:
    """Random evenings: steps, jumps, ports lost, messages dropped, units out, killed and started again."""
    checks = [HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large]
    chosen = settings(max_examples=120, stateful_step_count=40, deadline=None, suppress_health_check=checks)
    run_state_machine_as_test(Evening, settings=chosen)
