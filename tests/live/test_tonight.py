"""What is different tonight: what is asked is done or refused in a sentence, and songs and rigs stay as they are."""

from pathlib import Path

import pytest

from scenebook.cueing.cues import Action
from scenebook.live.acts import Act, Verb
from scenebook.live.caller import Caller, Outcome
from scenebook.live.keeping import kept
from scenebook.live.places import Part, Place
from scenebook.live.tonight import Tonight, applied, tonight_of
from scenebook.model import Gig, Library
from scenebook.storage.folder import read_folder
from tests.demo_library.reading import DEMO
from tests.support.build import GIG, RIG, library, rig, song, unit
from tests.support.calling import ON, REVERB, ask, at, begun, evening, forms, sent
from tests.support.compiling import on_port

HALL, BOARD = "Pell Quay hall", "hall board"
OMNI = {"port": "front", "channel": 2, "hears": "omni"}
FUZZ, DRIVE, GATED = "fuzz, silicon", "drive, soft", "fuzz, gated"


@pytest.fixture(scope="module")
def demo() -> Library:
    """The demo library, read once."""
    return read_folder(Path(DEMO))[0]


@pytest.fixture
def hall(demo: Library) -> Caller:
    """The demo's evening in the hall, at home with all ports."""
    caller = Caller(demo, HALL, BOARD)
    for port in ("front", "wet"):
        caller.port_back(port, 0)
    ask(caller, Verb.AGAIN)
    return caller


def with_fuzz(caller: Caller) -> list[Place]:
    return [
        step.place
        for step in caller.parts.programme.steps
        if any(state.unit == FUZZ and state.sounds for state in step.full.states)
    ]


def test_a_unit_that_is_out_is_played_by_its_stand_in_from_now_on(hall: Caller, demo: Library) -> None:
    """Later cues follow; the rig and the songs in the library stay as they are."""
    before = demo.model_copy(deep=True)
    assert with_fuzz(hall)

    outcome = ask(hall, Verb.OUT, unit="fuzz, sil")

    assert outcome.plan is None
    assert hall.parts.tonight == Tonight(out=frozenset({FUZZ}))
    assert all(FUZZ not in [state.unit for state in step.full.states] for step in hall.parts.programme.steps)
    assert demo == before
    assert ask(hall, Verb.OUT, unit=FUZZ) == Outcome(refused="'fuzz, silicon' is out already.")
    ask(hall, Verb.IN, unit=FUZZ)
    assert with_fuzz(hall)
    assert ask(hall, Verb.IN, unit=FUZZ) == Outcome(refused="'fuzz, silicon' is neither out nor played by another.")


def test_a_borrowed_unit_plays_the_part_of_one_in_the_rig(hall: Caller) -> None:
    """It takes its place and its channel; asked for by its own name it goes again."""
    ask(hall, Verb.PLAYED_BY, unit=FUZZ, other=GATED)

    units = [state.unit for state in hall.parts.step.full.states]
    assert (GATED in units, FUZZ in units) == (True, False)
    refused = ask(hall, Verb.PLAYED_BY, unit=DRIVE, other=GATED).refused
    assert refused == "'fuzz, gated' plays 'fuzz, silicon' already."
    ask(hall, Verb.OUT, unit=GATED)
    assert hall.parts.tonight == Tonight(out=frozenset({FUZZ}))
    ask(hall, Verb.PLAYED_BY, unit=FUZZ, other=GATED)
    ask(hall, Verb.IN, unit=GATED)
    assert hall.parts.tonight == Tonight()


def test_a_borrowed_unit_that_hears_what_is_meant_for_others_is_named() -> None:
    """It takes over an omni place, and knows the other unit's number."""
    base = evening()
    board = rig("delay", "reverb", units={"delay": {"port": "front", "channel": 1}, "reverb": {**OMNI}})
    library = base.model_copy(update={"rigs": {RIG: board}, "units": {**base.units, "other": base.units["delay"]}})
    caller = begun(library)

    ask(caller, Verb.PLAYED_BY, unit="reverb", other="other")

    (notice,) = caller.parts.notices
    assert notice.about == "unit other"
    assert notice.words.startswith("'other' hears what is meant for 'delay': controller 80 = 0, channel 1, and ")


def test_a_unit_of_the_rig_cannot_play_a_second_part(hall: Caller) -> None:
    """It has a part already; stand-ins are the way for that."""
    refused = ask(hall, Verb.PLAYED_BY, unit=FUZZ, other=DRIVE).refused

    assert refused == (
        "'drive, soft' is in the rig itself. "
        "Say that 'fuzz, silicon' is out: what stands in for it on this rig then plays its part."
    )


