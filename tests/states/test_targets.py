"""Where a unit must stand in a scene: home, the layers of a target, what is left as it was (S2, S3, S6)."""

from typing import Any

import pytest

from scenebook.errors import BadValueError, LeaveError
from scenebook.model import Programs
from scenebook.model.checks import check_setting
from tests.support.build import gig, library, rig, song, unit
from tests.support.compiling import compiled, on_port, one_song, sent, stands

MULTI = unit(
    switches={name: {"message": {"controller": 80 + n}} for n, name in enumerate(["main", "chorus", "delay"])},
    controls={"mix": {"scale": "percent", "message": {"controller": 20}}},
    programs={"count": 8, "first": "0", "settle_ms": 10, "silence_ms": 40},
    preset=[
        {"slot": "0", "name": "plain", "stores": {"main": "on", "chorus": "off", "delay": "off", "mix": "10"}},
        {
            "slot": "1",
            "name": "wide",
            "stores": {"main": "on", "chorus": "on", "mix": "60"},
            "rest": "off",
            "variants": {"wider": {"controller": 90, "stores": {"mix": "90"}}},
        },
    ],
)


def states(*scenes: Any, home: Any = None) -> list[dict[str, str]]:
    cues = compiled(one_song({"multi": MULTI}, *({"multi": s} if s else {} for s in scenes), home=home or {}))
    return [stands(cue, "multi") for cue in cues]


def test_home_is_what_it_names_else_what_its_preset_stores_else_off() -> None:
    """A control of which nothing is said is free: nothing is assumed of it."""
    assert states() == [{"main": "off", "chorus": "off", "delay": "off"}]
    assert states(home={"multi": {"preset": "wide", "variant": "wider", "delay": "on"}}) == [
        {"preset": "1", "variant": "wider", "main": "on", "chorus": "on", "delay": "on", "mix": "90"}
    ]


def test_a_named_preset_goes_over_home_and_the_scene_over_the_preset() -> None:
    """Home's delay is off again, since the preset's rest is off; the variant's mix goes before the preset's."""
    home = {"multi": {"preset": "plain", "delay": "on"}}

    _, plain, wider = states({"preset": "plain"}, {"preset": "1", "variant": "wider", "chorus": "off"}, home=home)

    assert plain == {"preset": "0", "main": "on", "chorus": "off", "delay": "off", "mix": "10"}
    assert wider == {
        "preset": "1",
        "variant": "wider",
        "main": "on",
        "chorus": "off",
        "delay": "off",
        "mix": "90",
    }


def test_a_scene_that_names_members_alone_goes_over_home_and_leaves_the_preset_open() -> None:
    """Three settings differ from home's preset by one: it stays in it, and one message does."""
    home = {"multi": {"preset": "plain", "delay": "on"}}
    _, cue = compiled(one_song({"multi": MULTI}, {"multi": {"chorus": "on"}}, home=home))

    assert stands(cue, "multi") == {"preset": "0", "main": "on", "chorus": "on", "delay": "on", "mix": "10"}
    assert [state.named for state in cue.states] == [False]
    assert sent(cue) == ["0: B0 51 7F"]


def test_a_scene_that_names_nothing_of_a_unit_puts_it_home_in_homes_preset() -> None:
    """Every scene is whole: what the scene before asked for does not go on."""
    home = {"multi": {"preset": "plain"}}
    cues = compiled(one_song({"multi": MULTI}, {"multi": {"preset": "1"}}, {}, {"multi": {}}, home=home))

    assert stands(cues[2], "multi") == stands(cues[0], "multi") == stands(cues[3], "multi")
    assert [cue.states[0].named for cue in cues] == [True] * 4
    assert [sent(cue) for cue in cues[2:]] == [["0: C0 00"], []]


def test_a_scene_that_names_only_what_is_held_for_a_moment_names_nothing() -> None:
    """Pressing record has no state, so the looper stands as at home."""
    looper = unit(switches={"record": {"momentary": True}}, preset=[{"slot": "0"}, {"slot": "1"}])
    cues = compiled(one_song({"looper": looper}, {"looper": {"record": "hold"}}, home={"looper": {"preset": "1"}}))

    assert [cue.states[0].named for cue in cues] == [True, True]


# --- leave --------------------------------------------------------------------------------------------------------


