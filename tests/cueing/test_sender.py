"""What a sender stores: which lists, how they are numbered, when a second press is needed, and what has no room."""

from typing import Any

import pytest

from scenebook.cueing.cues import Action, Cue, CueList
from scenebook.cueing.sender_numbers import numbers
from scenebook.cueing.sender_presses import in_order
from scenebook.errors import BadValueError
from scenebook.model import Library, Unit
from tests.support.build import gig, library, rig, song, unit
from tests.support.compiling import on_port
from tests.support.senders import HOLDER, Stored, stored_in

DELAY = unit(
    switches={"main": {"message": {"controller": 80}}},
    controls={"mix": {"scale": "percent", "message": {"controller": 22}}},
)
MULTI = unit(
    preset=[
        {"slot": "1", "stores": {"boost": "on", "hum": "off"}},
        {"slot": "2", "stores": {"boost": "off", "hum": "off"}},
    ],
    programs={"count": 8, "first": "0", "settle_ms": 400, "silence_ms": 30},
    switches={"boost": {"message": {"controller": 70}}, "hum": {"foot": True}},
)
FLIP = unit(switches={"main": {"toggle": {"controller": 82}}})
BELL = unit(switches={}, triggers={"ring": {"note": 60}})


def gig_of(units: dict[str, Unit], /, *scenes: dict[str, Any], **of_rig: Any) -> Library:
    """Return a gig of one song "a", whose scenes 1, 2 and so on are played in order, and the first once more."""
    names = [str(number) for number, _ in enumerate(scenes, 1)]
    played = song(dict(zip(names, scenes, strict=True)), *({"scene": n, "bars": 8} for n in [*names, "1"]), tempo=120)
    return library(units, rig(*units, **{"units": on_port(*units), **of_rig}), {"a": played}, gig("a"))


def listed(found: Stored) -> list[tuple[str, str, list[str]]]:
    """Return each list as the sender shows it, its name, and its bytes."""
    return [(e.label, e.name, [m.data.hex(" ").upper() for m in e.messages]) for e in found.stored.lists]


def played(found: Stored) -> CueList:
    return in_order(found.library, found.lean, found.full, found.stored)


def presses(cue: Cue) -> list[str]:
    """Return what is pressed on the sender at a cue: "list 2 press 2 of 2"."""
    return [f"{move.member} {move.after}".strip() for move in cue.by_hand if move.unit == HOLDER]


def test_a_scene_that_comes_again_is_stored_once_and_home_comes_first() -> None:
    """A chorus is one list, however often it is played."""
    found = stored_in(gig_of({"delay": DELAY}, {"delay": "on"}, {"delay": {"main": "on", "mix": "100 %"}}), switches=2)

    assert listed(found) == [
        ("bank 1, switch 1", "home", ["B0 50 00"]),
        ("bank 2, switch 1", "a: 1", ["B0 50 7F"]),
        ("bank 2, switch 2", "a: 2", ["B0 16 7F", "B0 50 7F"]),
    ]
    assert found.stored.lists[1].cues == ("cue 1, a: 1", "cue 3, a: 1")
    assert [presses(cue) for cue in played(found).cues] == [
        ["bank 1, switch 1"], ["bank 2, switch 1"], ["bank 2, switch 2"], ["bank 2, switch 1"],
    ]  # fmt: skip


def test_without_banks_lists_are_counted_from_one() -> None:
    """As a unit that shows one number does."""
    found = stored_in(gig_of({"delay": DELAY}, {"delay": "on"}))

    assert [label for label, _, _ in listed(found)] == ["list 1", "list 2"]


@pytest.mark.parametrize(
    ("sizes", "count", "bank", "found"),
    [
        ([1, 2, 3], 12, 4, (0, 4, 5, 8, 9, 10)),  # each song starts a bank
        ([1, 2, 3], 11, 4, (0, 4, 5, 8, 9, 10)),
        ([1, 2, 3], 10, 4, (0, 1, 2, 4, 5, 6)),  # songs share banks, none changes bank inside
        ([3, 2, 3], 8, 4, (0, 1, 2, 3, 4, 5, 6, 7)),  # each follows the one before
        ([3, 2, 3], 7, 4, None),
        ([5, 1], 12, 4, (0, 1, 2, 3, 4, 8)),  # more than a bank
        ([2, 2], 4, None, (0, 1, 2, 3)),
        ([], 4, 2, ()),
    ],
)
def test_a_song_starts_a_bank_as_long_as_there_is_room(
    sizes: list[int], count: int, bank: int | None, found: tuple[int, ...] | None
) -> None:
    """A foot finds a song by its bank."""
    assert numbers(sizes, count, bank) == found


def test_what_follows_a_recall_that_settles_is_a_second_press() -> None:
    """A sender sends without pauses, and a unit that settles loses what comes."""
    found = stored_in(gig_of({"multi": MULTI}, {"multi": {"preset": "1", "boost": "off"}}, {"multi": "2"}))

    assert [(name, sent) for _, name, sent in listed(found)] == [
        ("home", ["C0 01"]), ("home, press 2", ["B0 46 00"]), ("a: 2", ["C0 02"]),
    ]  # fmt: skip
    cue = played(found).cues[1]
    assert [each.split(" ", 2)[2] for each in presses(cue)] == ["press 1 of 2", "press 2 of 2, 0.4 s later"]
    assert [message.at_us for message in cue.messages] == [0, 640 + 400_000]


def test_a_sender_that_holds_pauses_needs_one_press() -> None:
    """Where its unit says so, the list waits by itself."""
    scene = {"multi": {"preset": "1", "boost": "off"}}
    found = stored_in(gig_of({"multi": MULTI}, scene), pauses=True)

    (one,) = found.stored.lists  # home is reached best in that preset, too
    assert [(m.data.hex(" ").upper(), m.at_us) for m in one.messages] == [("C0 01", 0), ("B0 46 00", 400_640)]


