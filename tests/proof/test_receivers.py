"""What arrives puts a receiver in a state, by its chart and channel alone (P2)."""

from collections.abc import Mapping
from typing import Any

import pytest

from scenebook.model import Library, Unit
from scenebook.proof import Proof, prove
from tests.support.build import GIG, RIG, library, rig, song, unit
from tests.support.sent import PORT, sent_list

ON_1 = {"port": PORT, "channel": 1}


def whats(proof: Proof) -> list[str]:
    return [f"{failure.number} {failure.place}: {failure.what}" for failure in proof.failures]


def one(thing: Unit, *scenes: Mapping[str, Any] | str, home: Any = None, **placement: Any) -> Library:
    """Return a library in which `thing` alone is asked for these settings, one after the other."""
    said = {} if home is None else {"home": {"box": home}}
    made = rig("box", units={"box": {**ON_1, **placement}}, **said)
    return library({"box": thing}, made, song({f"scene {n}": {"box": each} for n, each in enumerate(scenes, 1)}))


def proved(of: Library, *cues: list[str], **how: Any) -> list[str]:
    return whats(prove(of, GIG, RIG, sent_list(of, *cues), **how))


THRESHOLD = unit(switches={"main": {"message": {"controller": 80}}})


@pytest.mark.parametrize(("value", "state"), [("00", "off"), ("3F", "off"), ("40", "on"), ("7F", "on")])
def test_a_number_alone_reads_below_64_as_off(value: str, state: str) -> None:
    """The MIDI specification's switches: 0-63 off, 64-127 on."""
    of = one(THRESHOLD, state)
    other = one(THRESHOLD, "on" if state == "off" else "off")

    assert proved(of, ["B0 50 00"], [f"B0 50 {value}"]) == []
    assert len(proved(other, ["B0 50 00"], [f"B0 50 {value}"])) == 1


def test_explicit_values_mean_exactly_those_values() -> None:
    """A unit that wants 1 and 2 does not take 127 for on."""
    of = one(unit(switches={"main": {"message": {"controller": 80, "on": 2, "off": 1}}}), "on")

    assert proved(of, ["B0 50 01"], ["B0 50 02"]) == []
    assert proved(of, ["B0 50 01"], ["B0 50 7F"]) == [
        "1 front: no unit that hears it understands controller 80 = 127, channel 1.",
        "1 box: 'main' is to be at on, and it is at off.",
    ]


def test_a_control_holds_a_step() -> None:
    """Noon is half the travel: 63.5 of 127, rounded half up to 64 (S10)."""
    knob = {"gain": {"scale": "clock", "message": {"controller": 20}}}
    of = one(unit(switches={}, controls=knob), {"gain": "noon"})

    assert proved(of, [], ["B0 14 40"]) == []
    assert proved(of, [], ["B0 14 3F"]) == ["1 box: 'gain' is to be at 64, and it is at 63."]


def test_a_choice_holds_the_number_that_its_chart_gives() -> None:
    """Not the choice's place in the list."""
    voice = {"voice": {"scale": "choice", "choices": ["dark", "bright"]}}
    voice["voice"]["message"] = {"controller": 20, "values": {"dark": 5, "bright": 90}}  # type: ignore[assignment]
    of = one(unit(switches={}, controls=voice), {"voice": "bright"})

    assert proved(of, [], ["B0 14 5A"]) == []
    assert proved(of, [], ["B0 14 01"]) == ["1 box: 'voice' is to be at 90, and it is at 1."]


def test_a_note_switches_on_and_its_release_off() -> None:
    """A note on with velocity 0 is a note off."""
    of = one(unit(switches={"main": {"message": {"note": 60}}}), "on", "off", "on", "off")

    assert proved(of, ["80 3C 40"], ["90 3C 64"], ["90 3C 00"], ["90 3C 01"], ["80 3C 00"]) == []


def test_a_toggling_message_flips_what_is_known() -> None:
    """Two presses are none; at home the player looks."""
    of = one(unit(switches={"main": {"toggle": {"controller": 81}}}), "on", "on", "off")
    good = ["B0 51 7F"]

    assert proved(of, [], good, [], good) == []
    assert proved(of, [], [*good, *good], [], good) == [
        "1 box: 'main' is to be at on, and it is at off.",
        "2 box: 'main' is to be at on, and it is at off.",
        "3 box: 'main' is to be at off, and it is at on.",
    ]


def test_a_toggling_note_flips_when_it_is_pressed() -> None:
    """Its release is understood and does nothing."""
    of = one(unit(switches={"main": {"toggle": {"note": 60}}}), "on")

    assert proved(of, [], ["90 3C 64", "80 3C 40"]) == []
    assert len(proved(of, [], ["90 3C 64", "80 3C 40", "90 3C 64"])) == 1


