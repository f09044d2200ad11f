"""The view decides every word once: floor lines, song pages, set-up, what comes last."""

import datetime
from dataclasses import replace
from typing import Any

import pytest

from scenebook.cueing.cues import Action, ByHand, CueList, Message, MessageKind, Moment
from scenebook.model import FormEntry, Gig, GigSet, Instrument, Scene, SetEntry, Song
from scenebook.sheets import GigView, Paper, view_of
from scenebook.sheets.floor import short_key
from scenebook.sheets.view import Caveat, Do, Entry, FloorLine, Item, Mark, Need, Part, Shape, Sound, texts_of
from tests.support.cue_lists import DELAY, FUZZ, LOOPER, MULTI, a_gig, a_library, a_song, compiled

NAMES = ("Lamp room", "Kelp fire", "Chalk line")


def a_view(gig: Gig | None = None, songs: dict[str, Song] | None = None) -> GigView:
    library = a_library(gig or a_gig(NAMES, spares=("Limpet",)), songs)
    return view_of(library, compiled(library), revision=12)


def changed(cue_list: CueList, number: int, **said: Any) -> CueList:
    cues = list(cue_list.cues)
    cues[number] = cues[number]._replace(**said)
    return replace(cue_list, cues=tuple(cues))


def view_with(number: int, **said: Any) -> GigView:
    library = a_library(a_gig(NAMES))
    return view_of(library, changed(compiled(library), number, **said), revision=12)


def test_every_page_will_bear_gig_rig_date_and_revision() -> None:
    """An old print must be known as one."""
    said = a_view()

    assert said.bearing == ("Pell Quay", "board", "2027-03-19", "revision 12")
    assert said.paper is Paper.A4


def test_a_full_list_says_that_it_is_one() -> None:
    """Positions to check are not presses."""
    library = a_library(a_gig(NAMES))

    assert view_of(library, replace(compiled(library), full=True), revision=1).rig == "board (full)"


def test_a_gig_without_a_date_bears_none() -> None:
    """Not every gig is fixed yet."""
    assert a_view(a_gig(NAMES).model_copy(update={"date": None})).bearing == ("Pell Quay", "board", "revision 12")
    assert a_gig(NAMES).date == datetime.date(2027, 3, 19)


def test_the_floor_has_a_line_a_song_with_what_starts_it() -> None:
    """Number, name, key, tempo, the instrument where it is new, the first slot; nothing that can wait."""
    part, other = a_view().floor

    assert (part.name, part.display) == ("first", "boxed: slot of multi-effects")
    assert part.after == "then interval 20 min"
    assert part.lines == (
        FloorLine("1", "Lamp room", "Dm", "96", "viola", "1A", 0, (Item("→", "viola"),)),
        FloorLine("2", "Kelp fire", "Dm", "96", "viola", "1A", 0, ()),
    )
    assert (other.name, other.after) == ("second", "")
    assert [line.number for line in other.lines] == ["3"]


def test_what_is_pressed_and_turned_stands_a_unit_at_a_time() -> None:
    """What is set, then the unit's own switch; what is held or fired is never a part of another move."""
    moves = (
        ByHand(Action.PRESS, FUZZ, "main", "off", "on", Moment.CUE, 1, 700),
        ByHand(Action.TURN, FUZZ, "gain", "noon", "3 o'clock", Moment.GAP, 1, 2500),
        ByHand(Action.PRESS, DELAY, "main", "on", "off", Moment.CUE, 1, 700),
        ByHand(Action.PRESS, LOOPER, "main", "off", "on", Moment.GAP, 1, 700),
        ByHand(Action.HOLD, LOOPER, "record", "", "on bar 1", Moment.CUE, 1, 700),
        ByHand(Action.FIRE, LOOPER, "clear", "", "clear", Moment.CUE, 1, 700),
        ByHand(Action.CHANGE, "instrument", "instrument", "viola", "mandola, capo 2", Moment.GAP, 1, 20_000),
        ByHand(Action.CHECK, MULTI, "chorus", "", "off", Moment.CUE, 1, 700),
    )

    line = view_with(1, by_hand=moves, late="late by 1.2 s").floor[0].lines[0]

    assert line.items == (
        Item("→", "viola"),
        Item("→", "fuzz gain 3 o'clock"),
        Item("●", "fuzz"),
        Item("●", "looper"),
        Item("□", "looper record"),
        Item("□", "looper clear"),
        Item("○", "delay"),
        Item("▲", "late 1.2 s"),
    )