def test_one_press_always_fits_and_two_need_time() -> None:
    """The time of the second press is counted: no bars are free before the cue."""
    scenes = {"delay": "on"}, {"multi": {"preset": "1", "boost": "off"}}
    found = stored_in(gig_of({"delay": DELAY, "multi": MULTI}, *scenes))

    late = [cue.late for cue in played(found).cues]
    assert late[2].startswith("late by 0.7 s")
    assert late[1] == "" == late[0]


def test_a_toggling_switch_has_a_list_that_flips_it() -> None:
    """A full list can promise nothing of it; so it is flipped where it stands otherwise, and only there."""
    found = stored_in(gig_of({"flip": FLIP, "delay": DELAY}, {"flip": "on"}, {"flip": "on", "delay": "on"}, {}))

    flips = [each for each in found.stored.lists if each.flips]
    assert [(each.name, each.flips, [m.data.hex() for m in each.messages]) for each in flips] == [
        ("flip flip", ("flip", "main"), ["b0527f"])
    ]
    pressed = [presses(cue) for cue in played(found).cues]
    assert [[each for each in some if "flip" in each] for some in pressed] == [
        [], ["list 2 flip on"], [], ["list 2 flip off"], ["list 2 flip on"],
    ]  # fmt: skip
    assert not any(m.unit == "flip" for each in found.stored.lists if not each.flips for m in each.messages)


def test_a_list_that_fires_something_says_that_it_fires_again() -> None:
    """A trigger belongs to its list; the note's release is the second press."""
    scene = {"units": {}, "triggers": ["bell.ring"]}
    found = stored_in(gig_of({"bell": BELL}, scene, scene, {}))

    assert [(name, sent) for _, name, sent in listed(found)] == [
        ("a: 1", ["90 3C 64"]), ("a: 1, press 2", ["80 3C 40"]),
    ]  # fmt: skip
    cues = played(found).cues
    assert [len(presses(cue)) for cue in cues] == [0, 2, 2, 0, 2]  # the same list again, since it fires
    assert cues[2].notes == ("list 1 fires bell ring: pressed again, it fires again",)


def test_what_a_recall_sets_back_is_set_again_by_foot_right_after_the_press() -> None:
    """A lean list stays in the preset, and so need not; a sender's list recalls it, which turns the hum off."""
    scenes = {"multi": {"preset": "1", "hum": "on"}}, {"multi": {"preset": "1", "hum": "on", "boost": "off"}}
    found = stored_in(gig_of({"multi": MULTI}, *scenes), pauses=True)

    assert [m.action for m in found.lean.cues[2].by_hand] == []
    moves = [(m.action, m.unit, m.member, m.before, m.after) for m in played(found).cues[2].by_hand]
    assert [move[:2] for move in moves] == [(Action.PRESS, HOLDER), (Action.PRESS, "multi")]
    assert moves[1][2:] == ("hum", "off", "on")
    assert played(found).cues[2].silence_us == 30_000  # it sounds before and after, and recalls


def test_ports_that_the_sender_does_not_serve_are_left_to_the_computer() -> None:
    """Each message is sent by one of the two."""
    units = {"delay": DELAY, "other": DELAY}
    places = {"delay": {"port": "front", "channel": 1}, "other": {"port": "wet", "channel": 1}}
    found = stored_in(gig_of(units, {"delay": "on", "other": "on"}, units=places), "front")

    assert {m.port for each in found.stored.lists for m in each.messages} == {"front"}
    assert [m.port for m in played(found).cues[1].messages] == ["wet", "front"]


def refused(of: Library, **holds: Any) -> str:
    with pytest.raises(BadValueError) as caught:
        stored_in(of, **holds)
    return str(caught.value)


def test_a_gig_with_too_many_lists_names_the_first_cue_without_one() -> None:
    """Found out at home, not at the last song."""
    of = gig_of({"delay": DELAY}, {"delay": "on"}, {"delay": {"main": "on", "mix": "100 %"}})

    assert refused(of, count=2) == (
        "gig 'gig': 3 lists are needed, and 'holder' holds 2: cue 2, a: 2 is the first without; accepted: up to 2 "
        "different lists. Fewer songs in the gig, or more scenes that are alike, need fewer lists."
    )


def test_a_list_with_too_many_messages_names_its_cue() -> None:
    """And what would help."""
    of = gig_of({"delay": DELAY}, {"delay": "on"}, {"delay": {"main": "on", "mix": "100 %"}})

    assert refused(of, messages=1) == (
        "gig 'gig': cue 2, a: 2 needs 2 messages in one list, and a list of 'holder' holds 1; accepted: up to 1 "
        "messages. Take units off the sender's ports, or let presets store what the scene says of them."
    )


def test_a_list_on_too_many_channels_names_its_cue() -> None:
    """Two units, two channels."""
    assert refused(gig_of({"delay": DELAY, "multi": DELAY}, {}), channels=1) == (
        "gig 'gig': home needs 2 channels in one list, and a list of 'holder' holds 1; accepted: up to 1 channels. "
        "Take units off the sender's ports, or let some of them share a channel."
    )


def test_a_sender_that_is_out_tonight_is_no_sender() -> None:
    """Said, and not passed over."""
    of = gig_of({"delay": DELAY, "holder": DELAY}, {}).model_dump()
    of["gigs"]["gig"]["out"] = ["holder"]

    assert "the sender 'holder' is out tonight" in refused(Library.model_validate(of))