@pytest.mark.parametrize("verb", [Verb.OUT, Verb.IN, Verb.PLAYED_BY, Verb.DEAF, Verb.HEARS])
def test_a_unit_that_nobody_knows_is_refused_with_the_nearest_name(hall: Caller, verb: Verb) -> None:
    """A slip of the finger changes nothing."""
    refused = ask(hall, verb, unit="fuz, silicon").refused

    assert refused == "No unit is called 'fuz, silicon'. Did you mean 'fuzz, silicon'?"
    assert hall.parts.tonight == Tonight()


def test_deaf_from_here_takes_all_units_behind_the_thru(hall: Caller) -> None:
    """One lead has failed: what hears through it hears nothing, and what hands can do they do."""
    ask(hall, Verb.DEAF, unit="multi-effects, large")

    assert hall.parts.tonight.deaf == {"multi-effects, large", "delay, tape voiced"}
    sent_to = {m.unit for step in hall.parts.programme.steps for m in (*step.lean.messages, *step.full.messages)}
    assert not sent_to & hall.parts.tonight.deaf
    told = [notice.words for notice in hall.parts.notices]
    assert told == ["multi-effects, large hears nothing and cannot be worked by hand: it stays as it stood"]
    assert ask(hall, Verb.DEAF, unit="delay, tape voiced").refused == "'delay, tape voiced' is deaf already."
    ask(hall, Verb.HEARS, unit="delay, tape voiced")
    assert hall.parts.tonight.deaf == {"multi-effects, large"}
    ask(hall, Verb.HEARS, unit="multi-effects, large")
    assert (hall.parts.tonight, hall.parts.notices) == (Tonight(), ())


def test_what_has_no_midi_cannot_be_deaf(hall: Caller) -> None:
    """The volume pedal never heard anything."""
    refused = ask(hall, Verb.DEAF, unit="volume pedal").refused

    assert refused == "'volume pedal' hears no MIDI on this rig, nor does anything behind it."
    assert ask(hall, Verb.HEARS, unit=FUZZ).refused == "'fuzz, silicon' is not deaf."


def test_a_deaf_unit_is_pressed_by_foot() -> None:
    """Its messages become presses; nothing goes to it, and it is looked at where it stands."""
    caller = begun()
    ask(caller, Verb.GO, Place(Part.SET, 0, 1))

    ask(caller, Verb.DEAF, unit="reverb")
    outcome = ask(caller, Verb.NEXT)
    ask(caller, Verb.NEXT)

    assert sent(outcome, "wet") == []
    presses = [(m.action, m.unit, m.after) for m in caller.parts.step.lean.by_hand]
    assert (Action.PRESS, "reverb", "off") in presses


def test_what_a_change_concerns_goes_out_full_at_the_next_step() -> None:
    """Nothing is sent at once, in the middle of a phrase; it is offered, and the next cue brings it."""
    lead = unit(switches={"main": {"message": {"controller": 83}}})
    base = evening()
    twin = base.model_copy(update={"units": {**base.units, "other delay": base.units["delay"], "lead": lead}})
    caller = begun(twin)
    ask(caller, Verb.NEXT)

    outcome = ask(caller, Verb.PLAYED_BY, unit="delay", other="other delay")

    assert outcome.plan is None
    assert caller.parts.offer == "What hears front still stands as before: send again, or the next step does it"
    assert forms(ask(caller, Verb.NEXT)) == {"front": "full", "wet": "lean"}
    assert caller.parts.offer == ""


def test_a_change_that_concerns_nothing_that_stands_leaves_lean_as_it_was() -> None:
    """The reverb is silent and another is borrowed for later: the other port knows nothing of it."""
    caller = begun()
    ask(caller, Verb.NEXT)

    ask(caller, Verb.TEMPO, Place(Part.SET, 1, 0), text="99")

    assert forms(ask(caller, Verb.NEXT)) == {"front": "lean", "wet": "lean"}
    assert caller.parts.programme.tempos == {Place(Part.SET, 1, 0): 99.0}


