"""When hands and feet do what they must, and whether there is time for it (C9, C10)."""

from typing import Any

import pytest

from scenebook.cueing.cues import Cue
from scenebook.model import Settings, Unit
from tests.support.build import gig, library, rig, song, unit
from tests.support.compiling import compiled, hands, one_song

FUZZ = unit(switches={"main": {"foot": True}, "fat": {"hand": True}}, controls={"gain": "0 to 10"})
BAR_MS = 2000  # 4/4 at 120


def played(
    units: dict[str, Unit], scenes: dict[str, Any], *form: Any, tempo: float | None = 120, **said: Any
) -> tuple[Cue, ...]:
    """Return the cues of one song on a board with no MIDI."""
    return compiled(library(units, rig(*units, **said), song(scenes, *form, tempo=tempo), gig("song")))


def part(scene: str, bars: float | None = 8, free: float = 0) -> dict[str, Any]:
    return {"scene": scene, "free": free, **({"bars": bars} if bars else {})}


# --- where a move is listed ---------------------------------------------------------------------------------------

SCENES = {"soft": {}, "loud": {"fuzz": {"main": "on", "gain": "7"}}, "louder": {"fuzz": {"main": "on", "gain": "9"}}}


def test_a_press_that_makes_a_unit_sound_falls_on_the_cue() -> None:
    """And the knob is set before, in the free bars: the unit is silent there."""
    cues = played({"fuzz": FUZZ}, SCENES, part("soft", free=2), part("loud"))

    assert hands(cues[2]) == ["turn fuzz gain 7, in the free bars before", "press fuzz main off > on, at the cue"]
    assert cues[2].late == ""


def test_a_move_is_made_at_the_latest_moment_of_its_window_that_has_time() -> None:
    """The last part has no free bars, the one before it has: there it is turned, for cue 3."""
    cues = played({"fuzz": FUZZ}, SCENES, part("soft", free=2), part("soft"), part("loud"))

    assert [hands(cue) for cue in cues[1:]] == [
        [],
        ["turn fuzz gain 7, in the free bars before"],
        ["press fuzz main off > on, at the cue"],
    ]
    assert [(move.action, move.for_cue) for move in cues[2].by_hand] == [("turn", 3)]


def test_the_window_begins_where_the_unit_last_sounded() -> None:
    """What is turned while it sounds is heard, so the second turn stays at its cue."""
    cues = played({"fuzz": FUZZ}, SCENES, part("soft", free=2), part("loud", free=2), part("louder"))

    assert hands(cues[3]) == ["turn fuzz gain 7 > 9, at the cue"]
    assert cues[3].late == ""


def test_with_no_time_in_its_window_a_move_is_at_the_cue() -> None:
    """And late."""
    cues = played({"fuzz": FUZZ}, {**SCENES, "other": {}}, part("loud"), part("soft"), part("louder"))

    assert hands(cues[3]) == ["press fuzz main off > on, at the cue", "turn fuzz gain 7 > 9, at the cue"]
    assert cues[3].late == "late by 2.5 s"


def test_in_the_gap_after_its_last_sound_a_unit_may_be_set() -> None:
    """The song is over, so nobody hears the knob."""
    songs = {"first": song({"loud": SCENES["loud"]}, tempo=120), "next": song({"louder": SCENES["louder"]}, tempo=120)}
    of = library({"fuzz": FUZZ}, rig("fuzz"), songs, gig({"song": "first", "gap": "20 s"}, "next"))

    assert hands(compiled(of)[2]) == ["turn fuzz gain 7 > 9, in the gap before"]


def test_knobs_of_a_silent_unit_wait_for_the_scene_that_it_sounds_in_next() -> None:
    """Home's gain is 3; it is not turned back in the soft part only to be turned again."""
    cues = played(
        {"fuzz": FUZZ},
        {**SCENES, "fat": {"fuzz": {"fat": "on", "gain": "1"}}},
        *(part(name, free=4) for name in ("loud", "soft", "fat", "loud")),
        home={"fuzz": {"gain": "3"}},
    )

    assert [hands(cue) for cue in cues[2:]] == [
        ["press fuzz main on > off, at the cue"],
        [],
        ["press fuzz main off > on, at the cue"],
    ]


