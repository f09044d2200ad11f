"""One thing that fails takes nothing else with it: a port, a thread that cannot be started, a page, a message."""

import threading
import time
from collections.abc import Callable

import pytest

from scenebook.live.acts import Act, Verb
from scenebook.live.doors import Worker
from scenebook.live.engine import NOT_YET
from scenebook.live.places import HOME
from scenebook.live.snapshot import PortState
from scenebook.model.on_stage import Wire
from tests.support.running import CHORUS, FIRST, Running, begun, gig, library_on_stage

CLOCK = {"front": Wire(midi="box front", plug="usb", clock=True)}
VERSE = ["B0 50 00", "B2 52 00", "C1 01", "B1 14 40"]


def failing(error: Exception) -> Callable[..., None]:
    """Return what raises whatever it is called with."""

    def fails(*_: object) -> None:
        raise error

    return fails


def no_threads(times: int) -> Worker:
    """Return a worker that can start nothing for so many times."""
    left = [times]

    def work(call: Callable[[], None]) -> None:
        if left[0]:
            left[0] -= 1
            raise RuntimeError("can't start new thread")
        call()

    return work


def test_waiting_for_ports_that_fails_does_not_end_the_gig(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever a library says while nothing happens."""
    running = gig()
    wait, failed = running.ports.wait, threading.Event()

    def wait_badly(seconds: float) -> None:
        if not failed.is_set():
            failed.set()
            raise ValueError("sleep length must be non-negative")
        wait(seconds)

    monkeypatch.setattr(running.ports, "wait", wait_badly)
    running.engine.start()
    assert failed.wait(5)

    assert running.engine.ask(Act(Verb.NEXT)).step.place == FIRST
    running.engine.close()


@pytest.mark.parametrize("error", [BrokenPipeError(32, "Broken pipe"), OverflowError("int too big"), ValueError("odd")])
def test_a_port_that_fails_in_an_unheard_of_way_is_a_port_that_is_gone(
    error: Exception, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The step is done and written down, and the port is opened anew."""
    running = begun(gig())
    monkeypatch.setattr(running.ports.open[0], "send", failing(error))

    shown = running.act(Verb.NEXT)
    running.run(3)

    assert shown.step.place == CHORUS
    assert running.journal.kinds().count("step") == 2
    assert running.snapshot.ports[0].state is PortState.THERE
    assert [data for _, data in running.ports.take_sent()] == ["C1 01", "B0 50 7F", "B2 52 7F", "B1 14 66"]


def test_clock_that_fails_keeps_no_port_from_being_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each part of what is done in turn is done, whatever became of the one before."""
    running = begun(Running(library_on_stage(), wires=CLOCK))
    monkeypatch.setattr(running.engine._tempo, "pump", failing(ValueError("no such tempo")))

    running.ports.pull("box front")
    shown = running.turns(2)

    assert shown.ports[0].state is PortState.GONE
    assert any("no such tempo" in notice.words for notice in shown.notices)
    count = len(running.journal)
    running.turns(50)
    assert len(running.journal) == count  # one that comes again and again is written down once


def test_looking_at_ports_that_fails_keeps_no_page_from_the_news(monkeypatch: pytest.MonkeyPatch) -> None:
    """The player sees the step, and what went wrong."""
    running = gig()
    monkeypatch.setattr(running.engine._outputs, "look", failing(ZeroDivisionError("unheard of")))

    shown = running.act(Verb.NEXT)

    assert shown.step.place == FIRST
    assert any("unheard of" in notice.words for notice in shown.notices)


def test_a_fault_that_is_over_is_told_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    """A notice stays until what it tells of is over."""
    running = gig()
    with monkeypatch.context() as patch:
        patch.setattr(running.engine._outputs, "pump", failing(ZeroDivisionError("unheard of")))
        assert running.turns(2).notices

    assert running.turns(2).notices == ()


def test_a_change_for_which_no_thread_can_be_started_is_refused_and_the_next_is_done() -> None:
    """It must not wait for ever, and all that come after it."""
    running = begun(gig())
    running.engine._aside._work = no_threads(1)

    assert "can't start new thread" in running.act(Verb.OUT, unit="fuzz").refused
    assert running.act(Verb.OUT, unit="fuzz").tonight.out == {"fuzz"}


def test_a_row_of_changes_goes_on_where_one_cannot_be_worked_out() -> None:
    """Asked one after the other, before the first is done."""
    running = begun(gig())
    waiting: list[Callable[[], None]] = []
    running.engine._aside._work = waiting.append
    for unit in ("fuzz", "delay"):
        running.engine.act(Act(Verb.OUT, unit=unit))
    running.turns(1)
    running.engine._aside._work = no_threads(1)
    waiting.pop()()
    running.turns(3)
    assert running.snapshot.tonight.out == {"fuzz"}

    assert running.act(Verb.OUT, unit="delay").tonight.out == {"fuzz", "delay"}


def test_a_port_for_which_no_thread_can_be_started_is_opened_a_second_later() -> None:
    """A machine that is out of threads for a moment."""
    running = begun(gig())
    running.ports.pull("box front")
    running.turns(2)
    running.engine._outputs._doors._work = no_threads(2)

    running.ports.plug("box front")
    assert running.turns(2).ports[0].state is PortState.GONE
    running.run(5)

    assert running.snapshot.ports[0].state is PortState.THERE
    assert [data for _, data in running.ports.take_sent()] == VERSE


def test_an_input_for_which_no_thread_can_be_started_is_opened_later_too() -> None:
    """The footswitch was plugged in at that moment."""
    running = gig(steps=[{"does": "next", "channel": 16, "note": 60}])
    running.engine._ears._inputs._doors._work = no_threads(1)
    running.ports.plug("floor", is_input=True)
    running.turns(2)
    running.run(3)

    assert running.press("9F 3C 64", "floor").step.place == FIRST


def test_a_port_that_cannot_be_closed_for_want_of_a_thread_is_closed_later() -> None:
    """Left open it would keep its name from being opened anew."""
    running = begun(gig())
    running.engine._outputs._doors._work = no_threads(1)

    running.ports.pull("box front")
    assert running.turns(2).ports[0].state is PortState.GONE
    running.turns(2)

    assert running.ports.open[0].is_closed


def test_a_port_that_dies_for_the_first_time_is_opened_at_once_and_later_with_patience() -> None:
    """A carrier that was ended by something is one thing; one that always ends is another."""
    running = begun(gig())
    running.run(1)
    running.ports.open[-1].close()  # and nobody says so
    running.act(Verb.NEXT)
    states = [running.snapshot.ports[0].state]

    running.ports.open[-1].close()
    states.append(running.act(Verb.BACK).ports[0].state)
    running.run(1.1)
    states.append(running.snapshot.ports[0].state)

    assert states == [PortState.THERE, PortState.GONE, PortState.THERE]


def test_messages_behind_one_that_fails_are_heard(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two presses that were read at once are two presses."""
    steps = [{"does": "next", "channel": 16, "note": 60}, {"does": "next", "channel": 16, "note": 61}]
    running = gig(steps=steps)
    take, calls = running.engine._caller.take, list[int]()

    def fails_once(*asked: object) -> object:
        calls.append(1)
        if len(calls) == 1:
            raise RuntimeError("unheard of")
        return take(*asked)  # type: ignore[arg-type]

    monkeypatch.setattr(running.engine._caller, "take", fails_once)
    running.ports.press("pedal", "9F 3C 64")
    running.ports.press("pedal", "9F 3D 64")
    running.turns(1)

    assert running.place == FIRST


def test_what_failed_is_refused_with_its_own_reason_and_not_with_an_earlier_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Who asks has to know whether it was done."""
    running = begun(gig())
    assert "has not been left" in running.act(Verb.RESUME).refused
    monkeypatch.setattr(running.engine._caller, "take", failing(RuntimeError("unheard of")))

    shown = running.act(Verb.NEXT)

    assert "unheard of" in shown.refused
    assert shown.step.place == FIRST


def test_whoever_asks_for_what_takes_long_is_told_that_it_is_not_done_yet() -> None:
    """A page must not take the old state for the answer."""
    running = gig()
    waiting: list[Callable[[], None]] = []
    running.engine._aside._work = waiting.append
    running.engine.start()
    shown = running.engine.ask(Act(Verb.OUT, unit="organ"), seconds=0.05)

    assert (shown.unfinished, shown.refused) == (NOT_YET, "")
    waiting.pop()()
    end = time.monotonic() + 5
    while not running.snapshot.refused and time.monotonic() < end:
        time.sleep(0.002)
    assert "organ" in running.snapshot.refused
    assert running.engine.ask(Act(Verb.NEXT)).unfinished == ""
    assert running.place != HOME
    running.engine.close()