def test_a_control_that_the_new_list_thinks_set_long_ago_is_set() -> None:
    """The unit came in its place only now: the cue where the list set its level has gone by."""
    delay = unit(
        switches={"main": {"message": {"controller": 80}}},
        controls={"level": {"scale": "percent", "message": {"controller": 20}}},
    )
    scenes = {"a": {"fuzz": {"main": "on", "level": "50 %"}}, "b": {}, "c": {"fuzz": {"main": "on", "level": "50 %"}}}
    stand_in = {"part": "fuzz", "by": "delay", "switch": "main", "controls": {"level": "level"}}
    board = rig("fuzz", "delay", units=on_port("delay", "fuzz"), stand_ins=[stand_in])
    caller = Caller(library({"delay": delay, "fuzz": delay}, board, song(scenes)), GIG, RIG)
    caller.port_back("front", 0)
    for verb in (Verb.AGAIN, Verb.NEXT, Verb.NEXT):
        ask(caller, verb)

    ask(caller, Verb.OUT, unit="fuzz")
    outcome = ask(caller, Verb.NEXT)

    assert forms(outcome) == {"front": "full"}
    assert sent(outcome) == ["B0 14 40", "B0 50 7F"]


def test_a_song_has_another_key_and_tempo_tonight(hall: Caller, demo: Library) -> None:
    """A note value comes to other milliseconds; the song itself keeps its tempo."""
    place = Place(Part.SET, 3, 2)

    ask(hall, Verb.TEMPO, place, text="92,5")
    ask(hall, Verb.KEY, place, text=" E  minor ")

    assert hall.parts.tonight.tempos == {Place(Part.SET, 3, 0): 92.5}
    assert hall.parts.tonight.keys == {Place(Part.SET, 3, 0): "E minor"}
    entry = applied(demo, HALL, BOARD, hall.parts.tonight).gigs[HALL].entries[3]
    assert (entry.key, entry.tempo) == ("E minor", 92.5)
    ask(hall, Verb.TEMPO, place)
    ask(hall, Verb.KEY, place)
    assert hall.parts.tonight == Tonight()
    assert ask(hall, Verb.KEY, place).refused == "The song has no key of its own tonight."
    assert ask(hall, Verb.TEMPO, place).refused == "The song has no tempo of its own tonight."


@pytest.mark.parametrize("text", ["fast", "19.9", "401", "nan", "1e9", "-92"])
def test_a_tempo_that_cannot_be_is_refused(hall: Caller, text: str) -> None:
    """With what is accepted."""
    refused = ask(hall, Verb.TEMPO, Place(Part.SET, 0, 0), text=text).refused

    assert refused == f"'{text}' is no tempo; accepted: 20 to 400 quarter notes a minute."


def test_only_songs_of_the_evening_can_be_changed(hall: Caller) -> None:
    """Home, a house sound and a song that is not there have neither key nor form of their own tonight."""
    of_songs = "Only a song of the sets or a spare song can be changed for tonight."

    assert ask(hall, Verb.KEY, Place(Part.HOUSE, 0, 0), text="E").refused == of_songs
    assert ask(hall, Verb.CUT).refused == of_songs
    assert ask(hall, Verb.CUT, Place(Part.SET, -1, 0)).refused == "The gig has no such song; accepted: song 1 to 24."
    assert ask(hall, Verb.KEY, Place(Part.SET, 0, 0), text="E" * 300).refused.startswith("A key of 300 characters")


def test_a_verse_that_is_cut_leaves_the_other_places_their_meaning() -> None:
    """The chorus after it is still the part that it was; the step before leads straight there."""
    songs = {"one": song({"a": {}, "b": {"reverb": ON}}, "a", "b", "a", "b"), "two": song({"c": {}})}
    caller = Caller(library({"reverb": REVERB}, rig("reverb", units=on_port("reverb")), songs), GIG, RIG)
    ask(caller, Verb.GO, Place(Part.SET, 0, 0))

    ask(caller, Verb.CUT, Place(Part.SET, 0, 1))

    places = [step.place for step in caller.parts.programme.steps]
    assert [tuple(place[1:]) for place in places] == [(-1, 0), (0, 0), (0, 2), (0, 3), (1, 0)]
    ask(caller, Verb.NEXT)
    assert at(caller) == ("set", 0, 2)
    assert ask(caller, Verb.GO, Place(Part.SET, 0, 1)).refused == "That part is not played tonight."
    assert ask(caller, Verb.GO, Place(Part.SET, 0, 9)).refused == "The gig has no such cue."
    assert ask(caller, Verb.GO, Place(Part.SET, 9, 0)).refused == "The gig has no such cue."
    assert ask(caller, Verb.CUT, Place(Part.SET, 0, 1)).refused == "That part of the song is cut already."
    ask(caller, Verb.KEEP, Place(Part.SET, 0, 1))
    assert ask(caller, Verb.KEEP, Place(Part.SET, 0, 1)).refused == "That part of the song is not cut."
    assert ask(caller, Verb.CUT, Place(Part.SET, 0, 9)).refused == "'one' has no such part; accepted: part 1 to 4."


