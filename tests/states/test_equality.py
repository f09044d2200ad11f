"""When a value is what is asked for already: steps on the wire, a tolerance for hands (S10)."""

from typing import Any

import pytest

from scenebook.errors import BadValueError
from tests.support.build import gig, library, rig, song, unit
from tests.support.compiling import compiled, hands, on_port, one_song, sent


def asked_in_turn(control: dict[str, Any], *texts: str, tempo: float | None = 120) -> list[list[str]]:
    """Return what is sent and done at each cue of a unit with one control."""
    of = one_song({"unit": unit(switches={}, controls={"knob": control})}, *({"unit": {"knob": t}} for t in texts))
    songs = {"song": of.songs["song"].model_copy(update={"tempo": tempo})}
    return [sent(cue) + hands(cue) for cue in compiled(of.model_copy(update={"songs": songs}))[1:]]


BY_MESSAGE = {"scale": "percent", "message": {"controller": 20}}
KNOB = {"scale": "clock"}


def test_steps_on_the_wire_are_equal_or_not_rounded_half_up() -> None:
    """Half of 127 is 63.5, which is step 64; 50.3 % is 63.88, the same step; 50.8 % is 64.5, the next one."""
    assert asked_in_turn(BY_MESSAGE, "50", "50.3 %", "50.8") == [["0: B0 14 40"], [], ["0: B0 14 41"]]


def test_a_knob_within_its_tolerance_is_not_touched() -> None:
    """Half an hour of the clock, unless the unit says otherwise."""
    moves = asked_in_turn(KNOB, "12 o'clock", "12:30", "11:30", "1 o'clock")

    assert moves == [
        ["turn unit knob 12 o'clock, before the first song"],
        [],
        [],
        ["turn unit knob 12 o'clock > 1 o'clock, at the cue"],
    ]


def test_a_knob_is_compared_with_where_it_stands_and_not_with_what_was_asked_last() -> None:
    """It does not drift away in steps that are each too small to turn."""
    moves = asked_in_turn(KNOB, "12 o'clock", "12:20", "12:40", "12:50")

    assert moves[1:] == [[], ["turn unit knob 12 o'clock > 12:40, at the cue"], []]


def test_a_tolerance_of_its_own_holds() -> None:
    """Ten minutes for whoever is fussy, two points of a hundred for a level."""
    assert asked_in_turn({**KNOB, "tolerance": "10 min"}, "12 o'clock", "12:20")[1] != []
    assert asked_in_turn({"scale": "percent", "tolerance": "2"}, "50", "52", "53") == [
        ["turn unit knob 50, before the first song"],
        [],
        ["turn unit knob 50 > 53, at the cue"],
    ]


def test_a_choice_sends_the_number_of_its_own() -> None:
    """As the maker's chart gives it."""
    choice = {
        "scale": "choice",
        "choices": ["tape", "plate"],
        "message": {"controller": 9, "values": {"tape": 3, "plate": 70}},
    }

    assert asked_in_turn(choice, "plate", "Tape") == [["0: B0 09 46"], ["0: B0 09 03"]]


def test_a_note_value_is_a_time_at_the_songs_tempo() -> None:
    """A dotted eighth at 120 is 375 ms: of 0 to 1,000 ms that is step 48 (47.6)."""
    time = {"scale": "ms", "message": {"controller": 9, "range": ["0 ms", "1000 ms"]}}

    assert asked_in_turn(time, "1/8.", "375 ms") == [["0: B0 09 30"], []]


def test_the_same_note_value_at_another_tempo_is_another_place_of_the_knob() -> None:
    """The sheet says both in milliseconds."""
    delay = unit(switches={}, controls={"time": {"scale": "ms", "tolerance": "5 ms"}})
    songs = {
        name: song({"part": {"delay": {"time": "1/4"}}}, tempo=tempo) for name, tempo in [("slow", 100), ("fast", 120)]
    }

    *_, fast = compiled(library({"delay": delay}, rig("delay"), songs, gig({"song": "slow", "gap": "20 s"}, "fast")))

    assert hands(fast) == ["turn delay time 600 ms > 1/4 (500 ms), in the gap before"]


def test_a_note_value_without_a_tempo_is_an_error() -> None:
    """Nobody can guess it."""
    with pytest.raises(BadValueError) as caught:
        asked_in_turn({"scale": "ms"}, "1/8", tempo=None)

    assert str(caught.value) == (
        "song 'song', scene '1', unit 'unit', control 'knob': '1/8' is a note value, and no tempo is known here. Give "
        "the song a tempo; in a preset or at home write the time in ms."
    )


def test_an_entrys_own_tempo_counts() -> None:
    """Tonight a little faster."""
    delay = unit(
        switches={}, controls={"time": {"scale": "ms", "message": {"controller": 9, "range": ["0 ms", "1270 ms"]}}}
    )
    of = library(
        {"delay": delay},
        rig("delay", units=on_port("delay")),
        song({"part": {"delay": {"time": "1/4"}}}, tempo=60),
        gig({"song": "song", "tempo": 120}),
    )

    assert sent(compiled(of)[1]) == ["0: B0 09 32"]


def test_a_value_that_its_message_cannot_set_is_an_error() -> None:
    """The range is the maker's."""
    with pytest.raises(BadValueError) as caught:
        asked_in_turn({"scale": "ms", "message": {"controller": 9, "range": ["20 ms", "800 ms"]}}, "900 ms")

    assert str(caught.value) == (
        "song 'song', scene '1', unit 'unit', control 'knob': '900 ms' is outside what its message can set; accepted: "
        "20 ms to 800 ms."
    )