def test_a_momentary_switch_has_no_state() -> None:
    """Its message is known and leaves nothing behind."""
    of = one(unit(switches={"hold": {"momentary": True, "message": {"controller": 80}}}), {"hold": "for the last note"})

    assert proved(of, [], ["B0 50 7F", "B0 50 00"]) == []


def test_a_toggling_switch_cannot_be_promised_from_unknown() -> None:
    """A full list sends nothing there and says so."""
    of = one(unit(switches={"main": {"toggle": {"controller": 81}}}), "on")

    proof = prove(of, GIG, RIG, sent_list(of), full=True)

    assert proof.ok
    assert proof.not_proved == {"box": ("main",)}
    assert proof.warnings == ("box: a toggling message cannot promise 'main'; look before you play",)


def test_a_press_and_release_pair_counts_when_both_have_arrived() -> None:
    """Half a press does nothing; another unit's message may come between."""
    press = unit(switches={"main": {"message": {"on_bytes": "Bn 50 7F Bn 50 00", "off_bytes": "Bn 51 7F Bn 51 00"}}})
    of = one(press, "on")
    home = ["B0 51 7F", "B0 51 00"]

    assert proved(of, home, ["B0 50 7F", "B0 50 00"]) == []
    assert proved(of, home, ["B0 50 7F"]) == ["1 box: 'main' is to be at on, and it is at off."]
    assert proved(of, home, ["B0 50 00", "B0 50 7F"]) == ["1 box: 'main' is to be at on, and it is at off."]


def test_an_exclusive_message_is_understood_by_whom_it_is_for() -> None:
    """It has no channel: every unit on the port hears it."""
    sysex = unit(switches={"main": {"message": {"on_bytes": "F0 7D 01 F7", "off_bytes": "F0 7D 00 F7"}}})
    of = one(sysex, "on", channel=9)

    assert proved(of, ["F0 7D 00 F7"], ["F0 7D 01 F7"]) == []
    assert proved(of, ["F0 7D 00 F7"], ["F0 7D 02 F7"])[0].endswith("understands system exclusive F0 7D 02 F7.")


def test_a_trigger_counts_and_is_released_after_100_ms() -> None:
    """Too early a release, none, or a second stroke is found."""
    pad = unit(switches={}, triggers={"bell": {"note": 60}})
    of = library({"box": pad}, rig("box", units={"box": ON_1}), song({"a": {"units": {}, "triggers": ["box.bell"]}}))
    early, stuck = "90 3C 64", "1 box: note 60 fired and is not released."

    assert proved(of, [], ["90 3C 64", "+100000 80 3C 40"]) == []
    assert proved(of, [], ["90 3C 64", "+100000 90 3C 00"]) == []
    assert proved(of, [], ["90 3C 64"]) == [stuck]
    assert proved(of, [], [early, "+99999 80 3C 40"])[1:] == [stuck]
    assert proved(of, [], []) == ["1 box: 'bell' is to fire once, and fired 0 times."]


def test_what_fires_at_another_cue_is_found() -> None:
    """A trigger fires on entry, once, and nowhere else (C8)."""
    pad = unit(switches={}, triggers={"rec": {"controller": 90}})
    of = library(
        {"box": pad}, rig("box", units={"box": ON_1}), song({"a": {"units": {}, "triggers": ["box.rec"]}, "b": {}})
    )

    assert proved(of, [], ["B0 5A 7F"], []) == []
    assert proved(of, [], ["B0 5A 7F", "B0 5A 7F"], ["B0 5A 7F"]) == [
        "1 box: 'rec' is to fire once, and fired 2 times.",
        "2 box: 'rec' is to fire 0 times, and fired once.",
    ]


def settling(**said: Any) -> Unit:
    return unit(
        switches={"main": {"message": {"controller": 80}}},
        programs={"count": 128, "first": "0", "settle_ms": 90, **said},
    )


def test_what_comes_while_a_unit_settles_is_lost() -> None:
    """Settling begins after the last byte of the program change: 90 ms to the microsecond."""
    of = one(settling(), {"preset": "5", "main": "on"})

    assert proved(of, ["B0 50 00"], ["C0 05", "+90000 B0 50 7F"]) == []
    assert proved(of, ["B0 50 00"], ["C0 05", "+89999 B0 50 7F"]) == ["1 box: 'main' is to be at on, and it is at off."]


