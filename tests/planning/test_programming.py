"""What to store in a programmable unit: slots follow the set, songs start banks, holes become variants."""

from collections.abc import Mapping
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenebook.cueing.compile import compile_gig
from scenebook.model import Gig, Library, Unit
from scenebook.planning.programming import Programming, SlotPlan, UnitProgramming, Use, programming
from scenebook.planning.slots import Thrift
from tests.demo_library.reading import demo_library
from tests.support.build import GIG, RIG, gig, library, rig, song, unit

MULTI = "multi"
SECTIONS = ("drive", "chorus", "delay", "reverb")
ON_PORT = {MULTI: {"port": "front", "channel": 1}}


def multi(*, count: int = 30, variants: int = 0, silence_ms: float = 0, **more: Any) -> Unit:
    """Return a multi-effects with banks of three; its only preset, 1A, stores every section, and its variants none."""
    switches = {name: {"message": {"controller": 70 + at}} for at, name in enumerate(SECTIONS)}
    ways = {f"v{at}": {"controller": 60, "value": at} for at in range(variants)}
    preset = {"slot": "1A", "name": "plain", "stores": dict.fromkeys(SECTIONS, "off"), "variants": ways}
    programs = {"count": count, "first": "1A", "bank_of": 3, "settle_ms": 20, "silence_ms": silence_ms}
    return unit(preset=[preset], switches=switches, programs=programs, **more)


def on(*names: str) -> Mapping[str, Any]:
    """Return a scene in which these sections are on and the others off."""
    return {MULTI: {name: "on" if name in names else "off" for name in SECTIONS}}


def planned(of: Library, *gigs: str) -> UnitProgramming:
    (found,) = programming(of, RIG, gigs, copies=True).units
    return found


def one_unit(which: Unit, of_gig: Gig | None = None, **songs: Mapping[str, Any]) -> Library:
    board = rig(MULTI, units=ON_PORT)
    return library({MULTI: which}, board, {name: song(scenes) for name, scenes in songs.items()}, of_gig)


def labels(slots: tuple[SlotPlan, ...]) -> list[tuple[str, str]]:
    return [(slot.label, slot.name) for slot in slots]


TWO, ONE = {"verse": on("drive"), "chorus": on("drive", "delay")}, {"all": on("reverb")}


def test_slots_follow_the_set_and_each_song_starts_a_bank() -> None:
    """Between songs a foot steps one bank up; inside a song it never does. What the library describes stays."""
    found = planned(one_unit(multi(), gig("second", "first"), first=TWO, second=ONE))

    assert labels(found.slots) == [("2A", "second: all"), ("3A", "first: verse"), ("3B", "first: chorus")]
    assert [(kept.label, kept.kept) for kept in found.kept] == [("1A", True)]
    assert found.thrift is Thrift.BANKS
    assert found.split == ()


def test_a_slot_says_what_it_stores_and_for_which_scenes() -> None:
    """At the hotel nobody wants to look a value up in another list."""
    first, second = planned(one_unit(multi(), song=TWO)).slots

    assert first.stores == {"drive": "on", "chorus": "off", "delay": "off", "reverb": "off"}
    assert first.uses == (Use("song", "verse"),)
    assert second.stores["delay"] == "on"


def test_the_same_sound_stands_in_every_song_that_wants_it() -> None:
    """Copies are welcome: a slot is cheaper than a walk."""
    found = planned(one_unit(multi(), first=TWO, second=TWO))

    assert labels(found.slots) == [
        ("2A", "first: verse"), ("2B", "first: chorus"), ("3A", "second: verse"), ("3B", "second: chorus"),
    ]  # fmt: skip


def test_spare_songs_and_house_sounds_come_last() -> None:
    """They may follow anything, so they stand where the set ends."""
    of_gig = gig("played", spares=["spare"], house="house")

    found = planned(one_unit(multi(), of_gig, house=ONE, spare=ONE, played=ONE))

    assert [slot.name for slot in found.slots] == ["played: all", "spare: all", "house: all"]


def test_a_song_in_which_the_unit_is_not_heard_takes_no_slot() -> None:
    """Its main switch is off throughout: nobody hears what is stored."""
    which = multi(count=9)
    heard = which.model_copy(update={"switches": {"main": which.switches["drive"], **which.switches}})

    found = planned(one_unit(Unit.model_validate(heard.model_dump()), off={"all": {}}, heard={"all": {MULTI: "on"}}))

    assert [slot.name for slot in found.slots] == ["heard: all"]