def test_a_unit_that_has_no_main_switch_always_sounds() -> None:
    """Its knobs are turned on the cue."""
    amp = unit(switches={}, controls={"volume": "0 to 10"})

    cues = played(
        {"amp": amp}, {"a": {"amp": {"volume": "3"}}, "b": {"amp": {"volume": "6"}}}, part("a", free=2), part("b")
    )

    assert hands(cues[2]) == ["turn amp volume 3 > 6, at the cue"]


def test_at_a_cue_offs_come_before_ons_before_recalls_before_turns_along_the_chain() -> None:
    """So that the feet move once from left to right."""
    multi = unit(switches={}, preset=[{"slot": "0"}, {"slot": "1"}], programs={"count": 4, "first": "0", "foot": True})
    units = {"amp": unit(switches={}, controls={"volume": "0 to 10"}), "multi": multi, "wah": FUZZ, "fuzz": FUZZ}
    before = {"amp": {"volume": "3"}, "multi": "0", "wah": "on"}
    after = {"amp": {"volume": "6"}, "multi": "1", "fuzz": "on"}

    cues = played(units, {"a": before, "b": after}, part("a"), part("b"))

    assert hands(cues[2]) == [
        "press wah main on > off, at the cue",
        "press fuzz main off > on, at the cue",
        "recall multi preset 0 > 1, at the cue",
        "turn amp volume 3 > 6, at the cue",
    ]


def test_another_instrument_is_a_move() -> None:
    """Tuning and capo count; the same one again does not."""
    viola, fifth = {"name": "viola", "tuning": "C G D A"}, {"name": "viola", "tuning": "C G D A", "capo": 2}
    songs = {
        name: song({"part": {}}, instrument=instrument)
        for name, instrument in [("1", viola), ("2", viola), ("3", fifth)]
    }
    of = library({}, rig(), songs, gig({"song": "1", "gap": "30 s"}, {"song": "2", "gap": "15 s"}, "3"))

    assert [hands(cue) for cue in compiled(of)[1:]] == [
        ["change instrument instrument viola, C G D A, before the first song"],
        [],
        ["change instrument instrument viola, C G D A > viola, C G D A, capo 2, in the gap before"],
    ]
    assert [cue.late for cue in compiled(of)] == ["", "", "", "late by 5.0 s"]


def test_what_a_momentary_switch_is_for_is_listed_at_its_cue() -> None:
    """It has no state, so nothing else tells of it."""
    looper = unit(switches={"record": {"momentary": True, "foot": True}})

    cues = played({"looper": looper}, {"a": {"looper": {"record": "hold for the last 8 bars"}}}, part("a"))

    assert hands(cues[1]) == ["hold looper record hold for the last 8 bars, at the cue"]


# --- recalls by foot ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("programs", "slots", "presses"),
    [
        ({"first": "0"}, ("2", "5"), 3),
        ({"first": "0"}, ("5", "2"), 3),
        ({"first": "1A", "bank_of": 3}, ("1A", "1C"), 1),
        ({"first": "1A", "bank_of": 3}, ("1A", "3B"), 3),
    ],
)
def test_a_recall_by_foot_walks_from_where_the_unit_stands(
    programs: dict[str, Any], slots: tuple[str, str], presses: int
) -> None:
    """A press for each slot between; with banks a press for each bank between, and then the slot's own switch."""
    multi = unit(
        switches={}, preset=[{"slot": slot} for slot in slots], programs={"count": 9, "foot": True, **programs}
    )

    (move,) = played({"multi": multi}, {"a": {"multi": slots[0]}, "b": {"multi": slots[1]}}, part("a"), part("b"))[
        2
    ].by_hand

    assert (move.presses, move.us) == (presses, presses * 700_000)


