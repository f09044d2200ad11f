"""A described slot is listed for every scene that finds its sound in it, whether that names it or not."""

from collections.abc import Iterator, Mapping
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenebook.model import Library
from scenebook.planning.programming import SlotPlan, Use, programming
from scenebook.planning.sounds import sounds_of
from scenebook.sheets.plain_pages import Grid
from scenebook.sheets.programming_sheet import programming_pages
from tests.demo_library.reading import demo_library
from tests.planning.test_programming import MULTI, ON_PORT, SECTIONS, SILENCES, SONGS, multi, on, once, one_unit
from tests.support.build import GIG, RIG, gig, library, rig, song, unit


def used(slots: tuple[SlotPlan, ...]) -> Iterator[Use]:
    """Yield each scene for which a slot or one of its variants is there, gigs apart."""
    for slot in slots:
        for uses in (slot.uses, *(variant.uses for variant in slot.variants)):
            yield from (use._replace(gig="") for use in uses)


def asked(of: Library, name: str, unit: str) -> set[Use]:
    """Return each scene in which a unit of a rig is heard."""
    songs = sounds_of(of, name).by_unit[unit]
    return {
        Use(song, part.scene)
        for song, runs in songs.items()
        for run in runs
        for part in run.parts
        if part.sound is not None
    }


def test_a_described_slot_serves_scenes_that_do_not_name_it_and_says_so() -> None:
    """At the hotel a slot without a scene looks as if nothing needed it."""
    found = once(one_unit(multi(), one={"plain": on(), "loud": on("drive")}, two={"bare": on()}))

    assert [slot.uses for slot in found.kept] == [(Use("one", "plain"), Use("two", "bare"))]
    assert [slot.name for slot in found.slots] == ["one: loud"]


def test_scenes_that_name_a_slot_and_those_that_only_sound_like_it_stand_in_the_order_played() -> None:
    """Each once, although one is named with words of its own and gets a slot for them."""
    named, more = {MULTI: {"preset": "plain"}}, {MULTI: {"preset": "plain", "delay": "on"}}
    found = once(one_unit(multi(), one={"a": on(), "b": named, "c": more, "d": on()}))

    assert [slot.uses for slot in found.kept] == [tuple(Use("one", scene) for scene in "abcd")]
    assert [slot.uses for slot in found.slots] == [(Use("one", "c"),)]


def test_a_scene_that_finds_its_sound_in_a_variant_is_listed_there() -> None:
    """It is the variant that is reached."""
    which = multi(variants=1)
    loud = which.presets[0].variants["v0"].model_copy(update={"stores": {"drive": "on"}})
    which = which.model_copy(update={"presets": (which.presets[0].model_copy(update={"variants": {"v0": loud}}),)})

    (slot,) = once(one_unit(which, one={"loud": on("drive"), "plain": on()})).kept

    assert (slot.uses, slot.variants[0].uses) == ((Use("one", "plain"),), (Use("one", "loud"),))


def test_a_scene_that_sounds_otherwise_at_another_gig_is_listed_where_it_sounds_so() -> None:
    """One gig's sound is described, the other's is to be stored."""
    fuzz, by_multi = unit(switches={"main": {"foot": True}}), {"by": MULTI, "switch": "drive", "likeness": 0.5}
    board = rig("fuzz", MULTI, units=ON_PORT, stand_ins=[{"part": "fuzz", **by_multi}])
    of = library({"fuzz": fuzz, MULTI: multi()}, board, song({"all": {"fuzz": "on"}}))
    of = of.model_copy(update={"gigs": {GIG: gig("song"), "flown": gig("song", out=["fuzz"])}})

    found = once(of)

    assert [slot.uses for slot in found.kept] == [(Use("song", "all", GIG),)]
    assert [slot.uses for slot in found.slots] == [(Use("song", "all", "flown"),)]


@pytest.mark.parametrize("copies", [None, False, True])
@pytest.mark.parametrize("name", ["hall board", "fly board", "fly board, no MIDI", "studio wall"])
def test_every_scene_of_the_demo_is_listed_at_a_slot_or_has_none(name: str, copies: bool | None) -> None:
    """Where feet or messages take its sound from."""
    of = demo_library()
    for each in programming(of, name, copies=copies).units:
        listed = {*used(each.kept), *used(each.slots), *(use._replace(gig="") for use in each.no_room)}
        assert listed == asked(of, name, each.unit), each.unit


@settings(max_examples=100, deadline=None)
@given(st.data())
def test_once_all_is_described_no_scene_is_lost_from_the_sheet(data: st.DataObject) -> None:
    """Described slots say which scenes they serve, as they did when they were to be stored."""
    variants, silence = data.draw(st.integers(0, 2)), data.draw(SILENCES)
    songs: Any = data.draw(SONGS)
    of = one_unit(multi(count=60, variants=variants, silence_ms=silence), **songs)
    new = [
        {"slot": slot.label, "stores": dict(slot.stores), "variants": {
            each.name: {"controller": 60, "value": at, "stores": dict(each.stores)}
            for at, each in enumerate(slot.variants)}}
        for slot in once(of).slots
    ]  # fmt: skip
    which = of.units[MULTI]
    told = type(which).model_validate(
        {**which.model_dump(exclude_unset=True), "presets": [*which.model_dump(exclude_unset=True)["presets"], *new]}
    )

    found = once(of.model_copy(update={"units": {MULTI: told}}))

    assert set(used(found.kept)) | set(used(found.slots)) == asked(of, RIG, MULTI)


def stays(scene: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return slot and scenes of what stays where feet recall the unit in two songs of one scene."""
    which = multi().model_copy(update={"programs": multi().programs.model_copy(update={"foot": True})})  # type: ignore[union-attr]
    of = library({MULTI: which}, rig(MULTI), {"a": song({"all": scene}), "b": song({"all": scene})})
    page = programming_pages(programming(of, RIG), revision=1).pages[0]
    grid, _ = (block for block in page.blocks if isinstance(block, Grid))
    return [(row[1], row[4]) for row in grid.rows]


def test_a_slot_of_which_songs_have_copies_is_listed_for_their_scenes_too() -> None:
    """Feet that follow the sheet take the copy, and feet that follow the compiled gig the slot itself."""
    assert stays(on()) == [("1A", "a: all; b: all")]


def test_a_slot_without_a_scene_says_what_it_is_there_for() -> None:
    """To be copied, or for nothing here; a blank would look as if a scene had been forgotten."""
    assert stays(on("drive")) == [("1A", "to be copied: 2A")]
    assert stays({MULTI: dict.fromkeys(SECTIONS, "on")}) == [("1A", "no scene here")]


def test_no_row_ends_in_one_song_more() -> None:
    """The song itself is as short as that."""
    songs: Any = {f"song {n}": {"plain": on()} for n in range(5)}
    page = programming_pages(programming(one_unit(multi(), **songs), RIG), revision=1).pages[0]
    (grid,) = (block for block in page.blocks if isinstance(block, Grid))

    assert grid.rows[0][4] == "; ".join(f"song {n}: plain" for n in range(5))
