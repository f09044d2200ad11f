"""A gig runs: what is asked is done, sent and written down."""

from collections.abc import Mapping
from typing import Any

import pytest

from scenebook.live.acts import Act, Verb
from scenebook.live.places import HOME, Part, Place
from scenebook.live.snapshot import Form, PortState, Role, Snapshot
from scenebook.model.on_stage import Wire
from tests.support.running import CHORUS, FIRST, SECOND, Running, begun, gig, library_on_stage

FIVE_PIN = {"front": Wire(midi="box front")}


def test_a_start_sends_nothing_and_offers_to() -> None:
    """Whatever the rig sounds like at this moment, it is the player who changes it."""
    running = gig()

    running.run(5)

    assert running.ports.take_sent() == []
    assert running.snapshot.offer == "The rig may stand anywhere: send again"
    assert (running.snapshot.sent.form, running.place) == (Form.NOTHING, HOME)
    assert running.snapshot.ports[0].state is PortState.THERE


def test_the_first_step_goes_out_full_and_the_next_one_lean() -> None:
    """Nobody knows how a rig stands at the start; afterwards only what changes goes out."""
    running = gig()

    first = running.act(Verb.NEXT, by="footswitch")
    running.run(1)
    assert (first.step.place, first.sent.form, first.sent.by, first.sent.full) == (
        FIRST,
        Form.FULL,
        "footswitch",
        ("front",),
    )
    assert [data for _, data in running.ports.take_sent()] == ["B0 50 00", "B2 52 00", "C1 01", "B1 14 40"]
    second = running.act(Verb.NEXT)
    running.run(1)

    assert second.sent.form is Form.LEAN
    assert [data for _, data in running.ports.take_sent()] == [
        "B1 14 66",  # mix 80 %
        "B0 50 7F",  # fuzz on
        "B2 52 7F",  # delay on
        "93 3C 64",  # the sampler's note
        "83 3C 40",
    ]


def test_the_snapshot_says_when_all_has_gone() -> None:
    """The page says "sent" when it is."""
    running = gig()
    assert not running.act(Verb.NEXT).sent.done

    running.run(0.05)

    assert running.snapshot.sent.done
    assert running.snapshot.sent.messages == 4


