"""Ports go and come back, machines sleep, disks are full, programs have faults: nothing ends a gig."""

from collections.abc import Callable

import pytest

from scenebook.live.acts import Act, Verb
from scenebook.live.engine import SLEPT
from scenebook.live.places import SAFE
from scenebook.live.snapshot import Form, PortState, Snapshot
from scenebook.model.on_stage import Wire
from tests.support.running import CHORUS, FIRST, MemoryPorts, Running, begun, gig, library_on_stage


def test_a_port_that_vanishes_shows_at_once_and_the_gig_goes_on() -> None:
    """A lead is pulled; the song is not."""
    running = begun(gig())

    running.ports.pull("box front")
    shown = running.turns(2)
    assert shown.ports[0].state is PortState.GONE
    assert "Nothing reaches the port 'front', and the gig goes on by hand" in shown.notices[0].words
    assert running.act(Verb.NEXT).step.place == CHORUS
    assert running.ports.take_sent() == []
    running.ports.plug("box front")
    running.turns(3)
    running.run(1)

    assert running.snapshot.ports[0].state is PortState.THERE
    assert running.snapshot.notices == ()
    assert running.snapshot.sent.by == "front is back"
    assert [data for _, data in running.ports.take_sent()] == [
        "C1 01",
        "B0 50 7F",
        "B2 52 7F",
        "B1 14 66",
    ]  # full, and the sampler does not fire again


def test_a_port_that_fails_while_it_is_sent_to_is_opened_anew() -> None:
    """The system may notice later than we do."""
    running = begun(gig())
    running.ports.outs.remove("box front")  # and nobody says so

    running.act(Verb.NEXT)
    assert running.snapshot.ports[0].state is PortState.GONE
    running.ports.outs.append("box front")
    running.run(3)

    assert running.snapshot.ports[0].state is PortState.THERE
    assert [data for _, data in running.ports.take_sent()] == ["C1 01", "B0 50 7F", "B2 52 7F", "B1 14 66"]


def test_a_port_that_another_program_holds_is_tried_again() -> None:
    """The other program is closed between two songs."""
    library = library_on_stage()
    ports = MemoryPorts(("box front",))
    ports.refused.add("box front")
    running = Running(library, ports=ports)
    assert running.snapshot.ports[0].words == "another program holds it."

    ports.refused.clear()
    running.run(3)

    assert running.snapshot.ports[0].state is PortState.THERE


def test_a_port_of_a_shortened_name_is_found_and_an_unknown_one_said() -> None:
    """Names are typed in a dark hall."""
    found = Running(library_on_stage(), wires={"front": Wire(midi="BOX F")})
    unknown = Running(library_on_stage(), wires={"front": Wire(midi="bax front")})

    assert found.snapshot.ports[0].midi == "box front"
    assert "The nearest is 'box front'" in unknown.snapshot.notices[0].words


def test_without_a_named_port_the_gig_runs_by_hand() -> None:
    """The wires say nothing; nothing is guessed."""
    running = Running(library_on_stage(wires={}), wires={})

    assert running.act(Verb.NEXT).step.place == FIRST
    assert running.snapshot.ports[0].state is PortState.NONE
    assert running.snapshot.ports[0].words == "no MIDI port is named for it"
    assert running.snapshot.notices == ()


def test_after_a_sleep_ports_are_opened_anew_and_nothing_is_sent() -> None:
    """The lid was shut in the interval; who knows what happened to the rig."""
    running = begun(gig())
    opened = len(running.ports.open)

    running.time.asleep += 600
    running.turns(5)

    assert len(running.ports.open) == opened + 1
    assert running.ports.open[0].is_closed
    assert running.ports.take_sent() == []
    assert running.snapshot.offer == "The rig may stand anywhere: send again"
    assert any(notice.words == SLEPT for notice in running.snapshot.notices)
    assert (running.snapshot.sent.form, running.place) == (Form.NOTHING, FIRST)
    running.act(Verb.AGAIN)
    running.run(1)
    assert len(running.ports.take_sent()) == 4


def test_killed_at_any_moment_the_gig_stands_where_it_was() -> None:
    """The journal alone is left."""
    before = begun(gig())
    before.act(Verb.NEXT)
    before.act(Verb.SAFE)
    after = Running(library_on_stage(), journal=before.journal)

    assert after.place == SAFE
    assert after.ports.take_sent() == []
    assert after.act(Verb.SAFE).step.place == CHORUS


def test_a_full_disk_is_told_and_ends_nothing() -> None:
    """The show goes on; a restart would not know of it."""
    running = begun(gig())
    running.journal.is_full = True

    shown = running.act(Verb.NEXT)
    running.run(1)

    assert shown.step.place == CHORUS
    assert running.ports.take_sent()
    assert any("log of this gig cannot be written" in notice.words for notice in running.snapshot.notices)
    running.journal.is_full = False
    running.act(Verb.NEXT)
    assert running.snapshot.notices == ()


def test_no_exception_ends_the_gig(monkeypatch: pytest.MonkeyPatch) -> None:
    """A fault that nobody thought of becomes a notice, and the next step works."""
    running = gig()
    take = running.engine._caller.take

    def broken(*_: object) -> None:
        raise RuntimeError("unheard of")

    monkeypatch.setattr(running.engine._caller, "take", broken)
    running.engine.start()
    shown = running.engine.ask(Act(Verb.NEXT))
    assert "unheard of" in shown.notices[0].words
    monkeypatch.setattr(running.engine._caller, "take", take)
    shown = running.engine.ask(Act(Verb.NEXT))

    assert (shown.step.place, shown.notices) == (FIRST, ())
    running.engine.close()


def test_a_page_that_fails_is_told_of_and_the_others_go_on() -> None:
    """One screen must not take another one's news."""
    running = gig()
    heard: list[Snapshot] = []

    def broken(_: Snapshot) -> None:
        raise RuntimeError("this page is broken")

    stop: Callable[[], None] = running.engine.watch(broken)
    running.engine.watch(heard.append)
    running.act(Verb.NEXT)
    stop()
    running.act(Verb.NEXT)

    assert heard[-1].step.place == CHORUS
    assert heard[-1].version > heard[0].version


def test_an_end_lets_go_of_notes_and_says_that_it_ended() -> None:
    """A record that lacks this tells of a crash."""
    running = begun(gig())
    running.engine.start()
    running.engine.ask(Act(Verb.NEXT))
    running.engine.close()

    assert running.ports.take_sent()[-1] == ("box front", "83 3C 40")
    assert running.journal.kinds()[-2:] == ["sent", "closed"]
    assert all(port.is_closed for port in running.ports.open)