def test_an_instrument_is_named_only_where_it_changes() -> None:
    """The tuning is not read from the floor; the capo is."""
    mandola = a_song().model_copy(update={"instrument": Instrument(name="mandola", tuning="C G D A", capo=2)})
    lines = [line for part in a_view(songs={"Kelp fire": mandola}).floor for line in part.lines]

    assert [line.items for line in lines] == [
        (Item("→", "viola"),),
        (Item("→", "mandola, capo 2"),),
        (Item("→", "viola"),),
    ]


@pytest.mark.parametrize(
    ("written", "short"),
    [("F# minor", "F♯m"), ("Bb", "B♭"), ("C major", "C"), ("Dm", "Dm"), ("A", "A"), ("D dorian", "D dorian"), ("", "")],
)
def test_a_key_is_short_where_that_is_usual(written: str, short: str) -> None:
    """As on a chart; anything else as the player wrote it."""
    assert short_key(written) == short


def test_what_a_gig_says_of_a_song_wins_over_the_song() -> None:
    """Tonight it is in E minor, slower, and the notes are tonight's too."""
    entry = SetEntry(song="Lamp room", key="E minor", tempo=60, notes="The singer has a cold.")
    gig = Gig(rig="board", sets=(GigSet(name="only", songs=(entry,)),))
    said = a_view(gig, {"Lamp room": a_song(notes="Slow.")})

    assert (said.floor[0].lines[0].key, said.floor[0].lines[0].tempo) == ("Em", "60")
    assert said.songs[0].facts == ("E minor", "♩ 60", "4/4", "viola, C G D A")
    assert said.songs[0].notes == ("Slow.", "The singer has a cold.")


def test_a_form_entry_says_everything_of_its_cue() -> None:
    """Bars and words, the chain by shape, the sound with musts and colours, and what to do in order."""
    entry = a_view().songs[0].entries[1]

    assert entry == Entry(
        cue=2,
        scene="chorus",
        bars="8 bars, last 2 free",
        words="",
        as_cue=None,
        chain=(
            Mark("fuzz", True, "", True),
            Mark("drive", False, "", False),
            Mark("multi-effects", True, "1A", False),
            Mark("delay", True, "", True),
            Mark("looper", False, "", False),
        ),
        sounds=(
            Sound("fuzz", (Part("on", Need.MUST, True), Part("gain 4 o'clock", Need.MUST, True))),
            Sound("delay", (Part("on", Need.COLOUR, True), Part("time 1/8. (469 ms)", Need.COLOUR, True))),
        ),
        to_do=(
            Do(Shape.TO, "turn fuzz gain to 4 o'clock", "2 o'clock", "In the free bars before", ""),
            Do(Shape.TO, "turn delay time to 1/8.", "380 ms", "In the free bars before", ""),
            Do(Shape.ON, "press fuzz: on", "", "At the cue", ""),
            Do(Shape.ON, "press delay: on", "", "At the cue", ""),
        ),
        lacks=(),
        without=(),
        caveats=(),
        remarks=(),
        asides=(),
        notes="",
    )


def test_a_preset_says_its_name_its_footswitches_and_its_pitches() -> None:
    """What the feet find under them in that preset, and what is sent so that nobody presses it."""
    entry = a_view().songs[0].entries[4]

    multi = next(sound for sound in entry.sounds if sound.unit == "multi-effects")
    assert multi.parts == (
        Part("2B ice", Need.MUST, True),
        Part("footswitches: 1 chorus", Need.NONE, False),
        Part("pitches: G#3 (207.7 Hz), E4 (329.6 Hz)", Need.NONE, False),
    )
    assert entry.asides == ("By message: multi-effects: 2B",)
    assert Sound("looper", (Part("record press for the last eight bars", Need.MUST, False),)) in entry.sounds