def test_a_recall_by_hand_is_one_turn() -> None:
    """A rotary switch, wherever it stands."""
    multi = unit(
        switches={},
        controls={"swell": {"scale": "percent", "pedal": True}},
        preset=[{"slot": "0"}, {"slot": "7"}],
        programs={"count": 8, "first": "0", "hand": True},
    )

    (move,) = played({"multi": multi}, {"a": {"multi": "0"}, "b": {"multi": "7"}}, part("a"), part("b"))[2].by_hand

    assert (move.presses, move.us) == (1, 2_500_000)


def stepped(**variant: Any) -> Unit:
    presets = [{"slot": "0", "stores": {"main": "off"}}, {"slot": "1", **variant}]
    return unit(switches={"main": {}}, preset=presets, programs={"count": 2, "first": "0", "foot": True})


def test_a_recall_that_makes_a_unit_sound_falls_on_the_cue() -> None:
    """Like the press of its main switch."""
    cues = played(
        {"multi": stepped(stores={"main": "on"})},
        {"a": {"multi": "0"}, "b": {"multi": "1"}},
        part("a", free=2),
        part("b"),
    )

    assert hands(cues[2]) == ["recall multi preset 0 > 1, at the cue"]


def test_where_a_variant_makes_it_sound_its_press_falls_on_the_cue_and_the_recall_before_it() -> None:
    """The preset itself is silent."""
    multi = stepped(stores={"main": "off"}, variants={"loud": {"foot": True, "stores": {"main": "on"}}})
    scenes = {"a": {"multi": "0"}, "b": {"multi": {"preset": "1", "variant": "loud"}}}

    cues = played({"multi": multi}, scenes, part("a", free=2), part("b"))

    assert hands(cues[2]) == [
        "recall multi preset 0 > 1, in the free bars before",
        "press multi variant loud, at the cue",
    ]


# --- late ---------------------------------------------------------------------------------------------------------


def test_one_press_fits_on_the_beat_and_a_second_one_does_not() -> None:
    """Two feet are not better than one."""
    units = {"fuzz": FUZZ, "wah": FUZZ}
    scenes = {"soft": {}, "one": {"fuzz": "on"}, "two": {"fuzz": "on", "wah": "on"}}

    assert played(units, scenes, part("soft"), part("one"))[2].late == ""
    assert played(units, scenes, part("soft"), part("two"))[2].late == "late by 0.7 s"
    assert played(units, scenes, part("soft", free=1), part("two"))[2].late == ""


def test_without_bars_or_tempo_the_time_is_not_known() -> None:
    """Unless one press is all: that always fits."""
    scenes = {"soft": {}, "one": {"fuzz": "on"}, "two": SCENES["loud"], "three": SCENES["louder"]}

    def late(last: str, **soft: Any) -> str:
        tempo = soft.pop("tempo", 120)
        return played({"fuzz": FUZZ}, scenes, part("three"), part("soft", **soft), part(last), tempo=tempo)[3].late

    assert late("two", bars=None) == "time not known: no bars or no tempo is given"
    assert late("two", free=2, tempo=None) == "time not known: no bars or no tempo is given"
    assert late("one", bars=None) == ""


@pytest.mark.parametrize(
    ("gap", "late"), [("20 s", ""), ("2 s", "late by 0.5 s"), (None, "time not known: the gap before has no length")]
)
def test_between_songs_the_gap_is_the_time(gap: str | None, late: str) -> None:
    """The amp always sounds, so its volume is turned in the gap."""
    amp = unit(switches={}, controls={"volume": "0 to 10"})
    songs = {name: song({"part": {"amp": {"volume": volume}}}) for name, volume in [("first", "3"), ("next", "6")]}
    of = library({"amp": amp}, rig("amp"), songs, gig({"song": "first", **({"gap": gap} if gap else {})}, "next"))

    last = compiled(of)[2]

    assert hands(last) == ["turn amp volume 3 > 6, in the gap before"]
    assert last.late == late