def test_where_a_recall_would_be_heard_the_sound_becomes_a_variant() -> None:
    """A variant is reached without a hole; it stores only what changes, and says by which message it is reached."""
    found = planned(one_unit(multi(variants=1, silence_ms=40), song=TWO))

    (slot,) = found.slots
    (variant,) = slot.variants
    assert (variant.name, variant.stores) == ("chorus", {"delay": "on"})
    assert variant.way == "controller 60, value 0"
    assert found.holes == ()


def test_without_variants_the_hole_stays_and_is_told() -> None:
    """It comes twice: there and back."""
    scenes = song({"verse": on("drive"), "chorus": on("delay")}, "verse", "chorus", "verse")
    of = library({MULTI: multi(silence_ms=40)}, rig(MULTI, units=ON_PORT), scenes)

    holes = [(hole.before, hole.after, hole.ms, hole.times) for hole in planned(of).holes]

    assert holes == [("verse", "chorus", 40.0, 1), ("chorus", "verse", 40.0, 1)]


def test_where_nothing_is_heard_of_a_recall_slots_are_spent_freely() -> None:
    """A variant hides inside a slot; where no hole asks for one, a slot shows on the display."""
    found = planned(one_unit(multi(variants=3), song=TWO))

    assert len(found.slots) == 2
    assert all(not slot.variants for slot in found.slots)


def test_few_variants_go_where_most_holes_are() -> None:
    """Verse and chorus change four times, the coda comes once."""
    scenes = {"verse": on("drive"), "chorus": on("delay"), "coda": on("reverb")}
    form = ["verse", "chorus", "verse", "chorus", "verse", "coda"]
    of = library({MULTI: multi(variants=1, silence_ms=40)}, rig(MULTI, units=ON_PORT), song(scenes, *form))

    found = planned(of)

    assert [(slot.name, [v.name for v in slot.variants]) for slot in found.slots] == [
        ("song: verse", ["chorus"]),
        ("song: coda", []),
    ]
    assert [(hole.before, hole.after) for hole in found.holes] == [("verse", "coda")]


FIVE = {str(at): on(*(name for bit, name in enumerate(SECTIONS) if at >> bit & 1)) for at in range(1, 6)}


def test_a_song_with_more_sounds_than_a_bank_is_told() -> None:
    """No layout can keep five sounds in a bank of three."""
    found = planned(one_unit(multi(), long=FIVE, next=ONE))

    assert found.split == ("long",)
    assert [slot.label for slot in found.slots] == ["2A", "2B", "2C", "3A", "3B", "4A"]


def test_variants_keep_a_long_song_in_one_bank() -> None:
    """Three slots and two variants are five sounds."""
    found = planned(one_unit(multi(variants=2), long=FIVE))

    assert found.split == ()
    assert len(found.slots) == 3
    assert sum(len(slot.variants) for slot in found.slots) == 2


def test_where_banks_run_out_songs_share_them_and_none_changes_bank_inside() -> None:
    """Nine slots, one described: two songs with one sound and two with two fit banks of three."""
    songs: dict[str, Any] = {
        "a": ONE,
        "b": TWO,
        "c": {"x": on("chorus")},
        "d": {"x": on("drive"), "y": on("chorus", "delay")},
    }
    found = planned(one_unit(multi(count=9), **songs))

    assert found.thrift is Thrift.PACKED
    assert [slot.label for slot in found.slots] == ["1B", "2A", "2B", "2C", "3A", "3B"]
    assert found.split == ()


def test_where_slots_run_out_each_sound_is_stored_once() -> None:
    """Three songs of the same three sounds in a unit that has three slots left."""
    three = {"a": on("drive"), "b": on("delay"), "c": on("reverb")}
    found = planned(one_unit(multi(count=6), one=three, two=three, other=dict(reversed(three.items()))))

    assert found.no_room == ()
    assert len(found.slots) == 3
    assert found.slots[0].uses == (Use("one", "a"), Use("two", "a"), Use("other", "a"))


def test_what_finds_no_slot_is_named() -> None:
    """Nothing is left out in silence, and nothing that the library describes is stored over."""
    found = planned(one_unit(multi(count=3), long=FIVE))

    assert [slot.label for slot in found.slots] == ["1B", "1C"]
    assert found.no_room == (Use("long", "3"), Use("long", "4"), Use("long", "5"))


def test_a_described_preset_serves_where_slots_run_out() -> None:
    """A sound that is there already needs no slot."""
    found = planned(one_unit(multi(count=3), long={"plain": on(), **FIVE}))

    assert Use("long", "plain") not in found.no_room


