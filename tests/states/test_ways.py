"""By which way each member is worked on a rig (S1), and what no way reaches."""

import pytest

from scenebook.errors import NoWayError
from scenebook.states.stage import Way, stage_of
from tests.support.build import RIG, library, rig, song, unit
from tests.support.compiling import compiled, hands, on_port, one_song, sent

EVERY_WAY = unit(
    switches={
        "main": {"message": {"controller": 80}, "toggle": {"controller": 81}, "foot": True},
        "flips": {"toggle": {"controller": 82}, "foot": True},
        "pressed": {"foot": True, "hand": True},
        "wired": {"contact": "jack A"},
        "slid": {"hand": True},
        "stored": {},
    },
    controls={
        "level": {"scale": "percent", "message": {"controller": 20}, "hand": True},
        "knob": "clock",
        "swell": {"scale": "percent", "pedal": True},
        "deep": {"scale": "percent", "hand": False},
    },
    preset=[{"slot": "0", "stores": {"stored": "on", "deep": "40"}}],
)


def ways(placements: dict[str, object], **of_rig: object) -> dict[str, Way]:
    units = {"all": EVERY_WAY, "switcher": unit(switches={"A": {"foot": True}})}
    board = rig("all", "switcher", units=placements, **of_rig)
    return dict(stage_of(library(units, board, song({})), RIG).by_name["all"].ways)


def test_with_a_port_and_channel_messages_come_first() -> None:
    """What the laptop can do, no foot needs to."""
    assert ways(on_port("all")) == {
        "main": Way.MESSAGE,
        "flips": Way.TOGGLE,
        "pressed": Way.FOOT,
        "wired": Way.FOOT,
        "slid": Way.HAND,
        "stored": Way.PRESET,
        "level": Way.MESSAGE,
        "knob": Way.HAND,
        "swell": Way.PEDAL,
        "deep": Way.PRESET,
    }


def test_without_a_channel_a_unit_is_worked_by_hand_throughout() -> None:
    """A board with no MIDI is a board all the same."""
    assert ways({}) == {
        "main": Way.FOOT,
        "flips": Way.FOOT,
        "pressed": Way.FOOT,
        "wired": Way.FOOT,
        "slid": Way.HAND,
        "stored": Way.PRESET,
        "level": Way.HAND,
        "knob": Way.HAND,
        "swell": Way.PEDAL,
        "deep": Way.PRESET,
    }


def test_alone_in_a_loop_the_main_switch_is_worked_by_the_loop() -> None:
    """Stepping on the switcher turns it on and off; its own switch is never touched."""
    assert ways(on_port("all"), loops={"switcher": {"A": ["all"]}})["main"] is Way.LOOP
    assert ways(on_port("all"), loops={"switcher": {"A": ["all"]}})["flips"] is Way.TOGGLE


@pytest.mark.parametrize(
    ("programs", "midi", "way"),
    [
        ({}, True, Way.MESSAGE),
        ({"foot": True}, True, Way.MESSAGE),
        ({"foot": True}, False, Way.FOOT),
        ({"program_change": False, "foot": True, "hand": True}, True, Way.FOOT),
        ({"hand": True}, False, Way.HAND),
        ({}, False, Way.PRESET),
    ],
)
def test_presets_are_recalled_by_message_then_foot_then_hand(programs: dict[str, object], midi: bool, way: Way) -> None:
    """As with switches: the first way that the rig allows."""
    units = {"multi": unit(programs={"count": 4, **programs}), "plain": unit()}
    stage = stage_of(library(units, rig(*units, units=on_port("multi") if midi else {}), song({})), RIG)

    assert stage.by_name["multi"].recall is way
    assert stage.by_name["plain"].recall is None


def test_every_way_is_used_as_the_rig_has_it() -> None:
    """One scene, all of it: messages for the laptop, presses, turns and a pedal for the player."""
    asked = {
        "main": "on",
        "flips": "on",
        "pressed": "on",
        "wired": "on",
        "slid": "on",
        "level": "100",
        "knob": "2 o'clock",
        "swell": "50",
    }
    home, scene = compiled(one_song({"all": EVERY_WAY}, {"all": asked}, home={"all": {"preset": "0"}}))

    assert sent(home) == ["0: C0 00", "0.64: B0 50 00"]
    assert sent(scene) == ["0: B0 14 7F", "0.96: B0 50 7F", "1.92: B0 52 7F"]
    assert hands(scene) == [
        "press all pressed off > on, before the first song",
        "press all wired off > on, before the first song",
        "turn all slid off > on, before the first song",
        "turn all knob 2 o'clock, before the first song",
        "pedal all swell 50, before the first song",
    ]


def test_a_switch_that_nothing_works_cannot_be_asked_for() -> None:
    """Better at the desk than on stage."""
    of = one_song({"fuzz": unit(switches={"main": {"toggle": {"controller": 9}}})}, {"fuzz": "on"}, midi=False)

    with pytest.raises(NoWayError) as caught:
        compiled(of)

    assert str(caught.value) == (
        "song 'song', scene '1', unit 'fuzz': nothing works 'main' on this rig; accepted: a message (with a port and "
        "channel "
        "in the rig), foot, hand, or a preset that stores it. Say in the unit how it is worked, or take the setting "
        "out of the scene."
    )


def test_a_switch_that_nothing_works_may_be_asked_to_be_off() -> None:
    """It is off: nothing could have turned it on."""
    _, scene = compiled(one_song({"fuzz": unit()}, {"fuzz": "off"}, midi=False))

    assert sent(scene) + hands(scene) == []


def test_what_only_presets_store_cannot_be_moved_without_one() -> None:
    """The error says which preset to name."""
    of = one_song({"all": EVERY_WAY}, {"all": {"preset": "0", "stored": "off"}}, home={"all": {"preset": "0"}})

    with pytest.raises(NoWayError) as caught:
        compiled(of)

    assert str(caught.value) == (
        "song 'song', scene '1', unit 'all': nothing works 'stored' on this rig. Name a preset that stores it so, or "
        "say in the unit how it is worked."
    )


def test_a_preset_that_nothing_recalls_cannot_be_asked_for() -> None:
    """A multi-effects with no MIDI on this rig, and no footswitch described."""
    of = one_song({"multi": unit(preset=[{"slot": "0"}])}, {"multi": {"preset": "0"}}, midi=False)

    with pytest.raises(NoWayError) as caught:
        compiled(of)

    assert str(caught.value) == (
        "song 'song', scene '1', unit 'multi': nothing recalls its presets on this rig. Give it a port and channel in "
        "the rig, or say that foot or hand recalls."
    )


def test_a_variant_that_nothing_reaches_cannot_be_asked_for() -> None:
    """It has a message, and this rig has no channel for the unit."""
    multi = unit(
        preset=[{"slot": "0", "variants": {"big": {"controller": 9}}}],
        programs={"count": 4, "first": "0", "foot": True},
    )
    of = one_song({"multi": multi}, {"multi": {"preset": "0", "variant": "big"}}, midi=False)

    with pytest.raises(NoWayError) as caught:
        compiled(of)

    assert str(caught.value) == (
        "song 'song', scene '1', unit 'multi': nothing reaches variant 'big' on this rig. Give the unit a port and "
        "channel in the rig, or say in the unit that a foot reaches it."
    )