def test_bytes_of_other_messages_pass_the_time_too() -> None:
    """320 us a byte: three bytes to another channel are 960 us less to wait."""
    other = unit(switches={"main": {"message": {"controller": 80}}})
    made = rig("box", "other", units={"box": ON_1, "other": {"port": PORT, "channel": 2}})
    of = library({"box": settling(), "other": other}, made, song({"a": {"box": {"preset": "5", "main": "on"}}}))
    home = ["B0 50 00", "B1 50 00"]

    assert proved(of, home, ["C0 05", "B1 50 00", "+89040 B0 50 7F"]) == []
    assert len(proved(of, home, ["C0 05", "B1 50 00", "+89039 B0 50 7F"])) == 1


def test_a_second_recall_while_settling_is_lost_too() -> None:
    """Bank Select and Program Change are channel messages like any other."""
    of = one(settling(), {"preset": "6"}, {"preset": "5"})

    assert proved(of, ["B0 50 00"], ["C0 05", "+90000 C0 06"], ["C0 05"]) == []
    assert proved(of, ["B0 50 00"], ["C0 05", "C0 06"], ["C0 05"]) == [
        "1 box: preset 6 is asked for, and the unit is in preset 5."
    ]


def test_nobody_knows_when_a_unit_with_no_settle_time_obeys() -> None:
    """So nothing after the recall counts at that cue; at the next one it has had time."""
    of = one(settling(settle_ms=None), {"preset": "5", "main": "on"}, {"preset": "5", "main": "on"})

    assert proved(of, ["B0 50 00"], ["C0 05", "+9000000 B0 50 7F"], ["B0 50 7F"]) == [
        "1 box: 'main' is to be at on, and it is at off."
    ]


def test_real_time_bytes_pass_and_may_stand_inside_a_message() -> None:
    """A clock runs through everything, settling too."""
    of = one(settling(), {"preset": "5", "main": "on"})

    assert proved(of, ["B0 50 00"], ["C0 F8 05", "F8", "+90000 B0 F8 50 FE 7F"]) == []


def test_running_status_on_the_wire_is_heard() -> None:
    """A status byte that equals the one before may be left out."""
    two = unit(switches={"main": {"message": {"controller": 80}}, "deep": {"message": {"controller": 81}}})
    of = one(two, {"main": "on", "deep": "on"})

    assert proved(of, ["B0 50 00", "B0 51 00"], ["B0 50 7F 51 7F"]) == []


BANKED = {"count": 512, "first": "0", "settle_ms": 0, "bank_select": "both"}


def test_bank_select_waits_for_the_program_change() -> None:
    """Slot 130 is bank 1, program 2; after the program change it is too late for the bank."""
    of = one(unit(switches={}, programs=BANKED), {"preset": "2"}, {"preset": "130"})
    home = ["B0 00 00", "B0 20 00", "C0 02"]

    assert proved(of, [], home, ["B0 00 00", "B0 20 01", "C0 02"]) == []
    assert proved(of, [], home, ["B0 20 01", "C0 02"]) == []
    assert proved(of, [], home, ["C0 02", "B0 20 01"]) == [
        "2 box: preset 130 is asked for, and the unit is in preset 2."
    ]


def test_a_bank_that_nobody_selected_is_unknown() -> None:
    """From unknown both parts are needed."""
    of = one(unit(switches={}, programs=BANKED), {"preset": "2"})
    found = ["1 box: preset 2 is asked for, and the unit is in an unknown preset."]

    assert proved(of, [], ["B0 00 00", "C0 02"]) == found
    assert proved(of, [], ["B0 20 00", "C0 02"]) == found


@pytest.mark.parametrize(("uses", "controller"), [("msb", "00"), ("lsb", "20")])
def test_one_part_of_bank_select_alone_is_the_bank(uses: str, controller: str) -> None:
    """The other part is then no message of this unit."""
    of = one(unit(switches={}, programs={**BANKED, "bank_select": uses}), {"preset": "258"})
    other = {"00": "20", "20": "00"}[controller]

    assert proved(of, [], [f"B0 {controller} 02", "C0 02"]) == []
    assert "no unit that hears it" in proved(of, [], [f"B0 {other} 02", f"B0 {controller} 02", "C0 02"])[0]


def test_a_slot_that_is_not_there_is_not_recalled() -> None:
    """Ten programs have no program 10."""
    of = one(unit(switches={}, programs={"count": 10, "first": "0", "settle_ms": 0}), {"preset": "9"})

    assert proved(of, [], ["C0 09"]) == []
    assert proved(of, [], ["C0 09", "C0 0A"]) == ["1 front: no unit that hears it understands program 10, channel 1."]