def test_a_scene_that_names_a_preset_gets_a_copy_with_its_own_words() -> None:
    """A preset may be more than its stores tell, so the slot begins as a copy."""
    (slot,) = planned(one_unit(multi(), song={"all": {MULTI: {"preset": "plain", "delay": "on"}}})).slots

    assert slot.copy_of == "1A plain"
    assert slot.stores["delay"] == "on"


def test_a_note_value_is_stored_as_the_ms_of_the_songs_tempo() -> None:
    """A preset has no tempo: an eighth at 120 quarters a minute is 250 ms."""
    time = {"scale": "note value", "message": {"controller": 20, "range": ["20 ms", "1500 ms"]}}
    preset = {"slot": "0", "stores": {"time": "400 ms"}}
    delay = unit(preset=[preset], switches={}, controls={"time": time})
    of_song = song({"all": {MULTI: {"time": "1/8"}}}, tempo=120)

    (slot,) = planned(library({MULTI: delay}, rig(MULTI, units=ON_PORT), of_song)).slots

    assert slot.stores == {"time": "250 ms"}


def test_a_scene_that_sounds_otherwise_at_another_gig_says_at_which() -> None:
    """A unit that is out has its part played elsewhere, so that one scene is two sounds."""
    fuzz, board = unit(switches={"main": {"foot": True}}), rig("fuzz", MULTI, units=ON_PORT, stand_ins=[
        {"part": "fuzz", "by": MULTI, "switch": "drive", "likeness": 0.5}])  # fmt: skip
    of = library({"fuzz": fuzz, MULTI: multi()}, board, song({"all": {"fuzz": "on"}}))
    of = of.model_copy(update={"gigs": {**of.gigs, "flown": of.gigs[GIG].model_copy(update={"out": ("fuzz",)})}})

    found = planned(of)

    assert [slot.uses for slot in found.slots] == [(Use("song", "all", GIG),), (Use("song", "all", "flown"),)]
    assert [slot.uses for slot in planned(of, "flown").slots] == [(Use("song", "all"),)]


def test_units_whose_presets_nothing_recalls_are_left_out() -> None:
    """Without a channel, and with neither foot nor hand, no slot can be reached."""
    of = library({MULTI: multi()}, rig(MULTI), song(ONE))

    found = programming(of, RIG)

    assert (found.units, found.without) == ((), (MULTI,))


def once(of: Library) -> UnitProgramming:
    """Return what is stored where it is not said how: messages recall the unit, so nobody walks."""
    (found,) = programming(of, RIG).units
    return found


def test_where_messages_recall_each_sound_is_stored_once_as_first_played() -> None:
    """No foot passes a slot on the way, so a copy buys nothing."""
    found = once(one_unit(multi(), gig("b", "a"), a=TWO, b={"x": on("reverb"), **TWO}))

    assert labels(found.slots) == [("1B", "b: x"), ("1C", "b: verse"), ("2A", "b: chorus")]
    assert found.slots[1].uses == (Use("b", "verse"), Use("a", "verse"))
    assert (found.thrift, found.by_message, found.split) == (Thrift.FEWEST, True, ())


def test_where_feet_recall_songs_get_copies_and_the_other_way_is_counted() -> None:
    """The player sees what each way costs."""
    which = multi().model_copy(update={"programs": multi().programs.model_copy(update={"foot": True})})  # type: ignore[union-attr]
    of = library({MULTI: which}, rig(MULTI), {"a": song(TWO), "b": song(TWO)})

    found = once(of)

    assert (len(found.slots), found.copies, found.once, found.by_message) == (4, 2, 2, False)


def test_a_described_preset_serves_every_scene_that_asks_for_just_that() -> None:
    """What is there already is not stored again."""
    found = once(one_unit(multi(), song={"plain": on(), "loud": on("drive")}))

    assert [slot.name for slot in found.slots] == ["song: loud"]


def test_a_slot_with_a_variant_serves_a_song_that_wants_one_of_the_two() -> None:
    """The sound alone needs no slot of its own."""
    found = once(one_unit(multi(variants=1, silence_ms=40), one=TWO, two={"verse": on("drive")}))

    (slot,) = found.slots
    assert slot.uses == (Use("one", "verse"), Use("two", "verse"))
    assert [variant.uses for variant in slot.variants] == [(Use("one", "chorus"),)]


