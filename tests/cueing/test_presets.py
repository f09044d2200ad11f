"""When a preset is recalled, what is known after it, and which way is cheapest (S4, S5, C1, C2, C3)."""

from typing import Any

import pytest

from scenebook.errors import NoWayError, SettleError, UnsaidError
from scenebook.model import Unit
from tests.support.build import unit
from tests.support.compiling import compiled, hands, one_song, sent, stands

ABC = "abc"


def multi(*presets: dict[str, Any], ways: dict[str, Any] | None = None, **programs: Any) -> Unit:
    """Return a unit with sections a, b and c on controllers 1 to 3, presets in slots from 0, and 1 ms of settling."""
    by_message = {name: {"message": {"controller": number}} for number, name in enumerate(ABC, 1)}
    return unit(
        switches={name: (ways or {}).get(name, way) for name, way in by_message.items()},
        preset=[{"slot": str(number), **preset} for number, preset in enumerate(presets)],
        programs={"count": 128, "first": "0", "settle_ms": 1, **programs},
    )


def stores(on: str, **more: Any) -> dict[str, Any]:
    return {"stores": all_three(on), **more}


def all_three(on: str) -> dict[str, str]:
    return {name: "on" if name in on else "off" for name in ABC}


def played(of: Unit, *scenes: Any, home: Any = None, midi: bool = True) -> list[list[str]]:
    """Return what is sent and done at each cue after home."""
    cues = compiled(one_song({"multi": of}, *({"multi": s} for s in scenes), home=home or {}, midi=midi))
    return [sent(cue) + hands(cue) for cue in cues[1:]]


TWO = multi(stores("a"), stores("abc"))


def test_a_named_preset_is_recalled_unless_the_unit_is_in_it() -> None:
    """Later edits do not end a preset: the second time only the edit is taken back."""
    moves = played(TWO, {"preset": "1"}, {"preset": "1", "a": "off"}, {"preset": "1"}, {"preset": "0"})

    assert moves == [["0: C0 01"], ["0: B0 01 00"], ["0: B0 01 7F"], ["0: C0 00"]]


def test_a_recall_may_be_cheaper_than_what_it_takes_back() -> None:
    """Three edits are 2,880 us; two bytes and a settling of 1 ms are 1,640."""
    moves = played(TWO, {"preset": "1"}, {"preset": "1", **all_three("")}, {"preset": "1"})

    assert moves[2] == ["0: C0 01"]


def test_after_a_recall_what_only_other_presets_store_is_unknown_and_sent() -> None:
    """Nobody knows what slot 1 does with c, so c is sent even though it was off before."""
    of = multi(stores(""), {"stores": {"a": "on", "b": "off"}}, settle_ms=5)

    assert played(of, {"preset": "1"}, home={"multi": {"preset": "0"}}) == [["0: C0 01", "5.64: B0 03 00"]]


def test_with_rest_off_what_other_presets_store_is_off() -> None:
    """The preset says so, and nothing need be sent."""
    of = multi(stores("c"), {"stores": {"a": "on"}, "rest": "off"}, settle_ms=5)

    assert played(of, {"preset": "1"}, home={"multi": {"preset": "0"}}) == [["0: C0 01"]]


def test_what_no_preset_stores_stays_through_a_recall() -> None:
    """A switch of its own beside the presets."""
    of = multi({"stores": {"a": "on"}}, {"stores": {"a": "off"}})

    moves = played(of, {"preset": "0", "c": "on"}, {"preset": "1", "c": "on"}, home={"multi": {"preset": "0"}})

    assert moves == [["0: B0 03 7F"], ["0: C0 01"]]


def test_a_knob_of_which_nothing_was_said_may_be_set_beside_a_recall() -> None:
    """It is free, not unknown: no preset moves it, and a hand can turn it."""
    of = unit(switches={}, controls={"gain": "0 to 10"}, preset=[{"slot": "0"}])

    assert played(of, {"preset": "0", "gain": "7"}) == [["0: C0 00", "turn multi gain 7, before the first song"]]


@pytest.mark.parametrize("way", [{"foot": True}, {"hand": True}, {"toggle": {"controller": 9}}])
def test_what_is_unknown_and_no_explicit_message_sets_is_an_error(way: dict[str, Any]) -> None:
    """A press on a switch that may be on already turns it off."""
    of = multi(stores("c"), {"stores": {"a": "on", "b": "off"}}, ways={"c": way})

    with pytest.raises(UnsaidError) as caught:
        played(of, {"preset": "1"})

    assert str(caught.value) == (
        "song 'song', scene '1', unit 'multi': after recalling '1' nobody knows how 'c' stands. Write it into that "
        "preset's stores, or give the preset rest: off."
    )


