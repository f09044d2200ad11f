"""The thread that runs a gig: it hears what is asked, asks the caller, sends, writes down, and tells who watches.

It owns everything that changes; what others read are frozen snapshots. It never waits for a port, a page or a
compilation, and no exception ends it: each becomes a notice, and the gig goes on.
"""

import contextlib
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Final

from scenebook.errors import BadValueError, ScenebookError
from scenebook.live.acts import Act, Verb
from scenebook.live.asking import Aside, Asking
from scenebook.live.book import Book
from scenebook.live.caller import Caller
from scenebook.live.clock import Clock
from scenebook.live.doors import Worker, aside
from scenebook.live.facing import Journal, Ports
from scenebook.live.listening import Ears
from scenebook.live.pacing import needs_of
from scenebook.live.places import Place
from scenebook.live.plans import Asked, Outcome, Ready, Record
from scenebook.live.rig_ports import Change, RigPorts, all_wires
from scenebook.live.snapshot import Form, Learned, Role, Sent, Snapshot
from scenebook.live.telling import told
from scenebook.live.tempo import Tempo, bends_of
from scenebook.live.triggers import Triggers, numbered, played
from scenebook.midi.carrier import urgent
from scenebook.model import Library
from scenebook.model.on_stage import Wire

__all__ = ["NOT_YET", "SLEPT", "Engine"]

_IDLE_S: Final = 0.005  # the longest wait: what matters ends it earlier
_SLEPT_S: Final = 2.0
_FAULT_S: Final = 0.01  # after an exception, so that one that comes again and again leaves the machine some air
_END_S: Final = 3.0
_ROOM_S: Final = 0.002  # there is time before the next byte
_SWITCH_S: Final = 0.000_5
NOT_YET: Final = "This is still being worked out; the page shows when it is done"
SLEPT: Final = "The computer has slept: what was sent before may not hold any more"