@settings(max_examples=100, deadline=None)
@given(st.data())
def test_stored_once_no_two_slots_are_the_same(data: st.DataObject) -> None:
    """Each scene finds its sound, and nothing is stored twice."""
    songs: dict[str, Any] = data.draw(SONGS)
    of = one_unit(multi(count=60, variants=data.draw(st.integers(0, 2)), silence_ms=data.draw(SILENCES)), **songs)

    found = once(of)

    asked = {(name, scene): of.songs[name].scenes[scene].units[MULTI] for name, s in songs.items() for scene in s}
    stored = dict(_stored(found))
    assert found.no_room == ()
    assert {key: setting for key, setting in asked.items() if key in stored} == stored
    assert all(set(setting.values()) == {"off"} for key, setting in asked.items() if key not in stored)
    plain = [tuple(slot.stores.items()) for slot in found.slots if not slot.variants]
    assert len(plain) == len(set(plain))


SILENCES = st.sampled_from([0, 40])
SOUNDS = st.sets(st.sampled_from(SECTIONS)).map(lambda names: on(*sorted(names)))
SONGS = st.dictionaries(
    st.sampled_from("abcdefgh"), st.dictionaries(st.sampled_from("123456"), SOUNDS, min_size=1), min_size=1, max_size=8
)


@settings(max_examples=150, deadline=None)
@given(SONGS, st.integers(1, 40), st.integers(0, 3), st.sampled_from([0, 40]))
def test_every_scene_finds_its_sound_or_is_named(
    songs: dict[str, Any], count: int, variants: int, silence_ms: float
) -> None:
    """Whatever the set, no slot is given twice, none is over a described one, and what is stored is what is asked."""
    of = one_unit(multi(count=count, variants=variants, silence_ms=silence_ms), **songs)
    found = planned(of)

    slots = [slot.slot for slot in found.slots]
    assert slots == sorted(set(slots))
    assert 0 not in slots
    assert all(slot < count for slot in slots)
    asked = {(name, scene): of.songs[name].scenes[scene].units[MULTI] for name, s in songs.items() for scene in s}
    stored = dict(_stored(found))
    for (name, scene), setting in asked.items():
        if Use(name, scene) not in found.no_room and (name, scene) in stored:
            assert stored[name, scene] == setting
    unstored = asked.keys() - stored.keys() - {(use.song, use.scene) for use in found.no_room}
    assert all(set(asked[key].values()) == {"off"} for key in unstored)  # the described preset serves them
    if found.thrift in (Thrift.BANKS, Thrift.PACKED):
        _no_bank_changes_inside(found)


def _stored(found: UnitProgramming) -> list[tuple[tuple[str, str], Mapping[str, str]]]:
    plain = [((use.song, use.scene), slot.stores) for slot in found.slots for use in slot.uses]
    return plain + [
        ((use.song, use.scene), {**slot.stores, **variant.stores})
        for slot in found.slots
        for variant in slot.variants
        for use in variant.uses
    ]


def _no_bank_changes_inside(found: UnitProgramming) -> None:
    banks: dict[str, set[int]] = {}
    for slot in found.slots:
        uses = [*slot.uses, *(use for variant in slot.variants for use in variant.uses)]
        for use in uses:
            banks.setdefault(use.song, set()).add(slot.slot // 3)
    assert {name for name, own in banks.items() if len(own) > 1} == set(found.split)


@pytest.mark.parametrize("name", ["hall board", "fly board", "fly board, no MIDI", "studio wall"])
def test_the_demo_rigs_store_what_the_compiled_cues_ask_for(name: str) -> None:
    """What is stored and what is compiled come from the same standings: each cue's values are those of its slot."""
    of = demo_library()
    for gig_name in of.gigs:
        plan: Programming = programming(of, name, [gig_name])
        cues = compile_gig(of, gig_name, name).cues[1:]
        for each in plan.units:
            words = dict(_stored(each))
            for cue in cues:
                state = next(state for state in cue.states if state.unit == each.unit)
                for member, text in words.get((cue.song, cue.scene), {}).items():
                    if state.sounds and state.values.get(member) in ("on", "off"):
                        assert state.values[member] == text, (gig_name, each.unit, cue.song, cue.scene, member)


def test_a_scene_with_two_sounds_at_every_gig_names_no_gig() -> None:
    """What it leaves depends on what came before, and that is the same each evening."""
    scenes = {"bare": on(), "thick": on("drive"), "left": {MULTI: {**on("reverb")[MULTI], "drive": "leave"}}}
    of = library({MULTI: multi()}, rig(MULTI, units=ON_PORT), song(scenes, "bare", "left", "thick", "left"))
    of = of.model_copy(update={"gigs": {GIG: of.gigs[GIG], "again": of.gigs[GIG]}})

    uses = [use for slot in planned(of).slots for use in slot.uses if use.scene == "left"]

    assert uses == [Use("song", "left"), Use("song", "left")]
