"""The caller: it owns the position of a running gig and says what must go out. No clock, no port, no file in it.

One thread owns a caller. `prepare` alone may run in another: it reads values that never change and changes nothing.
"""

from collections.abc import Callable, Iterable, Set
from copy import copy
from dataclasses import replace
from functools import partial

from scenebook.cueing.cues import ByHand, Message, MessageKind
from scenebook.errors import ScenebookError
from scenebook.live import records
from scenebook.live.acts import Act, Verb
from scenebook.live.changing import CHANGES
from scenebook.live.evening import Evening, changed_evening, evening_of, told_by
from scenebook.live.plans import Asked, Outcome, Parts, Plan, PortPlan, Ready, Record
from scenebook.live.programme import Programme, Step
from scenebook.live.skipped import after_jump, is_same_work, lamps, otherwise
from scenebook.live.snapshot import Form, Learned, Notice, PortState, Role
from scenebook.live.stepping import STEPS, Standing, ahead, is_neighbour, led, settled, with_learned
from scenebook.live.sureness import Sureness
from scenebook.live.tonight import Tonight
from scenebook.live.walking import Checking, Walk
from scenebook.model import Library

__all__ = ["ANYWHERE", "SLOW", "Asked", "Caller", "Outcome", "Parts", "Plan", "PortPlan", "Ready", "Record"]

SLOW = CHANGES | {Verb.CHECK}
"""What compiles the evening anew or asks a solver: a tenth of a second and more, so it is prepared outside the gig's
own thread.
"""
ANYWHERE = "The rig may stand anywhere: send again"
RELEASE = "release"  # the value of the message that ends a trigger's note
_NOTHING: frozenset[tuple[str, str]] = frozenset()

_REHEARSED = Act(Verb.NEXT)