def test_what_goes_by_message_is_told_unit_by_unit() -> None:
    """So that nobody presses what comes by itself; Bank Select is the wire's affair."""
    messages = (
        Message("front", MULTI, MessageKind.RECALL, "preset", "2B ice", b"\xb1\x00\x00", 0),
        Message("front", MULTI, MessageKind.RECALL, "preset", "2B ice", b"\xc1\x04", 960),
        Message("front", LOOPER, MessageKind.TRIGGER, "fade out", "fade out", b"\xb4\x3f\x01", 1600),
        Message("front", MULTI, MessageKind.CONTROL, "delay mix", "40 %", b"\xb1\x11\x33", 181_600),
        Message("front", MULTI, MessageKind.ON, "main", "on", b"\xb1\x18\x7f", 182_560),
    )

    entry = view_with(2, messages=messages).songs[0].entries[1]

    assert entry.asides == ("By message: multi-effects: 2B ice, delay mix 40 %, on; looper: fade out",)


def test_a_lack_says_what_to_do_once_in_the_songs_head() -> None:
    """A warning without advice is only a worry; the same advice at each cue is not read."""
    library, lacking = a_library(a_gig(NAMES)), {"lacks": ("ring modulator",)}
    made = changed(changed(compiled(library), 2, **lacking), 4, lacks=("ring modulator", "octave down"))

    song = view_of(library, made, revision=1).songs[0]

    assert song.lacks == (
        Caveat(
            "Lacks ring modulator; octave down", "leave it out or play around it; a stand-in in the rig would fill it"
        ),
    )
    assert [entry.lacks for entry in song.entries[1:4]] == [
        ("ring modulator",),
        (),
        ("ring modulator", "octave down"),
    ]
    assert all(not entry.caveats for entry in song.entries)


def test_a_missing_colour_is_one_plain_line() -> None:
    """The scene holds, so nobody has to do anything."""
    song = view_with(2, without=("delay, tape",)).songs[0]

    assert (song.entries[1].without, song.entries[1].caveats, song.lacks) == (("delay, tape",), (), ())


def test_what_is_late_says_what_to_do() -> None:
    """By how much, and what can wait."""
    (late,) = view_with(2, late="late by 1.2 s").songs[0].entries[1].caveats

    assert late.what == "Late by 1.2 s"
    assert late.do.startswith("do first what stands first")


@pytest.mark.parametrize(
    ("late", "what", "do"),
    [
        ("time not known", "Time not known", "give the song its tempo"),
        (
            "time not known: no bars or tempo given",
            "Time not known (no bars or tempo given)",
            "give the song its tempo",
        ),
        ("time not known: the gap before has no length", "Time not known (the gap before has no length)", "give it a"),
        (
            "time not known: the interval before has no length",
            "Time not known (the interval before has no length)",
            "give it a length",
        ),
    ],
)
def test_an_unknown_time_says_why_and_what_to_give(late: str, what: str, do: str) -> None:
    """It is not known to be late, so it does not say so, neither here nor on the floor."""
    said = view_with(1, late=late)

    (caveat,) = said.songs[0].entries[0].caveats
    assert caveat.what == what
    assert caveat.do.startswith(do)
    assert all(item.mark != "▲" for item in said.floor[0].lines[0].items)


def test_what_nobody_needs_while_playing_stands_last() -> None:
    """Silences, stand-ins and what is not carried over; what cannot be promised is a remark."""
    said = view_with(
        2, stand_ins=(f"a: {MULTI} chorus, likeness 0.7",), not_carried=("a mix",), silence_us=30_000,
        interrupted_us=181_000, notes=("look at its lamp",),
    ).songs[0]  # fmt: skip

    assert said.stand_ins == ("a: multi-effects chorus, likeness 0.7",)
    assert said.entries[1].remarks == ("look at its lamp",)
    assert said.entries[1].asides == (
        "Silent for 30 ms",
        "What is left as it was is away for 181 ms",
        "Stand-in for a",
        "Not carried over: a mix",
    )


def test_a_left_unit_is_as_it_was() -> None:
    """The loop goes on, and nobody touches it."""
    song = Song(scenes={"one": Scene(units={LOOPER: {"main": "on"}}), "two": Scene(units={LOOPER: {"leave": "unit"}})})

    entry = a_view(songs={"Lamp room": song}).songs[0].entries[1]

    assert entry.sounds == (Sound("looper", (Part("as it was", Need.NONE, False),)),)


