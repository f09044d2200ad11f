"""What goes out is paced to its plug and to each unit, byte for byte, and a newer step wins over an older one."""

from collections import Counter
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenebook.cueing.cues import Message
from scenebook.live.outputs import Output
from scenebook.live.pacing import Needs, Pacer, needs_of
from scenebook.model import Programs, Unit
from scenebook.model.on_stage import Wire
from tests.live.wire import Kept, message, note, recall, release

NOTHING = Needs({}, {})
FIVE_PIN, USB = 320, 0  # microseconds a byte; MIDI 1.0: 31,250 baud, 10 bits a byte


def times(messages: Sequence[Message], needs: Needs = NOTHING, byte_us: int = FIVE_PIN) -> list[int]:
    """Return when each message starts where none is late."""
    pacer, moments, now = Pacer(needs, byte_us=byte_us), list[int](), 0
    for each in messages:
        now = pacer.due(each, now)
        pacer.gone(each, now)
        moments.append(now)
    return moments


def output(plug: str = "5-pin", needs: Needs = NOTHING) -> tuple[Output, Kept]:
    out, port = Output("front", Wire(plug=plug), needs), Kept()
    out.attach(port)
    return out, port


def played(out: Output, port: Kept, until: int, begin: int = 0) -> list[tuple[int, str]]:
    """Pump as an engine does, at every moment at which something is due; return what went, each with its moment."""
    heard = [(begin, data) for data in port.sent]
    now: int | None = begin
    while (now := out.due(now)) is not None and now <= until:
        before = len(port.sent)
        out.pump(now)
        heard += [(now, data) for data in port.sent[before:]]
    return [(at, data.hex(" ")) for at, data in heard]


def test_a_five_pin_plug_carries_a_byte_in_320_microseconds() -> None:
    """An interface that is sent more than the lead carries drops what does not fit its buffer."""
    row = [message("a", "B0 50 7F"), recall("b", "C1 05"), message("a", "B0 51 00")]

    assert times(row) == [0, 960, 1600]


def test_a_usb_device_is_sent_to_as_fast_as_it_takes() -> None:
    """There is no lead to wait for."""
    assert times([message("a", "B0 50 7F"), message("b", "B1 50 7F")], byte_us=USB) == [0, 0]


@pytest.mark.parametrize(("byte_us", "ready"), [(FIVE_PIN, 640 + 30_000), (USB, 30_000)])
def test_a_unit_gets_nothing_while_it_settles(byte_us: int, ready: int) -> None:
    """What arrives in that time is lost, on a fast wire as on a slow one."""
    row = [recall("multi", "C0 05"), message("multi", "B0 50 7F")]

    assert times(row, Needs({"multi": 30_000}, {}), byte_us)[1] == ready


def test_a_bank_select_goes_at_once_with_its_program_change() -> None:
    """Settling begins at the program change; nothing stands between the two."""
    row = [recall("multi", "B0 00 01"), recall("multi", "C0 05"), message("multi", "B0 50 7F")]

    assert times(row, Needs({"multi": 10_000}, {})) == [0, 960, 1600 + 10_000]


def test_a_unit_with_a_least_gap_is_given_it_from_the_end_of_one_message_to_the_next() -> None:
    """Slow firmware drops what comes too close; other units wait in the order of the list."""
    row = [message("slow", "B0 50 7F"), message("slow", "B0 51 7F"), message("other", "B1 50 7F")]

    assert times(row, Needs({}, {"slow": 5_000})) == [0, 960 + 5_000, 960 + 5_000 + 960]


def test_the_release_of_a_triggers_note_comes_100_ms_after_its_note() -> None:
    """Rule C8, on any plug."""
    row = [note("sampler", "90 3C 64"), release("sampler", "80 3C 40")]

    assert times(row) == [0, 960 + 100_000]
    assert times(row, byte_us=USB) == [0, 100_000]


def test_what_units_need_is_what_their_charts_say() -> None:
    """The player writes milliseconds; a begun microsecond counts."""
    units = {"a": Unit(programs=Programs(settle_ms=30), least_gap_ms=1.5), "b": Unit()}

    assert needs_of(units) == Needs({"a": 30_000}, {"a": 1_500})


def test_each_message_goes_whole_at_its_own_moment() -> None:
    """Byte by byte as it leaves the computer."""
    out, port = output(needs=Needs({"multi": 30_000}, {}))

    out.begin([recall("multi", "C0 05"), message("fuzz", "B1 50 7F"), message("multi", "B0 50 00")], 0)

    assert played(out, port, 1_000_000) == [(0, "c0 05"), (640, "b1 50 7f"), (30_640, "b0 50 00")]
    assert out.is_idle


def test_a_new_step_drops_what_waits_and_says_so_beforehand() -> None:
    """A player who steps on has left the old cue; what it would still have set is the caller's to set again."""
    out, port = output()
    old = [message("a", f"B0 {n:02X} 7F") for n in range(10)]
    out.begin(old, 0)
    played(out, port, 2_000)

    assert out.waiting == tuple(old[3:])
    out.begin([message("b", "B1 01 01")], 2_000)

    heard = played(out, port, 1_000_000, begin=2_000)
    assert [data for _, data in heard] == ["b0 00 7f", "b0 01 7f", "b0 02 7f", "b1 01 01"]
    assert heard[-1][0] == 2_880  # the third message is still on the lead until then


def test_a_new_step_waits_for_a_unit_that_still_settles() -> None:
    """Two quick steps: the second cue's messages would fall into the first one's settling."""
    out, port = output("usb", Needs({"multi": 50_000}, {}))
    out.begin([recall("multi", "C0 05")], 0)
    out.begin([message("multi", "B0 50 7F")], 1_000)

    assert played(out, port, 1_000_000, begin=1_000)[-1] == (50_000, "b0 50 7f")


