"""Moves, values and times in a player's words."""

import pytest

from scenebook.cueing.cues import Action, ByHand, Moment
from scenebook.model import Control, Preset, Unit
from scenebook.sheets.view import Do, Shape
from scenebook.sheets.words import (
    bars_words,
    dos_of,
    floor_words,
    pitch_words,
    preset_words,
    said_of,
    short_names,
    spoken,
    value_words,
)

SHORT = {"fuzz, silicon": "fuzz"}


def move(action: Action, member: str, after: str, **more: object) -> ByHand:
    said = {"before": "", "moment": Moment.CUE, "for_cue": 3, "us": 700, **more}
    return ByHand(action=action, unit="fuzz, silicon", member=member, after=after, **said)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("made", "shape", "words"),
    [
        (move(Action.PRESS, "main", "on"), Shape.ON, "press fuzz: on"),
        (move(Action.PRESS, "main", "off"), Shape.OFF, "press fuzz: off"),
        (move(Action.PRESS, "fat", "on", presses=2), Shape.ON, "press fuzz fat: on, 2 presses"),
        (move(Action.RECALL, "", "1-2 wide", presses=3), Shape.TO, "recall 1-2 wide on fuzz, 3 presses"),
        (move(Action.TURN, "gain", "2 o'clock"), Shape.TO, "turn fuzz gain to 2 o'clock"),
        (move(Action.TURN, "fat", "off"), Shape.OFF, "switch fuzz fat by hand: off"),
        (move(Action.PEDAL, "level", "40 %"), Shape.TO, "pedal fuzz level to 40 %"),
        (move(Action.HOLD, "record", "the last bar"), Shape.HOLD, "fuzz record: the last bar"),
        (move(Action.HOLD, "record", ""), Shape.HOLD, "fuzz record"),
        (move(Action.FIRE, "clear", "clear"), Shape.HOLD, "press fuzz clear once"),
        (move(Action.CHANGE, "", "mandola, capo 2"), Shape.TO, "take mandola, capo 2"),
        (move(Action.CHECK, "gain", "noon"), Shape.CHECK, "check fuzz: gain noon"),
        (move(Action.CHECK, "main", "on"), Shape.CHECK, "check fuzz: on"),
    ],
    ids=lambda value: value if isinstance(value, str) else None,
)
def test_each_move_has_its_mark_and_its_words(made: ByHand, shape: Shape, words: str) -> None:
    """A dep who has never seen the rig knows what to do."""
    assert dos_of([made], cue=3, short=SHORT) == (Do(shape, words, "", "At the cue", ""),)


def test_what_is_made_ahead_stands_first_and_says_for_which_cue() -> None:
    """In the gap the player reads from the top, and a move for later must not be heard as one for now."""
    now = move(Action.PRESS, "main", "on", before="off")
    ahead = move(Action.TURN, "gain", "noon", moment=Moment.GAP, for_cue=5)

    said = dos_of([now, ahead], cue=3, short={})

    assert said == (
        Do(Shape.TO, "turn fuzz, silicon gain to noon", "", "In the gap before", "for cue 5"),
        Do(Shape.ON, "press fuzz, silicon: on", "", "At the cue", ""),
    )


def test_how_it_stood_is_said_where_the_mark_does_not_tell_it() -> None:
    """What is to be on was off; a knob was anywhere."""
    moves = [
        move(Action.PRESS, "main", "on", before="off"),
        move(Action.TURN, "gain", "noon", before="2 o'clock"),
        move(Action.PRESS, "fat", "off", before="half"),
    ]

    assert [do.was for do in dos_of(moves, cue=3, short=SHORT)] == ["", "2 o'clock", "half"]


def test_what_is_held_falls_on_the_cue_however_early_the_rest_begins() -> None:
    """A loop that is recorded two bars early is the wrong loop."""
    moves = [move(Action.HOLD, "record", "on bar 1"), move(Action.TURN, "gain", "noon")]
    moments = {Moment.CUE: "At the cue, begin in the last 2 bars before", Moment.GAP: "In the interval before"}

    said = dos_of([*moves, move(Action.TURN, "tone", "9:30", moment=Moment.GAP)], cue=3, short=SHORT, moments=moments)

    assert [(do.words, do.moment) for do in said] == [
        ("turn fuzz tone to 9:30", "In the interval before"),
        ("turn fuzz gain to noon", "At the cue, begin in the last 2 bars before"),
        ("fuzz record: on bar 1", "At the cue"),
    ]