def test_a_step_is_written_down_before_its_first_byte_and_what_went_after_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Killed at any moment, the stand knows where it was."""
    running = gig()
    sent_by_then: list[tuple[str, int]] = []
    write = running.journal.write

    def watched(record: Mapping[str, Any]) -> None:
        sent_by_then.append((record["kind"], len(running.ports.sent)))
        write(record)

    monkeypatch.setattr(running.journal, "write", watched)
    running.act(Verb.NEXT)
    running.run(1)

    assert sent_by_then == [("step", 0), ("sent", 4)]  # the last one waits for the multi-effects to settle
    assert running.journal[-1]["bytes"] == ["B0 50 00", "B2 52 00", "C1 01", "B1 14 40"]


def test_a_step_that_comes_too_soon_wins_and_goes_out_full() -> None:
    """What was dropped is not known to have arrived, so the new cue says everything."""
    running = gig()
    running.act(Verb.NEXT)
    running.act(Verb.NEXT)
    running.run(1)

    assert running.snapshot.sent.full == ("front",)
    assert running.journal.kinds() == ["opened", "port", "step", "sent", "dropped", "step", "sent"]
    assert running.journal[4]["bytes"] == ["B1 14 40"]  # it waited for the multi-effects to settle
    sent = [(at, data.hex(" ")) for at, _, data in running.ports.sent]
    recalls = [at for at, data in sent if data == "c1 01"]
    assert recalls[1] - recalls[0] == pytest.approx(
        30_000, abs=2
    )  # the second recall is not lost in the first one's settling


def test_five_pin_is_paced() -> None:
    """Each message when the lead has carried the one before."""
    running = Running(library_on_stage(), wires=FIVE_PIN)
    begin = running.time.seconds * 1_000_000
    running.act(Verb.NEXT)
    running.run(1)

    assert [at - begin for at, _, _ in running.ports.sent] == pytest.approx([0, 960, 1920, 1920 + 640 + 30_000], abs=3)


def test_again_sends_all_but_the_triggers() -> None:
    """A trigger fires once on entry (rule C8)."""
    running = begun(gig())
    running.act(Verb.NEXT)
    running.run(1)
    running.ports.take_sent()

    running.act(Verb.AGAIN)
    running.run(1)

    assert [data for _, data in running.ports.take_sent()] == ["C1 01", "B0 50 7F", "B2 52 7F", "B1 14 66"]


def test_what_cannot_be_done_is_refused_in_a_sentence() -> None:
    """The gig goes on as before, and the next act clears it."""
    running = gig()

    assert running.act(Verb.BACK).refused
    assert running.place == HOME
    assert running.act(Verb.NEXT).refused == ""


def test_whoever_asks_gets_the_snapshot_after_it() -> None:
    """A page that asks shows the answer, not the state before."""
    running = gig()
    running.engine.start()

    assert running.engine.ask(Act(Verb.NEXT)).step.place == FIRST
    assert running.engine.ask(Act(Verb.GO, place=Place(Part.SET, 9, 0))).refused
    running.engine.close()


def test_a_change_for_tonight_is_worked_out_aside_and_then_holds() -> None:
    """The fuzz is broken: later cues follow from there."""
    running = begun(gig())

    running.act(Verb.OUT, unit="fuzz")
    running.turns(3)
    assert running.snapshot.tonight.out == {"fuzz"}
    running.act(Verb.NEXT)
    running.run(1)

    assert "B0 50 7F" not in [data for _, data in running.ports.take_sent()]


def test_a_change_that_cannot_be_is_refused() -> None:
    """No such unit: said, and nothing else happens."""
    running = begun(gig())

    assert "organ" in running.act(Verb.OUT, unit="organ").refused
    assert running.snapshot.tonight.out == frozenset()


def test_snapshots_come_only_when_something_has_changed() -> None:
    """Twenty pages are not told two hundred times a second that nothing happens."""
    running = begun(gig())
    heard: list[Snapshot] = []
    running.engine.watch(heard.append)

    running.run(10)

    assert heard == []


CLOCK = {"front": Wire(midi="box front", plug="usb", clock=True)}


def clocks(running: Running) -> int:
    return sum(data == b"\xf8" for _, _, data in running.ports.sent)


def test_clock_goes_out_with_the_first_step_at_the_songs_tempo() -> None:
    """24 a quarter note at 100 a minute is 40 a second."""
    running = Running(library_on_stage(), wires=CLOCK)
    running.run(1)
    assert clocks(running) == 0

    running.act(Verb.NEXT)
    running.run(10)

    assert clocks(running) in (400, 401)
    assert running.snapshot.beat.running == 100


def test_a_tempo_for_tonight_and_a_tail_that_bends() -> None:
    """The delay sounds in the chorus: the second song's tempo waits for it to ring out, and the page says so."""
    running = Running(library_on_stage(), wires=CLOCK)
    running.act(Verb.TEMPO, place=FIRST, text="110")
    running.act(Verb.NEXT)
    running.run(1)
    assert running.snapshot.beat.running == 110
    running.act(Verb.NEXT)
    running.run(1)
    shown = running.act(Verb.NEXT)

    assert (shown.beat.running, shown.beat.wanted) == (110, 120)
    assert "the tail of delay would bend" in shown.beat.waits
    running.run(2.1)
    assert (running.snapshot.beat.running, running.snapshot.beat.waits) == (120, "")


def test_a_stand_that_follows_sends_nothing_and_goes_where_the_other_goes() -> None:
    """The second laptop at the side of the stage."""
    first, second = gig(), Running(library_on_stage(), role=Role.FOLLOWING)
    copied = 0

    def copy() -> None:
        nonlocal copied
        for record in first.journal[copied:]:
            second.engine.follow(record)
        copied = len(first.journal)
        second.turns(3)

    first.act(Verb.NEXT)
    copy()
    first.act(Verb.OUT, unit="fuzz")
    first.turns(3)
    first.act(Verb.NEXT)
    copy()

    assert (second.place, second.snapshot.tonight.out) == (CHORUS, {"fuzz"})
    assert second.ports.take_sent() == []
    assert second.act(Verb.NEXT).refused
    assert second.act(Verb.TAKE).role is Role.CALLING
    second.act(Verb.NEXT)
    second.run(1)
    assert second.place == SECOND
    assert second.ports.take_sent()