STORED = [
    {
        "slot": "0",
        "stores": {"main": "on", "deep": "off"},
        "variants": {"loud": {"controller": 90, "stores": {"deep": "on"}}},
    },
    {"slot": "1", "stores": {"main": "on"}},
    {"slot": "2", "stores": {"main": "off"}, "rest": "off"},
]
STORING = unit(
    switches={"main": {"message": {"controller": 80}}, "deep": {"message": {"controller": 81}}}, preset=STORED
)
STORING_HOME = ["B0 50 00", "B0 51 00"]


def test_a_recall_brings_what_the_preset_stores() -> None:
    """And leaves unknown what only other presets store (S5)."""
    of = one(STORING, {"preset": "0"}, {"preset": "1"}, {"preset": "2"})

    assert proved(of, STORING_HOME, ["C0 00"], ["C0 01", "B0 51 00"], ["C0 02"]) == []
    assert proved(of, STORING_HOME, ["C0 00"], ["C0 01"], ["C0 02"]) == [
        "2 box: 'deep' is to be at off, and nothing has set it."
    ]


def test_a_variant_is_reached_inside_its_preset_only() -> None:
    """A recall of the preset is without it; in another preset its message means nothing."""
    loud, plain = {"preset": "0", "variant": "loud"}, {"preset": "0"}
    of = one(STORING, loud, plain, loud)

    assert proved(of, STORING_HOME, ["C0 00", "B0 5A 7F"], ["C0 00"], ["B0 5A 7F"]) == []
    assert proved(of, STORING_HOME, ["C0 00", "B0 5A 7F"], [], [])[0] == (
        "2 box: no variant of preset 0 is asked for, and the unit is in 'loud'."
    )
    assert proved(one(STORING, {"preset": "1"}), STORING_HOME, ["C0 01", "B0 51 00", "B0 5A 7F"]) == [
        "1 front: no unit that hears it understands controller 90 = 127, channel 1."
    ]


def test_a_unit_that_ignores_its_current_program_goes_by_way_of_another() -> None:
    """From unknown, one recall may have been of the program that the unit was in, edits and all (C4)."""
    ignoring = unit(
        switches={"main": {}},
        programs={"count": 128, "first": "0", "settle_ms": 0, "repeat": "ignored"},
        preset=[{"slot": "0", "stores": {"main": "on"}}, {"slot": "1", "stores": {"main": "off"}}],
    )
    of = one(ignoring, {"preset": "0"}, home={"preset": "0"})

    assert proved(of, ["C0 01", "C0 00"], []) == []
    assert proved(of, ["C0 01", "C0 00"], ["C0 00"]) == []
    assert proved(of, ["C0 00"], []) == [
        f"{cue} box: {what}"
        for cue in (0, 1)
        for what in (
            "no variant of preset 0 is asked for, and the unit is in an unknown one.",
            "'main' is to be at on, and nothing has set it.",
        )
    ]


def neighbours(**hears: Any) -> Library:
    other = unit(switches={"main": {"message": {"controller": 80}}})
    made = rig("box", "other", units={"box": {**ON_1, **hears}, "other": {"port": PORT, "channel": 2}})
    return library({"box": THRESHOLD, "other": other}, made, song({"a": {"other": "on"}}))


@pytest.mark.parametrize("hears", ["omni", [2]])
def test_a_message_that_disturbs_another_unit_fails(hears: Any) -> None:
    """An omni unit obeys what was meant for its neighbour, if its chart has that number."""
    assert proved(neighbours(), ["B0 50 00", "B1 50 00"], ["B1 50 7F"]) == []
    assert proved(neighbours(hears=hears), ["B0 50 00", "B1 50 00"], ["B1 50 7F"]) == [
        "1 box: 'main' is to be at off, and it is at on."
    ]


def test_units_may_share_a_channel() -> None:
    """What one of them understands is understood."""
    reverb = unit(switches={"main": {"message": {"controller": 90}}})
    made = rig("box", "reverb", units={"box": ON_1, "reverb": ON_1})
    of = library({"box": THRESHOLD, "reverb": reverb}, made, song({"a": {"box": "on", "reverb": "on"}}))

    assert proved(of, ["B0 50 00", "B0 5A 00"], ["B0 50 7F", "B0 5A 7F"]) == []
    assert proved(of, ["B0 50 00", "B0 5A 00"], ["B0 50 7F", "B0 5A 7F", "B0 5B 7F"]) == [
        "1 front: no unit that hears it understands controller 91 = 127, channel 1."
    ]


def test_a_message_that_nobody_hears_fails() -> None:
    """A wrong channel or port is as good as nothing sent."""
    of = one(THRESHOLD, "off")

    assert len(proved(of, ["B0 50 00"], ["B5 50 00"])) == 1
    assert len(proved(of, ["B0 50 00"], ["wet: B0 50 00"])) == 1