def test_the_release_of_a_note_that_sounds_is_never_dropped() -> None:
    """A note that hangs would hold a sampler's loop for the rest of the evening."""
    out, port = output()
    out.begin([note("sampler", "90 3C 64"), release("sampler", "80 3C 40")], 0)
    out.begin([message("a", "B1 01 01"), message("a", "B1 02 01")], 1_000)

    heard = played(out, port, 1_000_000, begin=1_000)
    assert heard[1:] == [(1_000, "b1 01 01"), (1_960, "b1 02 01"), (100_960, "80 3c 40")]


def test_a_release_goes_between_two_messages_but_not_into_a_recall() -> None:
    """Between a Bank Select and its program change nothing else goes (rule C6)."""
    out, port = output(needs=Needs({}, {"multi": 100_000}))
    out.begin([note("sampler", "90 3C 64"), release("sampler", "80 3C 40")], 0)
    out.begin([recall("multi", "B0 00 01"), recall("multi", "C0 05"), message("a", "B2 01 01")], 1_000)

    heard = [data for _, data in played(out, port, 1_000_000, begin=1_000)]
    assert heard == ["90 3c 64", "b0 00 01", "c0 05", "80 3c 40", "b2 01 01"]


def test_the_release_of_a_note_that_never_sounded_goes_with_it() -> None:
    """Letting go of what was never pressed is noise on the wire."""
    out, port = output(needs=Needs({"sampler": 50_000}, {}))
    out.begin([recall("sampler", "C0 01"), note("sampler", "90 3C 64"), release("sampler", "80 3C 40")], 0)
    out.begin([message("a", "B1 01 01")], 1_000)

    assert [data for _, data in played(out, port, 1_000_000, begin=1_000)] == ["c0 01", "b1 01 01"]


def test_a_trigger_that_fires_again_is_released_once() -> None:
    """The old release would cut the new note short."""
    out, port = output("usb")
    row = [note("sampler", "90 3C 64"), release("sampler", "80 3C 40")]
    out.begin(row, 0)
    out.begin(row, 40_000)

    heard = played(out, port, 1_000_000, begin=40_000)
    assert heard[-1] == (140_000, "80 3c 40")
    assert len(heard) == 3


def test_clock_may_go_between_and_takes_its_time_on_the_wire() -> None:
    """A real-time byte may stand anywhere; the message after it comes one byte later."""
    out, port = output()
    out.begin([message("a", "B0 01 01"), message("a", "B0 02 01")], 0)
    out.real_time(b"\xf8", 500)

    assert played(out, port, 1_000_000)[-1] == (960 + 320, "b0 02 01")


def test_a_port_that_fails_keeps_what_has_not_gone_and_says_why() -> None:
    """No fault of a port ends the gig, and what did not go is known exactly."""
    out, port = output("usb")
    port.is_out = True
    row = [message("a", "B0 01 01"), message("a", "B0 02 01")]

    out.begin(row, 0)

    assert (out.waiting, out.fault, out.gone) == (tuple(row), "the port 'kept' is gone.", [])
    assert out.detach() is port
    assert (out.is_there, out.waiting, out.due(0)) == (False, (), None)


def test_a_port_that_is_back_begins_empty() -> None:
    """What waited when it vanished belongs to a cue of then."""
    out, _ = output()
    out.begin([message("a", "B0 01 01"), message("a", "B0 02 01")], 0)
    out.detach()
    again = Kept("again")
    out.attach(again)
    out.pump(1_000_000)

    assert (again.sent, out.midi, out.fault) == ([], "again", "")


def test_without_a_port_nothing_waits() -> None:
    """A port that is not there has no queue that could burst out later."""
    out = Output("front", Wire(), NOTHING)
    out.real_time(b"\xf8", 0)

    assert out.due(0) is None


ROWS = st.lists(
    st.tuples(st.sampled_from("abc"), st.sampled_from(["C0 05", "B0 50 7F", "F0 7D 01 02 03 F7"])).map(
        lambda each: (recall if each[1][0] == "C" else message)(*each)
    ),
    max_size=30,
)


@given(ROWS, ROWS, st.integers(0, 60_000))
def test_whatever_is_dropped_nothing_overlaps_or_comes_before_its_unit_is_ready(
    first: list[Message], second: list[Message], moment: int
) -> None:
    """The lead carries one byte at a time, and each unit's own times hold from one step into the next."""
    needs = Needs({"a": 7_000, "b": 300}, {"c": 1_100})
    out, port = output(needs=needs)
    out.begin(first, 0)
    played(out, port, moment)
    dropped = list(out.waiting)
    out.begin(second, moment)
    played(out, port, 10_000_000, begin=moment)

    gone = out.gone
    wanted = first[: len(first) - len(dropped)] + second
    assert Counter(each for _, each in gone) == Counter(wanted)
    for unit in "abc":  # a unit that is not ready yet after the step before holds up itself alone
        assert [each for _, each in gone if each.unit == unit] == [each for each in wanted if each.unit == unit]
    free, ready = 0, dict.fromkeys("abc", 0)
    for at, each in gone:
        assert at >= free
        assert at >= ready[each.unit]
        free = at + 320 * len(each.data)
        settle = needs.settles.get(each.unit, 0) if each.data[0] == 0xC0 else 0
        ready[each.unit] = max(ready[each.unit], free + max(settle, needs.gaps.get(each.unit, 0)))