def test_a_bare_hour_is_an_hour_only_on_the_clock() -> None:
    """A knob marked 0 to 10 has an 11 in songs only."""
    unit = Unit(controls={"gain": Control(scale="clock"), "sub": Control(scale="0 to 10")})

    assert said_of(unit, "gain", "11") == "11 o'clock"
    assert [said_of(unit, "gain", text) for text in ("9:30", "noon", "2 o'clock")] == ["9:30", "noon", "2 o'clock"]
    assert said_of(unit, "sub", "7") == "7"
    assert said_of(unit, "main", "on") == "on"
    assert value_words("11", Control(scale="clock"), None, 440.0) == "11 o'clock"
    turned = move(Action.TURN, "gain", "11", before="9")
    assert [(m.before, m.after) for m in spoken([turned], {"fuzz, silicon": unit})] == [("9 o'clock", "11 o'clock")]


def test_a_units_checks_are_one_look() -> None:
    """A full list checks every knob; a line a unit is read by eye, a line a knob is not."""
    checks = [move(Action.CHECK, "main", "on"), move(Action.CHECK, "gain", "noon"), move(Action.CHECK, "tone", "9:30")]

    assert [do.words for do in dos_of(checks, cue=3, short=SHORT)] == ["check fuzz: on, gain noon, tone 9:30"]


@pytest.mark.parametrize(
    ("made", "words"),
    [
        (move(Action.PRESS, "fat", "on"), "●\u00a0fat"),
        (move(Action.TURN, "gain", "2 o'clock"), "gain 2 o'clock"),
        (move(Action.RECALL, "", "12", presses=2), "12 ×2"),
        (move(Action.HOLD, "record", "on bar 1, again on bar 9"), "record"),
    ],
)
def test_the_floor_has_as_few_words_as_tell_it(made: ByHand, words: str) -> None:
    """From standing height every letter costs room."""
    assert floor_words(made) == words


def test_a_unit_is_called_by_what_stands_before_the_comma_while_nobody_else_is() -> None:
    """There is one fuzz on the small board and there are two in the studio."""
    assert short_names(["fuzz, silicon", "looper, small", "tuner"]) == {
        "fuzz, silicon": "fuzz",
        "looper, small": "looper",
        "tuner": "tuner",
    }
    assert short_names(["fuzz, silicon", "fuzz, gated", "looper", "looper, small"]) == {
        name: name for name in ("fuzz, silicon", "fuzz, gated", "looper", "looper, small")
    }


@pytest.mark.parametrize(
    ("text", "scale", "said"),
    [
        ("1/8.", "ms", "1/8. (375 ms)"),  # dotted eighth at 120: 60 000 / 120 / 2 x 1.5
        ("1/4", "note value", "1/4 (500 ms)"),
        ("380 ms", "ms", "380 ms"),
        ("E1", "pitch", "E1 (41.2 Hz)"),
        ("800 Hz", "Hz", "800 Hz"),
        ("2 o'clock", "clock", "2 o'clock"),
        ("nonsense", "ms", "nonsense"),
    ],
)
def test_a_note_value_or_a_pitch_says_what_it_comes_to(text: str, scale: str, said: str) -> None:
    """A delay whose display shows ms is set by the number, not by the note."""
    assert value_words(text, Control(scale=scale), 120, 440.0) == said


def test_a_note_value_without_a_tempo_stays_as_written() -> None:
    """Home has no tempo."""
    assert value_words("1/8.", Control(scale="ms"), None, 440.0) == "1/8."


def test_presets_and_pitches_are_named() -> None:
    """What the display shows, what the player calls it, and what it sounds."""
    preset = Preset(slot="1C", name="third above", pitches=("B4", "E4"))

    assert preset_words(preset, "low") == "1C third above, low"
    assert pitch_words(preset, 440.0) == "E4 (329.6 Hz), B4 (493.9 Hz)"


@pytest.mark.parametrize(
    ("bars", "free", "words"),
    [(8, 0, "8 bars"), (1, 0, "1 bar"), (8.5, 2, "8.5 bars, last 2 free"), (None, 0, "bars not known")],
)
def test_bars_say_how_long_hands_are_free(bars: float | None, free: float, words: str) -> None:
    """That is when a knob can be turned."""
    assert bars_words(bars, free) == words