def test_before_the_first_song_nothing_is_late() -> None:
    """Nobody is waiting yet: home, and whatever the first scene needs."""
    cues = played(
        {"fuzz": FUZZ, "wah": FUZZ},
        {"loud": {**SCENES["loud"], "wah": "on"}},
        part("loud"),
        home={"fuzz": {"gain": "2"}},
    )

    assert [cue.late for cue in cues] == ["", ""]


def test_a_press_that_takes_no_time_is_a_press_all_the_same() -> None:
    """A player who is fast enough to write 0 ms."""
    of = one_song({"fuzz": FUZZ}, {}, {"fuzz": "on"}, midi=False).model_copy(update={"settings": Settings(press_ms=0)})

    assert hands(compiled(of)[2]) == ["press fuzz main off > on, at the cue"]


# --- what a recall would undo -------------------------------------------------------------------------------------

STORED = unit(
    switches={"main": {"foot": True}, "deep": {"foot": True}},
    controls={"gain": "0 to 10"},
    preset=[
        {"slot": "0", "stores": {"deep": "off", "gain": "0"}},
        {"slot": "1", "stores": {"deep": "off", "gain": "3"}},
    ],
    programs={"count": 2, "first": "0", "foot": True, "settle_ms": 0},
)


def test_what_a_recall_by_foot_would_undo_is_never_made_before_it() -> None:
    """A second before the cue does for the recall, not for the knob; four before the part do for both."""
    scenes = {
        "off": {"multi": "0"},
        "on": {"multi": {"preset": "1", "main": "on", "gain": "7"}},
        "open": {"multi": {"main": "off"}},
    }

    cues = played({"multi": STORED}, scenes, part("off", free=2), part("open", free=0.5), part("on"))

    assert [hands(cue) for cue in cues[2:]] == [
        ["recall multi preset 0 > 1, in the free bars before", "turn multi gain 3 > 7, in the free bars before"],
        ["press multi main off > on, at the cue"],
    ]


def test_where_only_the_recall_fits_before_the_rest_follows_at_the_cue() -> None:
    """In the right order, and late."""
    scenes = {
        "off": {"multi": {"preset": "0", "main": "on"}},
        "on": {"multi": {"preset": "1", "main": "on", "gain": "7"}},
        "open": {"multi": {"main": "off"}},
    }

    cues = played({"multi": STORED}, scenes, part("off", free=2), part("open", free=0.5), part("on"))

    assert hands(cues[3]) == [
        "recall multi preset 0 > 1, in the free bars before",
        "press multi main off > on, at the cue",
        "turn multi gain 3 > 7, at the cue",
    ]
    assert cues[3].late == "late by 2.2 s"


def test_at_the_cue_a_press_follows_the_recall_that_would_undo_it() -> None:
    """Though presses come before recalls otherwise."""
    scenes = {
        "a": {"multi": {"preset": "0", "main": "on"}},
        "b": {"multi": {"preset": "1", "main": "on", "deep": "on"}},
    }

    cues = played({"multi": STORED, "fuzz": FUZZ}, {**scenes, "b": {**scenes["b"], "fuzz": "on"}}, part("a"), part("b"))

    assert hands(cues[2]) == [
        "press fuzz main off > on, at the cue",
        "recall multi preset 0 > 1, at the cue",
        "press multi deep off > on, at the cue",
    ]


def test_a_knob_that_a_recall_by_message_would_undo_is_turned_on_the_cue() -> None:
    """The unit is silent before, but the program change goes out on the cue itself."""
    multi = STORED.model_dump()
    by_message = Unit.model_validate({**multi, "programs": {**multi["programs"], "foot": False}})
    scenes: list[Any] = [{"multi": "0"}, {"multi": {"preset": "1", "main": "on", "gain": "7"}}]

    _, _, cue = compiled(one_song({"multi": by_message}, *scenes))

    assert hands(cue) == ["press multi main off > on, at the cue", "turn multi gain 3 > 7, at the cue"]