def test_a_left_member_stays_as_it_was_at_the_cue_before() -> None:
    """The delay goes on into the next part, whatever that part says of the rest."""
    assert [
        s["delay"] for s in states({"delay": "on"}, {"chorus": "on", "delay": "leave"}, {"delay": "leave"}, {})
    ] == [
        "off",
        "on",
        "on",
        "on",
        "off",
    ]


def test_a_left_unit_gets_nothing() -> None:
    """Its whole target is that of the cue before, its preset and what was edited included."""
    cues = compiled(
        one_song({"multi": MULTI}, {"multi": {"preset": "1", "delay": "on"}}, {"multi": "leave"}, {"multi": "leave"})
    )

    assert stands(cues[2], "multi") == stands(cues[3], "multi") == stands(cues[1], "multi")
    assert [sent(cue) for cue in cues[2:]] == [[], []]
    assert cues[2].states[0].left == {"main", "chorus", "delay", "mix"}


def test_at_a_gigs_start_leave_means_home() -> None:
    """There is nothing before it that could be left."""
    home = {"multi": {"delay": "on"}}

    at_home, member, whole = states({"delay": "leave"}, "leave", home=home)

    assert at_home == member == whole == {"main": "off", "chorus": "off", "delay": "on"}


@pytest.mark.parametrize(("segue", "delay", "left"), [(False, "off", frozenset()), (True, "on", frozenset({"delay"}))])
def test_leave_carries_over_into_a_song_through_a_segue_alone(segue: bool, delay: str, left: frozenset[str]) -> None:
    """Between songs everything may have been touched; in a segue the tail rings on."""
    first = song({"end": {"multi": {"delay": "on"}}})
    second = song({"start": {"multi": {"delay": "leave"}}})
    songs = {"first": first, "second": second}
    of = library(
        {"multi": MULTI}, rig("multi", units=on_port("multi")), songs, gig({"song": "first", "segue": segue}, "second")
    )

    *_, last = compiled(of)

    assert stands(last, "multi")["delay"] == delay
    assert last.states[0].left == left


def test_a_left_member_is_sent_again_after_a_named_preset_and_the_cue_says_how_long_it_was_away() -> None:
    """The recall turns the delay off; 640 us of bytes, 10 ms of settling, 960 us of bytes, and it is on again."""
    *_, cue = compiled(
        one_song({"multi": MULTI}, {"multi": {"delay": "on"}}, {"multi": {"preset": "1", "delay": "leave"}})
    )

    assert sent(cue) == ["0: C0 01", "10.64: B0 52 7F"]
    assert cue.interrupted_us == 640 + 10_000 + 960


def test_a_left_member_that_the_preset_stores_so_is_not_sent_again() -> None:
    """The recall sets what it has already."""
    *_, cue = compiled(
        one_song({"multi": MULTI}, {"multi": {"chorus": "on"}}, {"multi": {"preset": "1", "chorus": "leave"}})
    )

    assert sent(cue) == ["0: C0 01"]
    assert cue.interrupted_us == 0


def test_after_a_recall_by_foot_a_left_member_is_away_from_the_cue_on() -> None:
    """The foot comes down on the cue; the message follows."""
    by_foot = Programs(count=8, first="0", settle_ms=10, program_change=False, foot=True)
    multi = MULTI.model_copy(update={"programs": by_foot})
    *_, cue = compiled(
        one_song({"multi": multi}, {"multi": {"delay": "on"}}, {"multi": {"preset": "1", "delay": "leave"}})
    )

    assert sent(cue) == ["0: B0 52 7F"]
    assert cue.interrupted_us == 960


def test_leaving_a_unit_and_naming_its_preset_is_an_error() -> None:
    """It cannot stay as it was and be recalled."""
    faults = [str(fault) for fault in check_setting(MULTI, {"leave": "unit", "preset": "1"}, None)]

    assert faults == [
        "the unit is left as it is, and something of it is set too. Leave the unit, or leave single members of it by "
        "name."
    ]
    assert [type(f) for f in check_setting(MULTI, {"leave": "unit", "preset": "1"}, None)] == [LeaveError]


def test_a_value_off_its_scale_says_where_it_stands() -> None:
    """Song, scene, unit and control."""
    with pytest.raises(BadValueError) as caught:
        states({"mix": "120"})

    assert str(caught.value) == (
        "song 'song', scene '1', unit 'multi', control 'mix': '120' is not on the scale 'percent'; accepted: a "
        "percentage from 0 to 100, such as 40 %."
    )