def test_what_a_recall_made_unknown_while_the_unit_was_silent_is_an_error_when_it_sounds() -> None:
    """Knobs of a silent unit wait, and then nobody knows where this one stands."""
    of = unit(
        switches={"main": {"message": {"controller": 1}}},
        controls={"gain": {"scale": "0 to 10"}},
        preset=[{"slot": "0", "stores": {"gain": "3"}}, {"slot": "1", "name": "blank"}],
        programs={"count": 2, "first": "0", "settle_ms": 0},
    )

    with pytest.raises(UnsaidError) as caught:
        played(of, {"preset": "1", "gain": "3"}, {"preset": "1", "main": "on", "gain": "3"})

    assert str(caught.value) == (
        "song 'song', scene '2', unit 'multi': after recalling '1 blank' nobody knows how 'gain' stands. Write it "
        "into that preset's stores."
    )


def test_a_message_after_a_recall_needs_the_settle_time() -> None:
    """It would be lost, and nobody could say when to send it."""
    of = multi(stores("a"), stores("b"), settle_ms=None)

    assert played(of, {"preset": "1"}) == [["0: C0 01"]]
    with pytest.raises(SettleError) as caught:
        played(of, {"preset": "1", "c": "on"})

    assert str(caught.value) == (
        "song 'song', scene '1', unit 'multi': a message follows the recall of '1', and no settle time is known. Write "
        "settle_ms into the unit's programs."
    )


def test_without_a_settle_time_a_recall_may_go_out_one_cue_after_the_messages() -> None:
    """Where nothing new is asked there is room for it, so that the preset named next is there already."""
    of = unit(
        switches={"a": {"message": {"controller": 1}}, "b": {"message": {"controller": 2}}},
        preset=[{"slot": "0", "stores": {"a": "on"}}, {"slot": "1", "stores": {"a": "on"}}],
        programs={"count": 2, "first": "0"},
    )
    playing = {"a": "on", "b": "on"}

    moves = played(of, playing, playing, {"preset": "1"})

    assert moves == [["0: B0 01 7F", "0.96: B0 02 7F"], ["0: C0 01"], ["0: B0 02 00"]]


def test_an_error_gives_its_own_reason_and_none_of_an_earlier_cue() -> None:
    """At the first cue a recall was refused for c, which did no harm; what fails is d at the second."""
    switches = {**{n: {"message": {"controller": i}} for i, n in enumerate("ab", 1)}, "c": {"foot": True}, "d": {}}
    presets = [
        {"slot": "0", "stores": {**all_three("abc"), "d": "on"}},
        {"slot": "1", "stores": {"a": "on", "d": "off"}},
    ]
    of = unit(switches=switches, preset=presets)

    with pytest.raises(NoWayError) as caught:
        played(
            of, {**all_three("a"), "c": "on", "d": "on"}, {"preset": "0", "d": "off"}, home={"multi": {"preset": "0"}}
        )

    assert str(caught.value) == (
        "song 'song', scene '2', unit 'multi': nothing works 'd' on this rig. Name a preset that stores it so, or say "
        "in the unit how it is worked."
    )


# --- an open preset -----------------------------------------------------------------------------------------------


def test_an_open_preset_is_chosen_where_it_is_cheaper_than_messages() -> None:
    """Three switches against one recall; where settling takes long, the switches."""
    assert played(TWO, all_three("abc"), home={"multi": all_three("")})[0] == ["0: C0 01"]
    slow = multi(stores("a"), stores("abc"), settle_ms=50)
    assert played(slow, all_three("abc"), home={"multi": all_three("")})[0] == [
        "0: B0 01 7F",
        "0.96: B0 02 7F",
        "1.92: B0 03 7F",
    ]


def test_the_whole_gig_is_looked_at_and_not_the_cue_alone() -> None:
    """One message were cheaper for now; but the preset is named next, and is recalled once in either case."""
    of, home = multi(stores("ab"), stores("abc"), settle_ms=2), {"multi": {"preset": "1"}}

    assert played(of, all_three("ab"), home=home) == [["0: B0 03 00"]]
    assert played(of, all_three("ab"), {"preset": "0"}, home=home) == [["0: C0 00"], []]


def test_a_recall_is_not_chosen_if_it_moves_what_the_scene_leaves_or_leaves_free() -> None:
    """What is left must not be interrupted, and what is free is not ours to move."""
    free = unit(
        switches=TWO.model_dump()["switches"],
        controls={"level": {"scale": "percent", "message": {"controller": 20}}},
        preset=[{"slot": "1", "stores": {**all_three("abc"), "level": "50"}}],
    )

    assert played(TWO, all_three(""), {**all_three("abc"), "c": "leave"})[1] == ["0: B0 01 7F", "0.96: B0 02 7F"]
    assert len(played(free, all_three("abc"), home={"multi": all_three("")})[0]) == 3
    assert played(free, {**all_three("abc"), "level": "50"}, home={"multi": all_three("")})[0] == ["0: C0 01"]


def test_among_equals_it_stays_before_it_reaches_a_variant_and_recalls_the_lower_program() -> None:
    """The same evening gives the same list."""
    assert played(multi(stores("a"), stores("abc"), stores("abc")), all_three("abc"), home={"multi": all_three("")})[
        0
    ] == ["0: C0 01"]
    even = multi({"stores": all_three("a"), "variants": {"more": {"controller": 9, "stores": {"b": "on"}}}})
    assert played(even, {"preset": "0"}, all_three("ab"))[1] == ["0: B0 02 7F"]


