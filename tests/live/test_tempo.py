"""Clock goes out 24 to the quarter note without drift, and a change of tempo waits for tails that would bend."""

from collections.abc import Mapping
from typing import Any

import pytest

from scenebook.cueing.cues import Cue, UnitState
from scenebook.live.places import Part, Place
from scenebook.live.programme import Step
from scenebook.live.snapshot import Beat
from scenebook.live.tempo import Pulse, Tempo, bends_of
from scenebook.model import Placement, Rig, Unit
from scenebook.model.on_stage import Wire

CLOCK = {"front": Wire(clock=True)}
SECOND = 1_000_000


def step(entry: int, form: int = 0, *sounding: str, part: Part = Part.SET) -> Step:
    """Return a step of which only the place and the sounding units matter here."""
    states = tuple(UnitState(unit, True, None, False, None, {}, frozenset()) for unit in sounding)
    fields: Mapping[str, Any] = dict.fromkeys(Cue._fields)
    cue = Cue(**{**fields, "states": states})
    return Step(Place(part, entry, form), cue, cue)


def ticks(tempo: Tempo, until: int) -> list[int]:
    """Pump at each moment at which something is due; return the moments, one for each byte of clock."""
    found: list[int] = []
    while (due := tempo.due()) is not None and due <= until:
        found += [due] * tempo.pump(due).count(("front", b"\xf8"))
    return found


def test_a_quarter_note_has_24_clocks() -> None:
    """MIDI 1.0: at 120 quarter notes a minute that is one each 20.83 ms."""
    tempo = Tempo(CLOCK, {})
    tempo.step(step(0), 120, 0)

    assert len(ticks(tempo, SECOND)) == 48
    assert tempo.beat == Beat(120, 120)


def test_the_schedule_does_not_drift() -> None:
    """An hour at an odd tempo: each byte is counted from the beginning, never from the one before."""
    pulse = Pulse()
    pulse.run(137.3, 0)
    sent = sum(pulse.take(now) for now in range(0, 3600 * SECOND, 77_777))
    due = pulse.due

    assert due is not None
    assert due == pytest.approx(sent * 60 * SECOND / (24 * 137.3), abs=1)


def test_without_clock_nothing_goes_out() -> None:
    """Only ports that ask for it get it."""
    tempo = Tempo({"front": Wire()}, {})

    assert tempo.step(step(0), 120, 0) == []
    assert tempo.due() is None
    assert tempo.beat == Beat()


def test_nothing_goes_out_before_the_first_step() -> None:
    """A start sends nothing, clock included."""
    assert Tempo(CLOCK, {}).due() is None


def test_a_new_tempo_begins_with_the_byte_that_is_due() -> None:
    """No byte too many or too few at the seam."""
    tempo = Tempo(CLOCK, {})
    tempo.step(step(0), 60, 0)
    assert len(ticks(tempo, 100_000)) == 3  # at 0, 41.67 and 83.33 ms
    tempo.step(step(1), 120, 100_000)

    assert ticks(tempo, 170_000) == [125_001, 145_834, 166_667]


def test_a_song_without_a_tempo_leaves_the_clock_as_it_was() -> None:
    """A delay that loses its clock falls back to a time that nobody chose."""
    tempo = Tempo(CLOCK, {})
    tempo.step(step(0), 90, 0)
    tempo.step(step(1), None, SECOND)

    assert tempo.beat == Beat(90, 90)


def test_bytes_that_came_late_are_sent_and_those_of_a_long_standstill_are_not() -> None:
    """A busy moment must not lose a beat; a machine that slept must not send a thousand bytes at once."""
    pulse = Pulse()
    pulse.run(120, 0)
    pulse.take(0)

    assert pulse.take(100_000) == 4
    assert pulse.take(3600 * SECOND) == 1
    assert pulse.due == pytest.approx(3600 * SECOND + 20_833, abs=1)


DELAY = {"front": {"tape delay": 2 * SECOND}}


def test_a_change_of_tempo_waits_while_a_delay_sounds_and_until_it_has_rung_out() -> None:
    """The audience would hear the pitch of the tail bend."""
    tempo = Tempo(CLOCK, DELAY)
    tempo.step(step(0, 0, "tape delay"), 100, 0)
    tempo.step(step(1, 0, "tape delay"), 120, 10 * SECOND)
    waits = "the tail of tape delay would bend: the new tempo goes out once that is silent"
    assert tempo.beat == Beat(100, 120, waits)

    tempo.step(step(1, 1), 120, 20 * SECOND)  # silent from here on
    ticks(tempo, 22 * SECOND - 1)
    assert tempo.beat == Beat(100, 120, waits)
    ticks(tempo, 22 * SECOND + 50_000)
    assert tempo.beat == Beat(120, 120)


def test_a_tempo_that_changes_for_the_song_that_stands_goes_out_at_once_or_with_the_next_silence() -> None:
    """The band has agreed on another tempo while the song runs."""
    at_once, held = Tempo(CLOCK, DELAY), Tempo(CLOCK, DELAY)
    at_once.step(step(0), 100, 0)
    held.step(step(0, 0, "tape delay"), 100, 0)
    for tempo in (at_once, held):
        tempo.anew(DELAY, 150, SECOND)

    assert at_once.beat == Beat(150, 150)
    assert (held.beat.running, held.beat.wanted, bool(held.beat.waits)) == (100, 150, True)
    held.step(step(0, 1), 150, 2 * SECOND)
    ticks(held, 5 * SECOND)
    assert held.beat == Beat(150, 150)