class Caller:
    """Owns the position. A gig begins at `standing` (as `records.replayed` gives it), else at home; nothing is sent.

    `library` has to hold every unit that may play another's part.

    Raises:
        ScenebookError: the gig cannot be played on the rig, as the compiler says it.
    """

    def __init__(
        self,
        library: Library,
        gig: str,
        rig: str,
        *,
        standing: Standing | None = None,
        role: Role = Role.CALLING,
    ) -> None:
        begun = standing or Standing()
        self._role, self._there = role, set[str]()
        self._notices: dict[str, str] = {}
        self._evening = self._evening_at(library, gig, rig, begun.tonight)
        self._standing = self._settled(begun)
        self._sureness = Sureness(self._evening)
        if (role, begun.role) == (Role.CALLING, Role.FOLLOWING):
            self._notices["role"] = "Another stand called when this one ended: see that it sends no more, then go on"
        self._anywhere, self._offer = True, ANYWHERE if role is Role.CALLING else ""
        self._check: Callable[[], tuple[ByHand, ...]] = tuple
        self._in_turn = False
        self._told: tuple[Evening, Walk, Checking] | None = None
        if self._standing.place != begun.place:
            self._notices["place"] = "The cue that stood last is not in the gig any more; this one comes before it"

    def _evening_at(self, library: Library, gig: str, rig: str, tonight: Tonight | None) -> Evening:
        """Return the evening as it was changed or, where the library allows that no more, as the gig says."""
        try:
            return evening_of(library, gig, rig, tonight)
        except ScenebookError as error:
            if tonight is None:
                raise
            evening = evening_of(library, gig, rig)
            self._notices["tonight"] = f"What was changed tonight cannot be played any more, so nothing is: {error}"
            return evening

    def _settled(self, standing: Standing) -> Standing:
        return replace(settled(self._evening.programme, standing), tonight=self._evening.tonight, role=self._role)

    def begin(self, now: float) -> tuple[Record, ...]:
        """Return the records with which the journal of this run begins ("opened": it holds the whole standing)."""
        return (records.opened(self._evening.gig, self._evening.rig, self._standing, self._role, now),)

    def prepare(self, asked: Asked) -> Ready:
        """Do what takes time of an act (a change for tonight) or of a record that is followed; change nothing.

        Any thread. It is needed for verbs in SLOW and for records of the kind "tonight" and "opened"; for all else it
        costs nothing and may be left out.
        """
        evening = self._evening
        try:
            if isinstance(asked, Act):
                return self._prepared(asked, evening) if asked.verb in SLOW else Ready(asked)
            tonight = records.tonight_in(asked)
            if tonight is None or tonight == evening.tonight:
                return Ready(asked)
            return Ready(asked, evening, evening_of(evening.library, evening.gig, evening.rig, tonight))
        except ScenebookError as error:
            return Ready(asked, evening, refused=_sentence(error))

    def _prepared(self, act: Act, evening: Evening) -> Ready:
        walk = self._standing.walk
        if act.verb is not Verb.CHECK:
            after = changed_evening(evening, act)
            _ = walk and after.touching
            return Ready(act, evening, after)
        _ = walk or evening.to_check
        return Ready(act, evening, evening)

    def take(self, asked: Asked | Ready, now: float, waiting: Iterable[Message] = ()) -> Outcome:
        """Do what is asked. `waiting` are all messages of earlier plans that have not gone, on any port.

        Never raises for anything that a player can ask: what cannot be done is refused in a sentence. A ready that was
        prepared before another change is prepared again here, which takes its time. A caller that follows plans nothing
        and takes acts only to take over; it takes records of the stand that it follows, which come back as its own.
        """
        ready = asked if isinstance(asked, Ready) else self.prepare(asked)
        if ready.basis is not None and ready.basis is not self._evening:
            ready = self.prepare(ready.asked)
        try:
            if isinstance(ready.asked, Act):
                return self._do(ready.asked, ready, now, waiting)
            return self._follow(ready.asked, ready, now)
        except ScenebookError as error:
            return Outcome(refused=_sentence(error))

    def rehearse(self) -> None:
        """Go through the next step and forget it: while nothing happens, it keeps at hand what a press will need.

        On a machine that does other things in between, a press is then answered in a quarter of the time.
        """
        twin = copy(self)
        twin._sureness, twin._notices = self._sureness.twin(), dict(self._notices)
        twin.take(_REHEARSED, 0.0)

    def _do(self, act: Act, ready: Ready, now: float, waiting: Iterable[Message]) -> Outcome:
        if self._role is Role.FOLLOWING and act.verb is not Verb.TAKE:
            return Outcome(refused="This stand follows another one: take over first.")
        if act.verb in STEPS or (act.verb is Verb.CHECK and self._standing.walk):
            return self._step(act, now, waiting)
        if act.verb is Verb.AGAIN:
            return self._again(act, now, waiting)
        if act.verb in CHANGES:
            return self._change(act, ready, now)
        if act.verb is Verb.CHECK:
            return self._begin_check(act, ready, now)
        if act.verb in (Verb.TAKE, Verb.YIELD):
            return self._hand_over(act, now)
        return Outcome(refused="A message is learned where it comes in.")

    def _step(self, act: Act, now: float, waiting: Iterable[Message]) -> Outcome:
        programme, here = self._evening.programme, self._standing.place
        standing = led(programme, self._standing, act)
        if standing == self._standing:  # it was called twice
            return self._again(act, now, waiting) if self._offer else Outcome()
        walks = bool(standing.walk or self._standing.walk)  # a line check depends on nothing that came before
        jump = self._anywhere or walks or not is_neighbour(programme, here, standing.place)
        self._reckon_with(waiting)
        if jump:
            self._sureness.doubt_all()
        step = programme.by_place[standing.place]
        plan = self._planned(step, act.by, self._ports_there())
        self._standing = standing
        self._has_gone_out()
        self._in_turn = not jump
        self._check = partial(after_jump, programme, standing.place) if jump else partial(self._lamps, plan)
        return Outcome(plan, (records.stepped(act, standing, plan, now, jump=jump),))

    def _begin_check(self, act: Act, ready: Ready, now: float) -> Outcome:
        """Begin a line check. Nothing is sent: the player sees what comes, and steps to it."""
        if ready.refused or ready.evening is None:
            return Outcome(refused=ready.refused)
        if not ready.evening.to_check:
            return Outcome(refused="The gig has no cue that could be checked.")
        here = self._standing
        self._standing = replace(here, walk=Walk(ready.evening.to_check, here.place, here.left, here.back))
        return Outcome(records=(records.checking(act, self._standing, now),))

    def _again(self, act: Act, now: float, waiting: Iterable[Message]) -> Outcome:
        """Send what stands once more, full. A trigger that had not gone yet has its turn; the others had theirs."""
        owed = self._reckon_with(waiting)
        self._sureness.doubt_all()
        plan = self._planned(self._here, act.by, self._ports_there(), fires=False, owed=owed)
        self._has_gone_out()
        self._in_turn = False
        self._check = partial(after_jump, self._evening.programme, self._standing.place, again=True)
        return Outcome(plan, (records.stepped(act, self._standing, plan, now, jump=True),))

    def _change(self, act: Act, ready: Ready, now: float) -> Outcome:
        """Swap in an evening that was compiled anew. Nothing is sent: it is offered, and the next step does it."""
        evening, before = ready.evening, self._here
        if evening is None:
            return Outcome(refused=ready.refused)
        after = evening.programme.by_place.get(self._standing.place)
        if after is None:
            return Outcome(refused="That part stands now: it cannot be cut while it does.")
        self._swap(evening, before, after)
        return Outcome(records=(records.changed_tonight(act, self._standing, now),))

    def _swap(self, evening: Evening, before: Step, after: Step) -> None:
        self._evening = evening
        self._standing = self._settled(self._standing)
        ports = [port for port in self._sureness.compiled_anew(evening, before, after) if port in self._there]
        if ports and not self._anywhere:
            self._offer = f"What hears {', '.join(ports)} still stands as before: send again, or the next step does it"
        if not self._in_turn:
            self._check = partial(after_jump, evening.programme, self._standing.place, again=True)
        elif not is_same_work(before, after):
            self._check, self._in_turn = partial(otherwise, before, after), False
        self._notices.pop("tonight", None)

    def _hand_over(self, act: Act, now: float) -> Outcome:
        role = Role.CALLING if act.verb is Verb.TAKE else Role.FOLLOWING
        if role is self._role:
            return Outcome(
                refused="This stand calls already." if role is Role.CALLING else "This stand follows already."
            )
        self._role, self._standing = role, replace(self._standing, role=role)
        self._stands_anywhere()
        return Outcome(records=(records.role_changed(role, act.by, now),))

    def _follow(self, record: Record, ready: Ready, now: float) -> Outcome:
        """Go where another stand has gone, and send nothing."""
        if self._role is not Role.FOLLOWING:
            return Outcome(refused="This stand calls: it follows no other.")
        if ready.refused:
            self._notices["tonight"] = f"A change that the other stand made cannot be compiled here: {ready.refused}"
        elif ready.evening is not None:
            programme, before = ready.evening.programme, self._here
            self._swap(ready.evening, before, programme.nearest(before.place) or programme.home)
        standing = records.after(self._standing, record)
        told: tuple[Record, ...] = (record,)
        if standing is not None:
            both = with_learned(self._standing.learned, standing.learned)
            self._standing = replace(self._settled(standing), learned=both)
            if both != standing.learned:  # what was learned here is known here still
                told = (record, records.learned(both, now))
        if standing is not None and record["kind"] in ("step", "opened"):
            self._in_turn = record["kind"] == "step" and not record.get("jump")
            self._check = tuple if self._in_turn else partial(after_jump, self._evening.programme, self._standing.place)
        return Outcome(records=told)

    def port_back(self, port: str, now: float, *, midi: str = "", waiting: Iterable[Message] = ()) -> Outcome:
        """Say that a port of the rig can be sent to: what stands goes out full to it, without triggers.

        At a start, after `offered`, and while following nothing goes out. Every port counts as gone until this is
        called.
        """
        if port not in self._evening.ports:
            return Outcome()
        self._lose(port, waiting)
        self._there.add(port)
        plan = None
        if self._role is Role.CALLING and not self._anywhere:
            plan = self._planned(self._here, f"{port} is back", [port], fires=False)
            shown = self._check()
            self._check = partial(tuple, (*shown, *(move for move in self._lamps(plan) if move not in shown)))
        return Outcome(plan, (records.port_changed(port, midi, PortState.THERE, now),))

    def port_gone(self, port: str, now: float, *, midi: str = "", waiting: Iterable[Message] = ()) -> Outcome:
        """Say that a port cannot be sent to; what waits on it is lost."""
        if port not in self._evening.ports:
            return Outcome()
        self._lose(port, waiting)
        self._there.discard(port)
        return Outcome(records=(records.port_changed(port, midi, PortState.GONE, now),))

    def _lose(self, port: str, waiting: Iterable[Message]) -> None:
        """Take a port for unsure, and what waits on any port that is not there."""
        self._reckon_with(message for message in waiting if message.port == port)
        self._sureness.doubt([port])

    def offered(self, why: str, now: float) -> Outcome:
        """After a sleep: the rig may stand anywhere; nothing is sent until something is asked. `why` is the notice."""
        self._stands_anywhere()
        self._notices["rest"] = why
        return Outcome(records=(records.noticed(why, "rest", now),))

    def learn(self, learned: Learned, now: float) -> Outcome:
        """Keep what a message does from now on; it is in `standing.learned`. What the same message did is forgotten."""
        self._standing = replace(self._standing, learned=with_learned(self._standing.learned, (learned,)))
        return Outcome(records=(records.learned(self._standing.learned, now),))

    @property
    def role(self) -> Role:
        """Whether this stand sends."""
        return self._role

    @property
    def programme(self) -> Programme:
        """All that can be called, as it stands tonight."""
        return self._evening.programme

    @property
    def standing(self) -> Standing:
        """All that has to outlast the gig's own process; the records say the same."""
        return self._standing

    @property
    def parts(self) -> Parts:
        """The caller's parts of a snapshot."""
        programme, check = self._evening.programme, self._check()
        self._check = partial(tuple, check)
        return Parts(
            programme=programme,
            step=self._here,
            ahead=ahead(programme, self._standing),
            left=self._standing.left,
            role=self._role,
            tonight=self._evening.tonight,
            check=check,
            in_turn=self._in_turn,
            notices=(*told_by(self._evening), *(Notice(words, about) for about, words in self._notices.items())),
            offer=self._offer,
            checking=self._checking(),
        )

    def _checking(self) -> Checking | None:
        """Return what is told of the line check that goes on, worked out once for each of its places."""
        walk, known = self._standing.walk, self._told
        if walk is None:
            return None
        if known is None or known[0] is not self._evening or known[1] is not walk:
            self._told = known = self._evening, walk, self._evening.checking(walk)
        return known[2]

    @property
    def _here(self) -> Step:
        return self._evening.programme.by_place[self._standing.place]

    def _ports_there(self) -> list[str]:
        return [port for port in self._evening.ports if port in self._there]

    def _planned(
        self, step: Step, by: str, ports: Iterable[str], *, fires: bool = True, owed: Set[tuple[str, str]] = _NOTHING
    ) -> Plan:
        """Return what goes out to ports, lean where that is sure; unless it `fires`, only triggers that are `owed`."""
        plans = []
        for port in ports:
            lean = self._sureness.may_lean(port, step)
            messages = self._evening.split(step, full=not lean).get(port, ())
            (self._sureness.went_lean if lean else self._sureness.went_full)(port, step)
            if not fires:
                messages = tuple(
                    each
                    for each in messages
                    if each.kind is not MessageKind.TRIGGER or (each.unit, each.member) in owed
                )
            plans.append(PortPlan(port, Form.LEAN if lean else Form.FULL, messages))
        return Plan(step, by, tuple(plans))

    def _reckon_with(self, waiting: Iterable[Message]) -> set[tuple[str, str]]:
        """Doubt the ports of messages that will not go out; return the triggers that did not fire, by unit and name."""
        owed = set()
        for message in waiting:
            if message.kind is not MessageKind.TRIGGER:
                self._sureness.doubt([message.port])
            elif message.value != RELEASE:
                owed.add((message.unit, message.member))
        return owed

    def _lamps(self, plan: Plan) -> tuple[ByHand, ...]:
        """Return the flipping switches to look at on ports that got everything."""
        names = {each.name for port in plan.full for each in self._evening.hearing.get(port, ())}
        return lamps(plan.step, {(unit, member) for unit, member in self._evening.toggling if unit in names})

    def _has_gone_out(self) -> None:
        self._anywhere, self._offer = False, ""
        for about in ("rest", "place", "role"):
            self._notices.pop(about, None)

    def _stands_anywhere(self) -> None:
        self._sureness.doubt_all()
        self._anywhere, self._offer = True, ANYWHERE if self._role is Role.CALLING else ""
        self._in_turn = False


def _sentence(error: ScenebookError) -> str:
    text = str(error)
    return text[:1].upper() + text[1:]
