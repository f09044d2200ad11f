"""MIDI clock of a running gig: changes for tonight, ports that come back, sleep, and handing over."""

from collections import Counter

import pytest

from scenebook.live.acts import Verb
from scenebook.live.snapshot import Beat
from scenebook.model.on_stage import Wire
from tests.support.running import FIRST, Running, library_on_stage

CLOCK = {"front": Wire(midi="box front", plug="usb", clock=True)}
WITH_START = {"front": Wire(midi="box front", plug="usb", clock=True, start_stop=True)}


def real_time(running: Running) -> Counter[str]:
    """Return how many bytes of clock (F8), Start (FA) and Stop (FC) have gone since the last look."""
    return Counter(data for _, data in running.ports.take_sent() if data in ("F8", "FA", "FC"))


def test_a_tempo_for_the_song_that_stands_goes_out_at_once() -> None:
    """The drummer is too slow tonight."""
    running = Running(library_on_stage(), wires=CLOCK)
    running.act(Verb.NEXT)
    running.run(0.1)

    running.act(Verb.TEMPO, place=FIRST, text="150")

    assert running.snapshot.beat == Beat(150, 150)


def test_a_tempo_for_another_song_changes_nothing_now() -> None:
    """It waits for its song."""
    running = Running(library_on_stage(), wires=CLOCK)
    running.act(Verb.NEXT)
    running.act(Verb.TEMPO, place=FIRST._replace(entry=1), text="150")

    assert running.snapshot.beat == Beat(100, 100)


def test_a_tempo_that_is_said_before_the_first_step_sends_nothing() -> None:
    """A start sends nothing."""
    running = Running(library_on_stage(), wires=CLOCK)
    running.act(Verb.TEMPO, place=FIRST, text="150")
    running.run(1)

    assert running.ports.take_sent() == []


@pytest.mark.parametrize("how", ["sleep", "hand over"])
def test_the_clock_that_begins_anew_begins_with_start(how: str) -> None:
    """What follows Start and Stop stands still without it."""
    running = Running(library_on_stage(), wires=WITH_START)
    running.act(Verb.NEXT)
    running.run(0.1)
    assert real_time(running)["FA"] == 1
    if how == "sleep":
        running.time.asleep += 60
        running.turns(4)
        running.run(0.5)
        assert real_time(running) == Counter()
    else:
        running.act(Verb.YIELD)
        running.act(Verb.TAKE)
        assert real_time(running) == {"FC": 1}

    running.act(Verb.AGAIN)
    running.run(0.2)

    heard = real_time(running)
    assert heard["FA"] == 1
    assert heard["F8"] > 5


def test_a_port_that_comes_back_gets_clock_and_start_with_the_next_song_only() -> None:
    """Start means the top of the song: in the middle of it the far drums would be somewhere else than the band."""
    running = Running(library_on_stage(), wires=WITH_START)
    running.act(Verb.NEXT)
    running.run(0.1)
    running.ports.pull("box front")
    running.run(0.3)
    running.ports.take_sent()

    running.ports.plug("box front")
    running.run(0.3)
    heard = real_time(running)
    assert (heard["F8"] > 5, heard["FA"]) == (True, 0)
    running.act(Verb.NEXT)
    assert real_time(running)["FA"] == 0
    running.act(Verb.NEXT)

    assert real_time(running)["FA"] == 1
