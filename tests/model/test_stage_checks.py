"""What a rig says of its gigs on stage fits the rig, and no message means two things."""

from typing import Any

import pytest

from scenebook.model import Gig, Song
from scenebook.model.checks import check_rig
from scenebook.model.stage_checks import check_numbers, check_sent_once
from tests.support.build import gig, rig, unit

FUZZ = unit(switches={"main": {"message": {"controller": 80}}}, controls={"gain": {"scale": "percent"}})
HOLDER = unit(switches={}, lists={"count": 40, "messages": 12})
UNITS = {"fuzz": FUZZ, "holder": HOLDER}


def faults(**said: Any) -> list[str]:
    """Return the faults of a rig that hears one port."""
    placed = {"fuzz": {"port": "front", "channel": 2}, **said.pop("units", {})}
    return [str(fault) for fault in check_rig(rig("fuzz", "holder", units=placed, **said), UNITS)]


@pytest.mark.parametrize(
    ("said", "fault"),
    [
        (
            {"wires": {"frond": {}}},
            "no unit of this rig hears a port 'frond'. Did you mean 'front'?",
        ),
        ({"safe": {"fuz": "off"}}, "safe names 'fuz', which is not in this rig. Did you mean 'fuzz'?"),
        ({"safe": {"fuzz": {"gain": "loud"}}}, "control 'gain': 'loud' is not on the scale 'percent'"),
        (
            {"safe": {"fuzz": "leave"}},
            "safe is called from anywhere, so it cannot leave anything as it is.",
        ),
        (
            {"sender": {"unit": "holdr", "ports": ["front"]}},
            "the sender 'holdr' is not in this rig. Did you mean 'holder'?",
        ),
        (
            {"sender": {"unit": "fuzz", "ports": ["front"]}},
            "'fuzz' is the sender, but nothing says what lists it can hold. Give the unit lists: count and messages.",
        ),
        (
            {"sender": {"unit": "holder", "ports": ["wet"]}},
            "no unit of this rig hears a port 'wet'; accepted: 'front'.",
        ),
        ({"sender": {"unit": "holder", "ports": ["front", "front"]}}, "port 'front' is named twice."),
        (
            {"sender": {"unit": "holder", "ports": ["front"]}, "wires": {"front": {"midi": "interface"}}},
            "stand and sender would both send to port 'front': the sender 'holder' serves it, and the MIDI port",
        ),
        (
            {
                "sender": {"unit": "holder", "ports": ["front"]},
                "leads": [{"port": "computer", "to": "fuzz"}],
            },
            "stand and sender would both send to 'fuzz': the sender 'holder' feeds it, and a lead comes to it from",
        ),
    ],
)
def test_what_does_not_fit_the_rig_is_named(said: dict[str, Any], fault: str) -> None:
    """A slip is found when the rig is written down, and not at the first song."""
    found = faults(**said)

    assert len(found) == 1
    assert found[0].startswith(fault[:60])


def test_a_rig_that_says_all_of_it_well_has_no_fault() -> None:
    """Everything at once, as a rig with a laptop and a rig without say it."""
    steps = [{"does": "next", "channel": 16, "note": 60}, {"does": "back", "channel": 16, "note": 62}]
    said: dict[str, Any] = {"wires": {"front": {"plug": "usb"}}, "steps": steps}
    said |= {"safe": {"fuzz": {"main": "off", "gain": "10 %"}}, "sender": {"unit": "holder", "ports": ["front"]}}

    assert faults(**said, playback={"channel": 15}) == []


@pytest.mark.parametrize(
    ("first", "second", "playback"),
    [
        ({"channel": 16, "note": 60}, {"channel": 16, "note": 60}, None),
        ({"channel": 1, "controller": 64}, {"channel": 1, "controller": 64, "latching": True}, None),
        ({"song": 9, "listens": "pedal"}, {"song": 9, "listens": "Pedal one"}, None),
        ({"channel": 15, "program": 3}, None, {"channel": 15}),
        ({"song": 9}, None, {"song_select": True}),
        ({"channel": 15, "controller": 70}, None, {"channel": 15, "part_controller": 70}),
    ],
)
def test_a_trigger_that_is_mapped_twice_is_refused(
    first: dict[str, Any], second: dict[str, Any] | None, playback: dict[str, Any] | None
) -> None:
    """One press must never be two steps, nor a step and a song."""
    steps = [{"does": "next", **first}] + ([{"does": "safe", **second}] if second else [])

    (found,) = faults(steps=steps, **({"playback": playback} if playback else {}))

    assert "would do two things" in found


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ({"channel": 16, "note": 60}, {"channel": 15, "note": 60}),
        ({"channel": 16, "note": 60}, {"channel": 16, "controller": 60}),
        ({"song": 9, "listens": "pedal"}, {"song": 9, "listens": "keys"}),
    ],
)
def test_what_differs_may_do_different_things(first: dict[str, Any], second: dict[str, Any]) -> None:
    """Another channel, another kind of message, another port."""
    assert faults(steps=[{"does": "next", **first}, {"does": "back", **second}]) == []


def test_two_songs_of_a_gig_with_one_number_are_named_both() -> None:
    """A playback rig calls one number and would get one of the two, and nobody knows which."""
    songs = {"one": Song(number=7), "two": Song(number=7), "three": Song(number=8), "four": Song()}

    said = [str(fault) for fault in check_numbers(gig(*songs, "one"), songs)]

    assert said == [
        "a playback rig calls 'one' and 'two' by the same number 7. Give one of them another number, or none."
    ]
    assert list(check_numbers(gig("one", "three", "four", "one"), songs)) == []
    assert [str(fault) for fault in check_numbers(gig("one", spares=["two"]), songs)] == said


def test_a_port_that_the_sender_serves_is_not_sent_to_from_the_computer() -> None:
    """A unit that is told everything twice flips its toggling switches back."""
    with_sender = rig(
        "fuzz", "holder", units={"fuzz": {"port": "front", "channel": 2}}, sender={"unit": "holder", "ports": ["front"]}
    )

    (fault,) = check_sent_once(with_sender, {"front": "interface"}, "rig 'board'")

    assert str(fault) == (
        "rig 'board': stand and sender would both send to port 'front': the sender 'holder' serves it, and the MIDI "
        "port 'interface' is named for it. Leave it to the sender with --port \"front=\", or take the port from the "
        "rig's sender."
    )
    assert list(check_sent_once(with_sender, {"front": ""}, "")) == []
    assert list(check_sent_once(rig("fuzz"), {"front": "interface"}, "")) == []


def test_a_gig_whose_song_is_unknown_has_that_fault_alone() -> None:
    """What the gig's own check says is not said twice."""
    assert list(check_numbers(Gig.model_validate({"spares": ["gone"]}), {})) == []