@pytest.mark.parametrize(
    ("colours", "need"),
    [((), Need.MUST), (("ring modulator",), Need.COLOUR), (("ring modulator.main",), Need.MUST)],
)
def test_what_plays_a_missing_units_part_has_its_mark(colours: tuple[str, ...], need: Need) -> None:
    """The must is the sound, not the box that it comes from."""
    song = Song(scenes={"one": Scene(colours=colours)})
    library = a_library(a_gig(NAMES), {"Lamp room": song})
    stand_in = "ring modulator: multi-effects, small chorus, likeness 0.5"

    said = view_of(library, changed(compiled(library), 1, stand_ins=(stand_in,)), revision=1)

    assert said.songs[0].entries[0].sounds == (Sound("multi-effects", (Part("chorus off", need, False),)),)


def test_a_unit_played_by_another_is_spoken_of_by_the_scenes_name() -> None:
    """The scene says echo; tonight the tape delay is the echo."""
    chorus = Scene(units={"echo": {"main": "on", "mix": "30 %"}}, colours=("echo.mix",))
    library = a_library(a_gig(NAMES), {"Lamp room": a_song().model_copy(update={"scenes": {"chorus": chorus}})})
    made = compiled(a_library(a_gig(NAMES)))
    tonight = library.gigs["Pell Quay"].model_copy(update={"played_by": {"echo": DELAY}})

    said = view_of(library.model_copy(update={"gigs": {"Pell Quay": tonight}}), made, revision=1)

    assert said.songs[0].entries[1].sounds[-1] == Sound(
        "delay",
        (
            Part("on", Need.MUST, True),
            Part("time 1/8. (469 ms)", Need.NONE, True),
            Part("mix 30 %", Need.COLOUR, False),
        ),
    )


def test_a_repeated_entry_with_nothing_to_do_is_short() -> None:
    """A verse that comes again as it was needs one line."""
    song = Song(tempo=96, scenes={"verse": Scene(notes="Softly.")}, form=(FormEntry(scene="verse", bars=8),) * 2)

    first, again = a_view(songs={"Lamp room": song}).songs[0].entries

    assert (first.as_cue, first.notes) == (None, "Softly.")
    assert (again.as_cue, again.notes, again.sounds, again.chain, again.asides) == (1, "", (), (), ())


@pytest.mark.parametrize(
    ("place", "then"),
    [(0, "gap 25 s, then Kelp fire"), (1, "interval 20 min"), (2, "end of the set")],
)
def test_a_song_says_what_comes_next(place: int, then: str) -> None:
    """The hand already knows where to go."""
    assert a_view().songs[place].then == then


def test_a_segue_says_that_there_is_no_gap() -> None:
    """What is turned between two songs has no time there."""
    entries = (SetEntry(song="Lamp room", segue=True), SetEntry(song="Kelp fire"))

    said = a_view(Gig(rig="board", sets=(GigSet(name="only", songs=entries),)))

    assert said.songs[0].then == "segue: no gap, straight into Kelp fire"


def test_spare_songs_and_house_sounds_come_last() -> None:
    """Spares are numbered apart, house sounds say how they differ from home."""
    spares, house = a_view().last

    assert (spares.title, [song.number for song in spares.songs]) == ("Spare songs", ["S1"])
    assert spares.floor.lines[0].name == "Limpet"
    assert house.title == "House sounds"
    assert [(line.name, line.items) for line in house.floor.lines] == [("clean", ()), ("big", (Item("●", "fuzz"),))]
    assert [entry.scene for entry in house.songs[0].entries] == ["clean", "big"]


def test_a_gig_without_spares_and_house_ends_with_its_last_song() -> None:
    """Nothing empty is printed."""
    assert a_view(Gig(rig="board", sets=(GigSet(name="only", songs=("Lamp room",)),))).last == ()


def test_every_text_of_a_view_is_found() -> None:
    """Else a character without a font would slip through."""
    assert {"Pell Quay", "Lamp room", "press fuzz: on", "→", "Spare songs"} <= set(texts_of(a_view()))
