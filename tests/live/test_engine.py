"""A gig runs: what is asked is done and written down, ports go and come back, and nothing ends it."""

from collections.abc import Callable, Mapping
from typing import Any

import pytest

from scenebook.errors import BadValueError
from scenebook.live.acts import Act, Verb
from scenebook.live.engine import SLEPT
from scenebook.live.places import HOME, SAFE, Part, Place
from scenebook.live.snapshot import Form, PortState, Role, Snapshot
from scenebook.model.on_stage import Wire
from tests.support.running import MemoryPorts, Running, library_on_stage

FIRST = Place(Part.SET, 0, 0)
CHORUS = Place(Part.SET, 0, 1)
SECOND = Place(Part.SET, 1, 0)
FIVE_PIN = {"front": Wire(midi="box front")}


def gig(**said: object) -> Running:
    return Running(library_on_stage(**said))


def begun(running: Running) -> Running:
    """Let the first cue of the first song have gone out."""
    running.act(Verb.NEXT)
    running.run(1)
    running.ports.take_sent()
    return running


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

    assert sent_by_then == [("step", 0), ("sent", 4)]
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


STEPS = [
    {"does": "next", "channel": 16, "note": 60},
    {"does": "safe", "channel": 16, "controller": 64, "listens": "ped"},
]


def test_a_footswitch_steps_once_for_each_press() -> None:
    """It bounces, and is let go."""
    running = gig(steps=STEPS)

    running.press("9F 3C 64")
    running.press("9F 3C 64")
    running.press("8F 3C 40")

    assert running.place == FIRST
    assert running.snapshot.sent.by == "footswitch note 60 on, velocity 100, channel 16"


def test_what_comes_back_around_a_thru_steps_nothing() -> None:
    """The rig's own program change, on the channel that the footswitch uses."""
    running = gig(steps=[{"does": "back", "channel": 2, "program": 1}])
    running.act(Verb.NEXT)

    running.press("C1 01")  # what has just gone out to the multi-effects
    assert running.place == FIRST
    running.run(1)
    running.press("C1 01")

    assert running.place == HOME


def test_a_playback_rig_calls_a_song_and_a_part_and_twice_is_once() -> None:
    """Absolute addresses: the player at the laptop and the playback rig may both be right."""
    running = gig(playback={"channel": 16, "part_controller": 20, "listens": "player"})

    running.press("CF 00", "player")
    running.run(1)
    running.press("BF 14 01", "player")
    assert running.place == CHORUS
    count = len(running.journal)
    running.press("BF 14 01", "player")
    running.press("CF 00", "player")

    assert (running.place, len(running.journal)) == (CHORUS, count)


def test_two_triggers_on_one_message_are_an_error_at_the_start() -> None:
    """Before the first song, and not at it."""
    with pytest.raises(BadValueError, match="would do two things"):
        gig(steps=[STEPS[0], {**STEPS[0], "does": "back"}])


def test_a_press_is_learned_and_does_its_step_from_then_on() -> None:
    """Another controller was lent at the venue."""
    running = gig(steps=STEPS)

    assert running.act(Verb.LEARN, text="next").learning == "next"
    running.press("B0 07 7F", "player")
    assert running.place == HOME  # the press that is learned steps nothing
    assert (running.snapshot.learning, running.snapshot.refused) == ("", "")
    assert running.snapshot.learned is not None
    assert running.snapshot.learned.does == "next"
    running.press("B0 07 00", "player")
    running.press("B0 07 7F", "player")

    assert running.place == FIRST
    assert "learned" in running.journal.kinds()


def test_a_press_that_does_something_already_is_not_learned() -> None:
    """It is said, and what it did it does still."""
    running = gig(steps=STEPS)
    running.act(Verb.LEARN, text="back")

    assert "would do two things" in running.press("9F 3C 64").refused
    running.press("8F 3C 40")
    running.run(1)
    running.press("9F 3C 64")

    assert running.place == FIRST


def test_only_steps_can_be_learned_and_learning_can_be_ended() -> None:
    """A press that takes a unit out would be a surprise."""
    running = gig()

    assert "no footswitch can do 'out'" in running.act(Verb.LEARN, text="out").refused
    running.act(Verb.LEARN, text="next")
    assert running.act(Verb.LEARN, text="").learning == ""


def test_what_was_learned_outlasts_a_restart() -> None:
    """The second half of the evening, after a crash."""
    before = gig()
    before.act(Verb.LEARN, text="next")
    before.press("B0 07 7F", "player")
    after = Running(library_on_stage(), journal=before.journal)

    after.press("B0 07 7F", "player")

    assert after.place == FIRST


def test_a_trigger_port_that_is_not_there_is_told() -> None:
    """A footswitch that does nothing is noticed before the first song."""
    running = Running(library_on_stage(steps=[{**STEPS[0], "listens": "floor"}]))

    assert running.snapshot.notices[0].words == "The MIDI port 'floor', by which the gig is stepped, is not there"
    running.ports.plug("floor controller", is_input=True)
    running.turns(3)
    assert running.snapshot.notices == ()
    assert running.press("9F 3C 64", "floor controller").step.place == FIRST


def test_an_input_that_vanishes_is_heard_again_when_it_is_back() -> None:
    """A footswitch whose plug was kicked out."""
    running = gig(steps=STEPS)
    running.ports.ins.remove("pedal")
    running.turns(2)
    running.ports.ins.append("pedal")
    running.run(3)

    assert running.press("9F 3C 64").step.place == FIRST


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


def test_an_end_lets_go_of_notes_and_says_that_it_ended() -> None:
    """A record that lacks this tells of a crash."""
    running = begun(gig())
    running.engine.start()
    running.engine.ask(Act(Verb.NEXT))
    running.engine.close()

    assert running.ports.take_sent()[-1] == ("box front", "83 3C 40")
    assert running.journal.kinds()[-2:] == ["sent", "closed"]
    assert all(port.is_closed for port in running.ports.open)