def test_a_unit_that_ignores_its_current_program_is_recalled_by_way_of_another() -> None:
    """To take back three edits it must leave the preset first; and at home nobody knows where it is."""
    of = multi(stores("a"), stores("abc"), repeat="ignored", settle_ms=0.1)
    home, cue, edited, again = compiled(
        one_song(
            {"multi": of},
            {"multi": "1"},
            {"multi": {"preset": "1", **all_three("")}},
            {"multi": "1"},
            home={"multi": {"preset": "0"}},
        )
    )

    assert [sent(each) for each in (home, cue, again)] == [
        ["0: C0 01", "0.74: C0 00"],
        ["0: C0 01"],
        ["0: C0 00", "0.74: C0 01"],
    ]
    assert len(sent(edited)) == 3


# --- variants -----------------------------------------------------------------------------------------------------

VARIED = multi(
    stores(
        "a",
        variants={"more": {"controller": 9, "stores": {"b": "on"}}, "most": {"controller": 10, "stores": {"c": "on"}}},
    ),
    stores("c"),
    settle_ms=4,
)


def test_a_variant_is_reached_inside_its_preset_by_its_own_message() -> None:
    """With a recall before it where the unit is elsewhere, after settling."""
    scenes = {"preset": "0", "variant": "more"}, {"preset": "0", "variant": "most"}, {"preset": "0"}

    moves = played(VARIED, *scenes, home={"multi": {"preset": "1"}})

    assert moves == [["0: C0 00", "4.64: B0 09 7F"], ["0: B0 0A 7F"], ["0: C0 00"]]


def test_a_preset_named_alone_is_recalled_out_of_its_variant() -> None:
    """What a variant changes may be more than its stores tell."""
    quiet = multi(stores("a", variants={"same": {"controller": 9}}))

    assert played(quiet, {"preset": "0", "variant": "same"}, {"preset": "0"})[1] == ["0: C0 00"]


def test_a_variant_reached_again_takes_back_what_was_edited_in_it() -> None:
    """Three bytes for three switches."""
    edited = {"preset": "0", "variant": "more", "a": "off", "b": "off"}

    assert played(VARIED, {"preset": "0", "variant": "more"}, edited, {"preset": "0", "variant": "more"})[2] == [
        "0: B0 09 7F"
    ]


def test_a_variant_leaves_alone_what_neither_it_nor_its_preset_stores() -> None:
    """Even with rest: off, which holds for the recall: a switch that another preset stores stays as it was edited."""
    of = multi(
        {"stores": {"a": "on"}, "rest": "off", "variants": {"more": {"controller": 9, "stores": {"b": "on"}}}},
        stores("c"),
    )

    assert played(of, {"preset": "0", "c": "on"}, {"preset": "0", "variant": "more"})[1] == [
        "0: B0 09 7F",
        "0.96: B0 03 00",
    ]


def test_a_variant_reached_by_foot_needs_no_settle_time() -> None:
    """No message follows: the player looks, and steps on it."""
    presets: list[dict[str, Any]] = [{"slot": "0", "variants": {"more": {"foot": True}}}, {"slot": "1"}]
    of = unit(switches={}, preset=presets, programs={"count": 2, "first": "0"})

    assert played(of, {"preset": "0", "variant": "more"}, home={"multi": {"preset": "1"}}) == [
        ["0: C0 00", "press multi variant more, before the first song"]
    ]


# --- banks --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("bank_select", "first_bank", "messages"),
    [
        ("msb", 0, ["0: B0 00 01", "0.96: C0 02"]),
        ("lsb", 0, ["0: B0 20 01", "0.96: C0 02"]),
        ("both", 130, ["0: B0 00 01", "0.96: B0 20 03", "1.92: C0 02"]),
    ],
)
def test_bank_select_goes_with_every_program_change(bank_select: str, first_bank: int, messages: list[str]) -> None:
    """Slot 130 is program 2 of the bank after the first; the bank is sent even where it has not changed."""
    programs = {"count": 256, "first": "0", "settle_ms": 0, "bank_select": bank_select, "first_bank": first_bank}
    of = unit(switches={}, preset=[{"slot": "130"}, {"slot": "131"}], programs=programs)

    again = [message.replace("C0 02", "C0 03") for message in messages]
    assert played(of, {"preset": "130"}, {"preset": "131"}) == [messages, again]


def test_banks_are_counted_in_the_cost() -> None:
    """Eight bytes and no settling are 2,560 us, more than two switches, less than three."""
    of = multi(stores(""), stores("abc"), settle_ms=0, bank_select="both")

    assert played(of, all_three("ab"), home={"multi": all_three("")})[0] == ["0: B0 01 7F", "0.96: B0 02 7F"]
    assert len(played(of, all_three("abc"), home={"multi": all_three("")})[0]) == 3
    assert (
        stands(
            compiled(one_song({"multi": of}, {"multi": all_three("abc")}, home={"multi": all_three("")}))[1], "multi"
        )["preset"]
        == "1"
    )
