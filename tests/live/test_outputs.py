"""What waits on a port when a newer step comes, when the port is lost, and when the gig falls silent."""

import pytest

from scenebook.cueing.cues import Message
from scenebook.live.acts import Verb
from scenebook.live.outputs import Output
from scenebook.live.pacing import Needs
from scenebook.live.snapshot import Role
from scenebook.model.on_stage import Wire
from tests.live.wire import Kept, message, note, recall, release
from tests.support.running import CHORUS, SECOND, Running, begun, gig, library_on_stage

SLOW = Needs({"multi": 1_500_000}, {"old": 5_000})
NOTE_ON, NOTE_OFF = "93 3C 64", "83 3C 40"


def output(needs: Needs = SLOW) -> tuple[Output, Kept]:
    """Return an output on a USB device, with what it is sent."""
    out, port = Output("front", Wire(plug="usb"), needs), Kept()
    out.attach(port)
    return out, port


def sent_by(out: Output, port: Kept, now: int, until: int) -> list[tuple[int, str]]:
    """Pump whenever something is due; return what has gone since, each with its moment."""
    port.sent.clear()
    moments = []
    while (due := out.due(now)) is not None and due <= until:
        now, before = due, len(port.sent)
        out.pump(now)
        assert len(port.sent) > before, "what is due goes"
        moments += [now] * (len(port.sent) - before)
    return [(at, data.hex(" ").upper()) for at, data in zip(moments, port.sent, strict=True)]


def test_a_unit_that_still_settles_after_the_step_before_holds_up_no_other() -> None:
    """The fuzz goes on at once; the multi-effects get theirs when they listen again."""
    out, port = output()
    out.begin([recall("multi", "C1 01")], 0)

    out.begin([recall("multi", "C1 02"), message("fuzz", "B0 50 7F"), message("multi", "B1 14 40")], 10_000)

    assert [data.hex(" ") for data in port.sent] == ["c1 01", "b0 50 7f"]
    assert sent_by(out, port, 10_000, 9_000_000) == [(1_500_000, "C1 02"), (3_000_000, "B1 14 40")]


def test_what_settles_by_the_step_itself_keeps_the_order_of_the_list() -> None:
    """The list has put before it what may go before it."""
    out, port = output()

    out.begin([recall("multi", "C1 01"), message("multi", "B1 14 40"), message("fuzz", "B0 50 7F")], 0)

    assert sent_by(out, port, 0, 9_000_000) == [(1_500_000, "B1 14 40"), (1_500_000, "B0 50 7F")]


def test_a_trigger_fires_when_all_that_its_list_has_before_it_stands() -> None:
    """The sample begins with its scene and not a second before it."""
    out, port = output()
    out.begin([recall("multi", "C1 01")], 0)
    out.begin([recall("multi", "C1 02"), message("fuzz", "B0 50 7F"), note("sampler", NOTE_ON)], 10_000)

    assert sent_by(out, port, 10_000, 9_000_000) == [(1_500_000, "C1 02"), (1_500_000, NOTE_ON)]


def test_nothing_comes_between_a_bank_select_and_its_program_change() -> None:
    """Not where the unit's messages go before another's, nor where a note is let go of."""
    out, port = Output("front", Wire(), SLOW), Kept()
    out.attach(port)
    out.begin([recall("multi", "C1 01")], 0)
    bank = [recall("fuzz", "B0 00 01"), recall("fuzz", "C0 05")]
    out.begin([recall("multi", "C1 02"), *bank, message("other", "B4 01 01")], 10_000)

    assert sent_by(out, port, 10_000, 9_000_000) == [
        (10_960, "C0 05"),
        (11_600, "B4 01 01"),
        (1_500_640, "C1 02"),
    ]


def test_a_least_gap_that_is_left_of_the_step_before_holds_up_no_other_either() -> None:
    """Two quick presses: the old unit is slow, the others are not."""
    out, port = output()
    out.begin([message("old", "B2 01 01")], 0)
    out.begin([message("old", "B2 01 02"), message("fuzz", "B0 50 7F")], 1_000)

    assert [data.hex(" ") for data in port.sent] == ["b2 01 01", "b0 50 7f"]
    assert sent_by(out, port, 1_000, 9_000_000) == [(5_000, "B2 01 02")]