def test_the_verse_that_stands_and_the_last_one_left_cannot_be_cut() -> None:
    """The gig would stand nowhere."""
    caller = begun()
    ask(caller, Verb.NEXT)

    assert ask(caller, Verb.CUT, Place(Part.SET, 0, 0)) == Outcome(
        refused="That part stands now: it cannot be cut while it does."
    )
    ask(caller, Verb.CUT, Place(Part.SET, 0, 1))
    refused = ask(caller, Verb.CUT, Place(Part.SET, 0, 0)).refused
    assert refused == "Nothing of the song would be left. Go to the next song instead."


def test_a_set_that_was_left_at_a_verse_that_is_cut_then_is_resumed_before_it() -> None:
    """There is no cue there any more."""
    caller = begun()
    ask(caller, Verb.GO, Place(Part.SET, 1, 1))
    ask(caller, Verb.GO, Place(Part.SPARE, 0, 0))

    ask(caller, Verb.CUT, Place(Part.SET, 1, 1))

    assert caller.parts.left == Place(Part.SET, 1, 0)


def test_a_change_prepared_before_another_one_counts_with_it() -> None:
    """Two screens, two touches at the same time: neither is lost."""
    caller = begun()
    late = caller.prepare(Act(Verb.OUT, "page", unit="reverb"))
    ask(caller, Verb.OUT, unit="delay")

    caller.take(late, 1.0)

    assert caller.parts.tonight.out == {"delay", "reverb"}


def test_what_cannot_be_played_is_refused_and_the_gig_runs_on() -> None:
    """Nothing turns the borrowed unit on: the compiler's sentence says so."""
    units = {"synth": unit(switches={"main": {"message": {"controller": 80}}}), "other": unit(switches={"main": {}})}
    caller = Caller(library(units, rig("synth", units=on_port("synth")), song({"a": {"synth": ON}})), GIG, RIG)

    refused = ask(caller, Verb.PLAYED_BY, unit="synth", other="other").refused

    assert refused.startswith("Played so, song 'song', scene 'a', unit 'other': nothing works 'main' on this rig")
    assert caller.parts.tonight == Tonight()
    assert not ask(caller, Verb.NEXT).refused


def test_what_was_done_tonight_can_be_kept_in_the_gig(demo: Library) -> None:
    """The next evening begins with it; a form is written only where something is cut, and deaf units are noted."""
    tonight = Tonight(
        out=frozenset({"octave down"}),
        played_by={FUZZ: GATED},
        deaf=frozenset({"reverb, large hall"}),
        keys={Place(Part.SET, 13, 0): "D"},
        tempos={Place(Part.SPARE, 1, 0): 101.0},
        cut=frozenset({Place(Part.SET, 0, 1)}),
    )
    was = demo.gigs[HALL]

    gig = kept(demo, HALL, tonight)

    assert (gig.out, gig.played_by) == (("octave down",), {FUZZ: GATED})
    assert [entry.key for entry in gig.entries if entry.key] == ["D"]
    assert gig.entries[13].key == "D"
    assert gig.spares[1].tempo == 101.0
    form = demo.songs[was.entries[0].song].played
    assert gig.entries[0].form == (form[0], *form[2:])
    assert [entry.form for entry in gig.entries[1:]] == [entry.form for entry in was.entries[1:]]
    assert gig.notes == f"{was.notes}\nHeard no MIDI: reverb, large hall."
    assert Gig.model_validate(gig.model_dump()) == gig
    assert kept(demo, HALL, tonight_of(was)) == was
    assert demo.gigs[HALL] is was


def test_an_evening_begins_as_the_gig_says() -> None:
    """What was kept last time holds, and can be taken back."""
    of = evening()
    said = {**of.gigs[GIG].model_dump(), "out": ("reverb",)}
    caller = Caller(of.model_copy(update={"gigs": {GIG: Gig.model_validate(said)}}), GIG, RIG)

    assert caller.parts.tonight.out == {"reverb"}
    ask(caller, Verb.IN, unit="reverb")
    assert [state.unit for state in caller.parts.step.full.states] == ["delay", "reverb"]
