"""What the demo library holds, and that a plain YAML reader finds the same in it."""

import re

import pytest

from scenebook.model import Library
from scenebook.model.checks import check_library
from scenebook.model.songs import bar_ms, seconds
from tests.demo_library.reading import DEMO, demo_library
from tests.demo_library.walk import scenes

CARRIED = {
    "studio wall": 26,
    "hall board": 12,
    "fly board": 7,
    "fly board, foot controller": 8,
    "fly board, no MIDI": 7,
}


def test_nothing_in_the_demo_library_is_at_fault(demo: Library) -> None:
    """A newcomer's first library must not be the first to complain about."""
    assert [f"{kind} {name}: {fault}" for kind, name, fault in check_library(demo)] == []


def test_a_plain_yaml_reader_finds_the_same_library(demo: Library) -> None:
    """The neutral format belongs to no program: any YAML reader that keeps scalars as text reads it."""
    assert demo_library() == demo


def test_it_has_the_units_rigs_and_gigs_of_a_touring_player(demo: Library) -> None:
    """Enough to meet every rule, few enough to be read in an evening."""
    assert len(demo.units) == 34
    assert {name: len(rig.carried) for name, rig in demo.rigs.items()} == CARRIED
    assert sorted(demo.gigs) == ["Pell Quay hall", "Skerrow Head fly-in", "Tallow reading room"]


def test_only_the_multi_effects_hears_messages_on_the_fly_board(demo: Library) -> None:
    """The rucksack has one MIDI lead; its twin has none."""
    assert list(demo.rigs["fly board"].units) == ["multi-effects, small"]
    assert demo.rigs["fly board, no MIDI"].units == {}


def test_twenty_four_songs_are_in_the_hall_and_four_are_spare(demo: Library) -> None:
    """With the house sounds, every song of the library has its place at the hall."""
    gig = demo.gigs["Pell Quay hall"]

    assert len({entry.song for entry in gig.entries}) == len(gig.entries) == 24
    assert len(gig.spares) == 4
    assert gig.house == "House sounds"
    assert set(gig.songs) == set(demo.songs)


def test_every_song_has_two_to_six_scenes_and_plays_all_of_them(demo: Library) -> None:
    """A scene that no form names would never be heard, nor proved."""
    for name, song in demo.songs.items():
        assert 2 <= len(song.scenes) <= 6, name
        assert {part.scene for part in song.played} == set(song.scenes), name


def test_the_house_sounds_are_clean_drive_big_and_quiet(demo: Library) -> None:
    """Four words that anybody on a stage understands."""
    assert list(demo.songs["House sounds"].scenes) == ["clean", "drive", "big", "quiet"]


def test_scenes_name_only_what_they_need(demo: Library) -> None:
    """Home is said once; a scene of thirty units would be a copy of it."""
    assert [str(place) for place in scenes(demo) if len(place.what.units) > 8] == []


def test_every_scene_says_how_it_is_played(demo: Library) -> None:
    """Whoever has to step in reads the notes; the house sounds go without."""
    silent = {str(place) for place in scenes(demo) if not place.what.notes}

    assert silent <= {f"House sounds, {name}" for name in ("drive", "big", "quiet")}


def test_metres_and_instruments_are_many(demo: Library) -> None:
    """Odd metres, waltzes and three instruments: bars and changes of instrument are worked out for all of them."""
    assert {song.metre for song in demo.songs.values()} >= {"4/4", "3/4", "5/4", "6/8", "7/8", "9/8"}
    assert {str(song.instrument) for song in demo.songs.values() if song.instrument} >= {
        "electric viola, C G D A",
        "five-string viola, F C G D A",
        "mandola, C G D A, capo 2",
    }


def test_every_unit_can_be_packed_and_powered(demo: Library) -> None:
    """The set-up page needs sizes, weights and supplies; what has no supply says so."""
    for name, unit in demo.units.items():
        assert None not in (unit.size, unit.weight_g), name
        assert unit.jacks, name
        assert unit.supply or "No supply" in unit.notes, name
        assert unit.owned or unit.price, name


def test_what_units_are_as_objects_differs(demo: Library) -> None:
    """Every kind of supply, bypass and side is met once at least, so no print is ever made without it."""
    units = demo.units.values()
    supplies = [unit.supply for unit in units if unit.supply]

    assert {supply.current for supply in supplies} == {"AC", "DC"}
    assert {supply.polarity for supply in supplies} == {"centre negative", "centre positive", None}
    assert {unit.bypass for unit in units} >= {"mechanical", "relay", "buffered"}
    assert {side for unit in units for side in unit.jacks} == {"left", "right", "top", "front"}
    assert {unit.output for unit in units} >= {"mono", "stereo"}
    assert {unit.owned for unit in units} == {True, False}


@pytest.mark.parametrize(
    ("first", "label"), [("0", "7"), ("1", "8"), ("1A", "3B"), ("1-1", "2-3"), ("001", "008"), ("000", "007")]
)
def test_slots_are_counted_in_every_way_that_displays_count(demo: Library, first: str, label: str) -> None:
    """From 0, from 1, with leading noughts and in banks; the eighth slot as the display shows it."""
    programs = [unit.programs for unit in demo.units.values() if unit.programs and unit.programs.first == first]

    assert label in {each.label(7) for each in programs}


def test_shorthand_is_used_as_players_write_it(demo: Library) -> None:
    """`fuzz: on`, a slot or a name alone, `leave` alone: the folder shows newcomers what may be written."""
    text = "".join(path.read_text(encoding="utf-8") for path in sorted((DEMO / "songs").glob("*.yaml")))

    assert re.search(r"(?m)^      rotary, small: on$", text)
    assert re.search(r"(?m)^      multi-effects, large: 1C ", text)
    assert re.search(r"(?m)^      reverb, large hall: leave$", text)
    assert re.search(r"(?m)^  - gutter$", text)


def test_files_are_named_after_what_they_hold() -> None:
    """A player looks for a song by its name, in any file manager."""
    for path in DEMO.glob("*/*.yaml"):
        first = path.read_text(encoding="utf-8").splitlines()[0]
        name = first.removeprefix("name: ").lower().replace("'", "")
        assert path.stem == re.sub(r"[\W_]+", "-", name), first


def test_every_file_has_a_comment_or_a_note() -> None:
    """Files are read by people: each says at least once why something is so."""
    for path in DEMO.glob("*/*.yaml"):
        text = path.read_text(encoding="utf-8")
        assert re.search(r"(^|\s)#\s|(?m:^\s*notes:)", text), path.name


def test_lengths_agree_with_forms(demo: Library) -> None:
    """Where all bars are known, bars at the tempo come to the length that the running order prints."""
    for name, song in demo.songs.items():
        bar = bar_ms(song.tempo, song.metre)
        bars = [part.bars for part in song.played]
        if bar is not None and song.length is not None and None not in bars:
            assert abs(sum(filter(None, bars)) * bar / 1000 - seconds(song.length)) <= 5, name