def sounding() -> tuple[Output, Kept, Message]:
    """Return an output that has sent a note and not its release."""
    out, port = output()
    off = release("sampler", NOTE_OFF)
    out.begin([note("sampler", NOTE_ON), off], 0)
    return out, port, off


def test_what_is_dropped_does_not_hold_the_releases_that_go() -> None:
    """The log of the evening must not say that a note was left hanging."""
    out, _, off = sounding()
    waits = recall("multi", "C1 01")
    out.begin([recall("multi", "C1 01"), waits], 10_000)

    assert out.drop([message("fuzz", "B0 50 7F")]) == (waits,)
    assert out.drop([note("sampler", NOTE_ON), release("sampler", NOTE_OFF)]) == (off,)  # it fires once more


def test_the_release_of_a_note_outlasts_the_loss_of_its_port() -> None:
    """A lead that is pulled in that tenth of a second: the note ends before anything else when it is back."""
    out, port, _ = sounding()
    assert out.drop() == ()
    out.detach()
    assert (out.is_idle, out.due(5_000)) == (True, None)

    out.attach(port)
    port.sent.clear()
    out.begin([message("fuzz", "B0 50 7F")], 2_000_000)

    assert [data.hex(" ").upper() for data in port.sent] == [NOTE_OFF, "B0 50 7F"]


def test_a_gig_lets_go_of_a_note_on_a_port_that_comes_back() -> None:
    """The same with all its parts, and the log says so."""
    running = begun(gig())
    running.act(Verb.NEXT)
    running.run(0.05)
    assert running.ports.take_sent()[-1] == ("box front", NOTE_ON)

    running.ports.pull("box front")
    running.run(0.1)
    running.ports.plug("box front")
    running.run(1)

    assert running.ports.take_sent()[0] == ("box front", NOTE_OFF)
    assert [record["bytes"] for record in running.journal if record["kind"] == "dropped"] == []


def test_the_log_does_not_call_a_release_dropped_that_goes() -> None:
    """Two steps while a note sounds."""
    running = begun(gig())
    running.act(Verb.NEXT)
    running.run(0.04)
    running.act(Verb.NEXT)
    running.run(1)

    dropped = [data for record in running.journal if record["kind"] == "dropped" for data in record["bytes"]]
    sent = [data for record in running.journal if record["kind"] == "sent" for data in record["bytes"]]
    assert (dropped, sent.count(NOTE_OFF)) == ([], 1)


def test_a_stand_that_hands_over_sends_nothing_more() -> None:
    """The other one sends from now on: what still waited would come between."""
    running = begun(gig())
    running.act(Verb.GO, place=SECOND)
    running.ports.take_sent()

    shown = running.act(Verb.YIELD)
    running.run(1)

    assert (shown.role, shown.sent.done) == (Role.FOLLOWING, True)
    assert running.ports.take_sent() == []
    assert running.journal.kinds()[-3:] == ["role", "sent", "dropped"]


def test_a_stand_that_hands_over_lets_go_of_its_notes() -> None:
    """A note that hangs is heard until somebody finds the plug."""
    running = begun(gig())
    running.act(Verb.NEXT)
    running.run(0.04)
    running.ports.take_sent()

    running.act(Verb.YIELD)

    assert (running.place, running.ports.take_sent()) == (CHORUS, [("box front", NOTE_OFF)])


@pytest.mark.parametrize("seconds", [0.0, 0.01, 0.02])
def test_a_gig_with_a_unit_that_settles_long_answers_all_else_at_once(seconds: float) -> None:
    """The fuzz of the chorus comes with the foot, whatever the multi-effects still do."""
    library = library_on_stage()
    said = library.model_dump()
    said["units"]["multi"]["programs"]["settle_ms"] = 1500
    running = Running(type(library).model_validate(said))
    running.act(Verb.NEXT)
    running.run(seconds)
    running.ports.take_sent()

    running.act(Verb.NEXT)

    assert [data for _, data in running.ports.take_sent()] == ["B0 50 7F", "B2 52 7F"]
