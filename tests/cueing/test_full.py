"""Full lists: from unknown to where lean ends, and what to look at (C4, C5)."""

from typing import Any

import pytest

from scenebook.cueing.cues import Action, Cue
from scenebook.errors import SettleError
from scenebook.model import Unit
from tests.support.build import unit
from tests.support.compiling import compiled, hands, one_song, sent

EVERYTHING = unit(
    switches={
        "main": {"message": {"controller": 80}},
        "deep": {"message": {"controller": 81}},
        "flip": {"toggle": {"controller": 82}},
        "pressed": {"foot": True},
    },
    controls={"level": {"scale": "percent", "message": {"controller": 20}}, "knob": "0 to 10"},
    programs={"count": 128, "first": "0", "settle_ms": 5},
    preset=[
        {"slot": "0", "stores": {"main": "on", "deep": "off"}},
        {"slot": "7", "stores": {"main": "on"}, "variants": {"wide": {"controller": 90, "stores": {"deep": "on"}}}},
    ],
)


def full(of: Unit, *scenes: Any, home: Any = None, midi: bool = True) -> tuple[Cue, ...]:
    library = one_song({"multi": of}, *({"multi": s} for s in scenes), home=home or {}, midi=midi)
    return compiled(library, full=True)


def checks(cue: Cue) -> list[str]:
    return [f"{m.unit} {m.member} {m.after}" for m in cue.by_hand if m.action is Action.CHECK]


def test_home_is_full_and_its_positions_are_checked_before_the_first_song() -> None:
    """Recall, then all that the preset does not store; what no message sets, the player looks at."""
    home, _ = compiled(one_song({"multi": EVERYTHING}, {}, home={"multi": {"preset": "0", "deep": "on", "knob": "3"}}))

    assert sent(home) == ["0: C0 00", "5.64: B0 51 7F"]
    assert checks(home) == ["multi flip off", "multi pressed off", "multi knob 3"]
    assert hands(home) == []


def test_what_has_no_way_but_a_message_is_sent_at_home_whatever_it_is() -> None:
    """Nobody knows how it stands."""
    home, _ = compiled(one_song({"multi": EVERYTHING}, {}, home={"multi": {"level": "100"}}))

    assert sent(home) == ["0: B0 50 00", "0.96: B0 51 00", "1.92: B0 14 7F"]


def test_a_full_cue_recalls_and_sends_all_that_the_recall_has_not_set() -> None:
    """Lean sends one message at the second cue, full sends all three again."""
    scenes = {"preset": "7", "variant": "wide", "level": "50"}, {"preset": "7", "variant": "wide", "level": "60"}

    _, first, second = full(EVERYTHING, *scenes)

    assert sent(first) == ["0: C0 07", "5.64: B0 5A 7F", "6.6: B0 14 40"]
    assert sent(second) == ["0: C0 07", "5.64: B0 5A 7F", "6.6: B0 14 4C"]


def test_what_is_free_gets_nothing() -> None:
    """Nothing is asked of the level, so it stays wherever it is."""
    _, cue = full(EVERYTHING, {"preset": "0"})

    assert sent(cue) == ["0: C0 00"]


def test_a_left_unit_is_set_to_its_target_too() -> None:
    """Whoever sends a cue again wants it to be as it was."""
    _, first, left = full(EVERYTHING, {"preset": "0", "level": "50"}, "leave")

    assert sent(left) == sent(first) == ["0: C0 00", "5.64: B0 14 40"]


def test_an_open_preset_that_lean_is_in_is_recalled_too() -> None:
    """Full ends exactly where lean ends, so that lean can go on from there."""
    home = {"multi": {"preset": "0"}}

    _, cue = full(EVERYTHING, {"main": "off"}, home=home)

    assert sent(cue) == ["0: C0 00", "5.64: B0 50 00"]


def test_a_unit_that_ignores_its_current_program_is_recalled_by_way_of_another() -> None:
    """It may be there already, edited."""
    ignores = unit(
        switches={},
        preset=[{"slot": "0"}, {"slot": "1"}],
        programs={"count": 2, "first": "0", "settle_ms": 3, "repeat": "ignored"},
    )

    _, one, nought = full(ignores, {"preset": "1"}, {"preset": "0"})

    assert sent(one) == ["0: C0 00", "3.64: C0 01"]
    assert sent(nought) == ["0: C0 01", "3.64: C0 00"]


def test_hands_check_positions_and_press_nothing() -> None:
    """A press on a switch that stands right would undo it."""
    _, cue = full(EVERYTHING, {"preset": "0", "pressed": "on", "flip": "on", "knob": "7"})

    assert hands(cue) == []
    assert checks(cue) == ["multi flip on", "multi pressed on", "multi knob 7"]
    assert cue.notes == ("multi flip: a toggling switch, look at its lamp",)


def test_of_a_unit_that_is_silent_only_the_main_switch_is_checked() -> None:
    """Its knobs are set when it sounds next."""
    fuzz = unit(switches={"main": {"foot": True}}, controls={"gain": "0 to 10"})

    assert checks(full(fuzz, {"main": "off", "gain": "4"}, midi=False)[1]) == ["multi main off"]


def test_a_preset_that_a_foot_recalls_is_checked_by_the_display() -> None:
    """With its name, as the player knows it."""
    by_foot = unit(
        switches={},
        preset=[{"slot": "1A", "name": "ice"}],
        programs={"count": 6, "first": "1A", "bank_of": 3, "foot": True},
    )

    cue = full(by_foot, {"preset": "ice"}, midi=False)[1]

    assert checks(cue) == ["multi preset 1A ice"]
    assert sent(cue) + hands(cue) == []


def test_what_a_looper_has_recorded_cannot_be_promised() -> None:
    """A list can start it, and cannot fill it."""
    looper = unit(roles=["looper"], switches={"main": {"message": {"controller": 1}}})

    assert full(looper, {"main": "on"})[1].notes == ("multi: what it has recorded cannot be promised",)


def test_a_full_list_needs_the_settle_time_where_lean_may_not() -> None:
    """Lean sends the edit long after the recall; full sends it right behind."""
    of = unit(
        switches={"a": {"message": {"controller": 1}}},
        preset=[{"slot": "0", "stores": {"a": "on"}}],
        programs={"count": 1, "first": "0"},
    )
    library = one_song({"multi": of}, {"multi": "0"}, {"multi": {"preset": "0", "a": "off"}})

    assert sent(compiled(library)[2]) == ["0: B0 01 00"]
    with pytest.raises(SettleError) as caught:
        compiled(library, full=True)

    assert str(caught.value) == (
        "song 'song', scene '2', unit 'multi': a message follows the recall of '0', and no settle time is known. Write "
        "settle_ms into the unit's programs."
    )