class Engine:
    """A running gig, as `facing.Stand` says; `follow` takes what another stand has written."""

    def __init__(
        self,
        caller: Caller,
        ports: Ports,
        journal: Journal,
        wires: Mapping[str, Wire],
        *,
        library: Library,
        gig: str,
        rig: str,
        clock: Clock | None = None,
        work: Worker = aside,
    ) -> None:
        """Write the journal's first record; nothing runs until `start`. `wires` go before the rig's own.

        Raises:
            BadValueError: one message would step the gig in two ways.
        """
        self._caller, self._ports = caller, ports
        self._library, self._rig, self._clock = library, library.rigs[rig], clock or Clock()
        self._book = Book(journal, self._clock)
        self._numbers = numbered(library.gigs[gig], library.songs)
        self._ears = Ears(Triggers(self._rig.steps, self._rig.playback), ports, work)
        all_of_them = all_wires(self._rig, wires)
        served = self._rig.sender.ports if self._rig.sender else ()
        self._outputs = RigPorts(
            all_of_them, needs_of(library.units), ports, work, told=self._ears.sent, elsewhere=served
        )
        self._tempo = Tempo(all_of_them, self._bends())
        self._asked: deque[Asking] = deque()
        self._aside = Aside(caller.prepare, work, self._put)
        self._watchers: tuple[Callable[[Snapshot], None], ...] = ()
        self._watching = threading.Lock()
        self._sent = Sent(Form.NOTHING, "", self._clock.wall(), 0)
        self._learned: Learned | None = None
        self._known: tuple[Learned, ...] = ()
        self._refused = ""
        self._is_told, self._ended = True, False
        self._behind = self._clock.real() - self._clock.now()
        self._thread = threading.Thread(target=self._run, name="gig", daemon=True)
        self._parts_of_a_turn: tuple[tuple[str, Callable[[], None]], ...] = (
            ("listening", self._listen),
            ("answering", self._answer_all),
            ("sending", self._pump),
            ("looking", self._look),
            ("telling", self._tell),
        )
        self._call_anew()
        self._learn_again()
        self._book.write(caller.begin(self._clock.wall()))
        self._parts, self._shown = caller.parts, self._shows()
        self._snapshot = self._made(0)

    # What a face may do, from any thread.

    @property
    def snapshot(self) -> Snapshot:
        """How the gig stands now."""
        return self._snapshot

    def act(self, act: Act) -> None:
        """Ask for something; the next snapshot tells."""
        self._put(Asking(act))

    def ask(self, act: Act, *, seconds: float = 2.0) -> Snapshot:
        """Ask for something and return the snapshot after it; where that takes longer, the newest, `unfinished`."""
        asking = Asking(act)
        self._put(asking)
        asking.answered.wait(seconds)
        return asking.snapshot or replace(self._snapshot, refused="", unfinished=NOT_YET)

    def follow(self, record: Record) -> None:
        """Do what another stand has done and written down; records are taken in the order in which they are given."""
        self._put(Asking(record))

    def watch(self, told: Callable[[Snapshot], None]) -> Callable[[], None]:
        """Call `told` with every new snapshot, in the gig's own thread, so it must be quick; return how to stop it."""
        with self._watching:
            self._watchers = (*self._watchers, told)
        return lambda: self._leave(told)

    def start(self) -> None:
        """Begin. From now on Python hands its lock on after half a millisecond, so that no page holds up a press."""
        self._switching = sys.getswitchinterval()
        sys.setswitchinterval(_SWITCH_S)
        self._thread.start()

    def close(self) -> None:
        """End the gig's thread; what was done stays in the journal. The ports that were passed in stay open."""
        self._ended = True
        self._ports.wake()
        if self._thread.is_alive():
            self._thread.join(_END_S)
            sys.setswitchinterval(self._switching)

    def _put(self, asking: Asking) -> None:
        self._asked.append(asking)
        self._ports.wake()

    def _leave(self, told: Callable[[Snapshot], None]) -> None:
        with self._watching:
            self._watchers = tuple(each for each in self._watchers if each is not told)

    # The gig's own thread.

    def _run(self) -> None:
        urgent()
        while not self._ended:
            try:
                self._ports.wait(self.turn())
                self._book.faults.pop("turn", None)
            except Exception as error:  # whatever it is, the gig goes on
                self._book.trouble(error, "turn")
                time.sleep(_FAULT_S)
        with contextlib.suppress(Exception):
            self._finish()

    def turn(self) -> float:
        """Do what is to be done now; return for how many seconds there is nothing, if nothing comes in.

        What fails keeps nothing else from being done.
        """
        for name, part in self._parts_of_a_turn:
            try:
                part()
            except Exception as error:
                self._book.trouble(error, name)
            else:
                self._book.faults.pop(name, None)
        now = self._now()
        moments = [due for due in (self._outputs.due(now), self._tempo.due()) if due is not None]
        wait = min([_IDLE_S, *((due - now) / 1_000_000 for due in moments)])
        if wait > _ROOM_S:
            with contextlib.suppress(Exception):  # a press will tell
                self._ears.rehearse(now)
                self._caller.rehearse()
        return wait

    def _listen(self) -> None:
        for heard in self._ears.poll(self._now(), self._where):
            self._attempt(lambda: self._hear(heard))  # noqa: B023 - it is called at once

    def _where(self) -> Place:
        return self._caller.standing.place

    def _answer_all(self) -> None:
        while self._asked:
            self._answer(self._asked.popleft())

    def _attempt(self, call: Callable[[], None]) -> None:
        """Do something that was asked; where that fails, say so as what it comes to, whatever was refused before."""
        try:
            call()
        except Exception as error:
            self._refused, self._is_told = f"It may not have been done: {type(error).__name__}: {error}", False
            self._book.trouble(error, "fault")

    def _hear(self, heard: Act | Learned) -> None:
        if isinstance(heard, Act):
            self._carry_out(self._caller.take(heard, self._clock.wall(), self._outputs.waiting))
        else:
            self._learned = None
            self._try(lambda: self._learn(heard))

    def _learn(self, heard: Learned) -> None:
        """Let a press do from now on what it was pressed for; where it does that already there is nothing to keep."""
        is_new = self._ears.take(heard)
        self._learned = replace(heard, is_new=is_new)
        if is_new:
            self._carry_out(self._caller.learn(heard, self._clock.wall()))
            self._known = self._caller.standing.learned

    def _answer(self, asking: Asking) -> None:
        """Do one thing that was asked; what takes time goes aside first, one after the other."""
        if self._aside.takes(asking):
            return
        self._attempt(lambda: self._do(asking.asked))
        if isinstance(asking.asked, Ready):
            self._aside.done()
        try:
            self._publish()
        finally:
            asking.answer(self._snapshot)

    def _do(self, asked: Asked | Ready) -> None:
        if isinstance(asked, Act) and asked.verb is Verb.LEARN:
            self._try(lambda: self._ears.learn(asked.text))
            return
        self._carry_out(self._caller.take(asked, self._clock.wall(), self._outputs.waiting))
        if not isinstance(asked, Act):
            self._learn_again()
        if isinstance(asked, Ready):
            self._call_anew()
            self._tempo.anew(self._bends(), self._tempo_at(self._caller.standing.place), self._now())

    def _carry_out(self, outcome: Outcome) -> None:
        """Write down what was still under way and what is done now; then send."""
        self._refused, self._is_told = outcome.refused, False
        if outcome.refused:
            return
        plan, outputs = outcome.plan, self._outputs.outputs
        for each in plan.ports if plan is not None else ():
            output = outputs[each.port]
            self._book.port(output, self._now(), output.drop(each.messages))
        self._book.write(outcome.records)
        if plan is not None:
            for each in plan.ports:
                outputs[each.port].begin(each.messages, self._now())
            self._sent = Sent(plan.form, plan.by, self._clock.wall(), plan.messages, plan.whole)
            self._real_time(self._tempo.step(plan.step, self._tempo_at(plan.step.place), self._now()))
        elif self._caller.role is Role.FOLLOWING:
            self._fall_silent()
        self._book.faults.pop("fault", None)

    def _fall_silent(self) -> None:
        """Send nothing from now on; only notes that sound are let go of."""
        self._real_time(self._tempo.stop())
        for output in self._outputs.outputs.values():
            self._book.port(output, self._now(), output.hush(self._now()))

    def _pump(self) -> None:
        now = self._now()
        self._outputs.pump(now)
        self._real_time(self._tempo.pump(now))
        for output in self._outputs.outputs.values():
            if output.gone and output.is_idle:
                self._book.port(output, now)

    def _real_time(self, sent: Iterable[tuple[str, bytes]]) -> None:
        for port, byte in sent:
            self._outputs.outputs[port].real_time(byte, self._now())

    def _look(self) -> None:
        """See whether ports have come or gone, and whether the machine has slept."""
        now = self._now()
        behind = self._clock.real() - self._clock.now()
        slept, self._behind = behind - self._behind > _SLEPT_S, behind
        if slept:
            self._wake_up()
        for change in self._outputs.look(now):
            self._join(change)
        self._ears.look(now)

    def _wake_up(self) -> None:
        """After a sleep: open everything anew, send nothing, offer what stands."""
        for change in self._outputs.lose_all(SLEPT):
            self._join(change)
        self._ears.let_go()
        self._tempo.stop()
        self._sent = Sent(Form.NOTHING, "", self._clock.wall(), 0)
        self._carry_out(self._caller.offered(SLEPT, self._clock.wall()))

    def _join(self, change: Change) -> None:
        """Tell the caller of a port that has come or gone; what it asks for then goes out."""
        wall, output = self._clock.wall(), self._outputs.outputs[change.port]
        if change.is_there:
            self._carry_out(self._caller.port_back(change.port, wall, midi=change.midi, waiting=self._outputs.waiting))
        else:
            self._book.port(output, self._now(), change.lost)
            self._carry_out(self._caller.port_gone(change.port, wall, midi=change.midi, waiting=change.lost))

    def _finish(self) -> None:
        self._fall_silent()
        self._book.close()
        self._outputs.close()
        self._ears.let_go()

    # Telling.

    def _shows(self) -> tuple[object, ...]:
        """Return what a snapshot shows that changes by itself."""
        ports = self._outputs
        words = (*self._book.faults.items(), *self._ears.lacking, self._ears.learning)
        return ports.now(), ports.is_idle, self._tempo.beat, words

    def _tell(self) -> None:
        if not self._is_told or self._shows() != self._shown:
            self._publish()

    def _publish(self) -> None:
        self._is_told, self._parts, self._shown = True, self._caller.parts, self._shows()
        self._snapshot = snapshot = self._made(self._snapshot.version + 1)
        for watcher in self._watchers:
            try:
                watcher(snapshot)
            except Exception as error:
                self._book.faults["page"] = f"A page could not be told: {error}"

    def _made(self, version: int) -> Snapshot:
        parts, ports = self._parts, self._outputs.now()
        return Snapshot(
            version=version,
            programme=parts.programme,
            step=parts.step,
            ahead=parts.ahead,
            left=parts.left,
            role=parts.role,
            sent=replace(self._sent, done=self._outputs.is_idle),
            ports=ports,
            tonight=parts.tonight,
            check=parts.check,
            in_turn=parts.in_turn,
            notices=(*parts.notices, *told(ports, self._ears.lacking, self._book.faults)),
            beat=self._tempo.beat,
            learning=self._ears.learning,
            learned=self._learned,
            offer=parts.offer,
            refused=self._refused,
            checking=parts.checking,
        )

    def _try(self, call: Callable[[], None]) -> None:
        """Do something that a player may ask wrongly; say why it is not done."""
        self._refused, self._is_told = "", False
        try:
            call()
        except BadValueError as error:
            self._refused = str(error)

    def _learn_again(self) -> None:
        """Take what was learned before a restart, or by the stand that is followed.

        What the rig says otherwise by now is passed over.
        """
        known = self._caller.standing.learned
        if known != self._known:
            self._known = known
            for learned in known:
                with contextlib.suppress(ScenebookError):
                    self._ears.take(learned)

    def _call_anew(self) -> None:
        """Let the playback rig's numbers call what is played tonight."""
        self._ears.call(played(self._numbers, self._caller.programme.by_place))

    def _tempo_at(self, place: Place) -> float | None:
        return self._caller.programme.tempos.get(place._replace(form=0))

    def _bends(self) -> Mapping[str, Mapping[str, int]]:
        return bends_of(self._rig, self._library.units, self._caller.parts.tonight.played_by)

    def _now(self) -> int:
        """Microseconds on the gig's own clock."""
        return int(self._clock.now() * 1_000_000)