def test_a_clock_that_does_not_run_is_not_begun_by_a_change_for_tonight() -> None:
    """A change sends nothing: not before the first step, nor after a sleep."""
    tempo = Tempo(CLOCK, {})
    tempo.anew({}, 150, 0)
    assert (tempo.due(), tempo.beat) == (None, Beat())

    tempo.step(step(0), 100, 0)
    tempo.stop()
    tempo.anew({}, 150, SECOND)
    assert (tempo.due(), tempo.beat) == (None, Beat())


def test_a_change_to_a_song_without_a_tempo_leaves_the_clock_as_it_was() -> None:
    """Tonight's tempo is taken back, and the song has none of its own."""
    tempo = Tempo(CLOCK, {})
    tempo.step(step(0), 150, 0)
    tempo.anew({}, None, SECOND)

    assert tempo.beat == Beat(150, 150)


def test_a_delay_that_is_silent_long_enough_holds_nothing_up() -> None:
    """The usual case: the last chorus had none."""
    tempo = Tempo(CLOCK, DELAY)
    tempo.step(step(0, 0, "tape delay"), 100, 0)
    tempo.step(step(0, 1), 100, 10 * SECOND)
    tempo.step(step(1, 0, "tape delay"), 120, 12 * SECOND)  # it begins with the change: there is no tail yet

    assert tempo.beat == Beat(120, 120)


def test_the_first_tempo_of_the_evening_waits_for_nothing() -> None:
    """No clock ran that could bend."""
    tempo = Tempo(CLOCK, DELAY)
    tempo.step(step(0, 0, "tape delay"), 100, 0)

    assert tempo.beat == Beat(100, 100)


def test_a_tempo_that_is_wanted_back_before_it_changed_waits_no_more() -> None:
    """Stepped on and back again."""
    tempo = Tempo(CLOCK, DELAY)
    tempo.step(step(0, 0, "tape delay"), 100, 0)
    tempo.step(step(1, 0, "tape delay"), 120, SECOND)
    tempo.step(step(0, 0, "tape delay"), 100, 2 * SECOND)

    assert tempo.beat == Beat(100, 100)


def test_start_and_stop_go_out_only_where_the_wire_asks() -> None:
    """A drum machine that starts by itself is the surprise of the evening."""
    tempo = Tempo({"front": Wire(clock=True), "drums": Wire(clock=True, start_stop=True)}, {})

    assert tempo.step(step(-1), None, 0) == []  # home
    assert tempo.step(step(0), 120, 10) == [("drums", b"\xfa")]
    assert tempo.step(step(0, 1), 120, 20) == []
    assert tempo.step(step(1), 120, 30) == [("drums", b"\xfc"), ("drums", b"\xfa")]
    assert tempo.step(step(0, part=Part.HOUSE), None, 40) == [("drums", b"\xfc")]
    assert tempo.step(step(0, part=Part.SPARE), None, 50) == [("drums", b"\xfa")]
    assert tempo.stop() == [("drums", b"\xfc")]
    assert tempo.due() is None


def test_the_first_clock_after_start_is_the_beat() -> None:
    """MIDI 1.0 wants a millisecond between Start and the clock that stands for the first note."""
    tempo = Tempo({"front": Wire(clock=True, start_stop=True)}, {})
    tempo.step(step(0), 120, 0)
    ticks(tempo, 10 * SECOND)
    tempo.step(step(1), 120, 10 * SECOND)

    assert ticks(tempo, 10 * SECOND + 30_000) == [10_001_001, 10_021_834]


def test_which_units_bend_is_found_by_the_port_that_they_hear() -> None:
    """A delay on one port holds up no clock on another."""
    rig = Rig(
        chain=("a", "b", "c"), units={"a": Placement(port="front", channel=1), "c": Placement(port="q", channel=2)}
    )
    units = {"a": Unit(bends_ms=1500), "b": Unit(bends_ms=900), "c": Unit()}

    assert bends_of(rig, units, {}) == {"front": {"a": 1_500_000}}
    assert bends_of(rig, units, {"c": "b"}) == {"front": {"a": 1_500_000}, "q": {"b": 900_000}}


def test_another_unit_may_bend_from_now_on() -> None:
    """Played by that one instead, tonight."""
    tempo = Tempo(CLOCK, {})
    tempo.anew(DELAY, None, 0)
    tempo.step(step(0, 0, "tape delay"), 100, 0)
    tempo.step(step(1), 120, SECOND)

    assert "tape delay" in tempo.beat.waits


def test_start_goes_out_again_when_the_clock_begins_anew_in_the_song_that_stands() -> None:
    """After a sleep, or when this stand takes over again: without it a far drum machine would stand still."""
    tempo = Tempo({"front": Wire(clock=True, start_stop=True)}, {})
    assert tempo.step(step(0), 120, 0) == [("front", b"\xfa")]
    assert tempo.stop() == [("front", b"\xfc")]

    assert tempo.step(step(0), 120, SECOND) == [("front", b"\xfa")]
    assert tempo.step(step(0, 1), 120, 2 * SECOND) == []
