"""What a sheet says because of the gig around a song: intervals, lamps that never change, loops, when to begin."""

from dataclasses import replace
from typing import Any

import pytest

from scenebook.cueing.cues import Action, ByHand, CueList, Moment
from scenebook.model import Gig, GigSet, Rig, SetEntry, Song
from scenebook.sheets import GigView, view_of
from tests.support.cue_lists import DELAY, DRIVE, FUZZ, LOOPER, MULTI, a_gig, a_library, a_rig, compiled

NAMES = ("Lamp room", "Kelp fire", "Chalk line")
BAR_US = 2_500_000  # at 96 in 4/4: 60 / 96 x 4 s


def with_cue(made: CueList, number: int, **said: Any) -> CueList:
    cues = list(made.cues)
    cues[number] = cues[number]._replace(**said)
    return replace(made, cues=tuple(cues))


def seen(number: int, songs: dict[str, Song] | None = None, **said: Any) -> GigView:
    library = a_library(a_gig(NAMES), songs)
    return view_of(library, with_cue(compiled(library), number, **said), revision=12)


def press(unit: str, us: int, **more: Any) -> ByHand:
    said = {"moment": Moment.CUE, "for_cue": 3, "action": Action.PRESS, "member": "main", **more}
    return ByHand(unit=unit, before="off", after="on", us=us, **said)


def moments(view: GigView, entry: int) -> list[str]:
    return [do.moment for do in view.songs[0].entries[entry].to_do]


@pytest.mark.parametrize(
    ("us", "moment"),
    [
        (BAR_US // 3, "At the cue, begin in the last bar before"),
        (BAR_US, "At the cue, begin in the last bar before"),
        (BAR_US + 1, "At the cue, begin in the last 2 bars before"),
        (2 * BAR_US, "At the cue, begin in the last 2 bars before"),
    ],
)
def test_more_than_one_press_at_a_cue_says_when_to_begin(us: int, moment: str) -> None:
    """One press fits on the beat; what the others take is rounded up to bars, since bars are what is counted."""
    view = seen(3, by_hand=(press(FUZZ, 700_000), press(DELAY, us)))

    assert moments(view, 2) == [moment, moment]


@pytest.mark.parametrize(
    "said",
    [
        {"by_hand": (press(FUZZ, 700_000),)},
        {"by_hand": (press(FUZZ, 700_000), press(DELAY, BAR_US)), "late": "late by 0.6 s"},
        {"by_hand": (press(FUZZ, 700_000), press(LOOPER, 700_000, action=Action.HOLD))},
    ],
    ids=["one press", "no time for it", "what is held can't begin before"],
)
def test_nothing_is_begun_early_without_need_or_time(said: dict[str, Any]) -> None:
    """A press that fits on the beat belongs there."""
    assert set(moments(seen(3, **said), 2)) == {"At the cue"}


def test_after_a_part_without_free_bars_nothing_is_begun_early() -> None:
    """The hands are busy until the last note: the second cue comes after a part that leaves none free."""
    assert set(moments(seen(2, by_hand=(press(FUZZ, 1), press(DELAY, BAR_US))), 1)) == {"At the cue"}


def test_out_of_a_segue_the_bars_are_those_of_the_song_before() -> None:
    """Its tempo counts until the cue."""
    songs = (SetEntry(song="Lamp room", segue=True, tempo=48), SetEntry(song="Kelp fire"))
    library = a_library(Gig(rig="board", sets=(GigSet(name="only", songs=songs),)))
    made = with_cue(compiled(library), 6, by_hand=(press(FUZZ, 1), press(DELAY, 2 * BAR_US)))

    view = view_of(library, made, revision=1)

    assert view.songs[1].entries[0].to_do[0].moment == "At the cue, begin in the last bar before"


@pytest.mark.parametrize(("cue", "song", "moment"), [(6, 1, "In the gap before"), (11, 2, "In the interval before")])
def test_what_opens_a_later_set_is_set_in_the_interval(cue: int, song: int, moment: str) -> None:
    """There is no gap after an interval, and twenty minutes are not twenty seconds."""
    view = seen(cue, by_hand=(press(FUZZ, 700_000, moment=Moment.GAP),))

    assert view.songs[song].entries[0].to_do[0].moment == moment


def always_sounding(made: CueList, *units: str) -> CueList:
    """The same gig with some units on throughout, spares and house sounds too."""

    def on(cues: Any) -> Any:
        return tuple(
            cue._replace(states=tuple(s._replace(sounds=s.sounds or s.unit in units) for s in cue.states))
            for cue in cues
        )

    assert made.house
    spares = tuple(replace(spare, cues=on(spare.cues)) for spare in made.spares)
    return replace(made, cues=on(made.cues), spares=spares, house=replace(made.house, cues=on(made.house.cues)))


def test_units_that_always_sound_stand_in_the_legend_and_not_in_each_row() -> None:
    """A lamp that never changes is read fifty times for nothing; one with a display may change what it shows."""
    library = a_library(a_gig(NAMES))

    view = view_of(library, always_sounding(compiled(library), DRIVE, LOOPER), revision=1)

    assert view.legend[-1] == "always on: drive, looper"
    assert [mark.unit for mark in view.songs[0].entries[0].chain] == ["fuzz", "multi-effects", "delay"]


def test_a_unit_that_is_off_once_stays_in_every_row() -> None:
    """Once in the evening is when it is looked for."""
    library = a_library(a_gig(NAMES))
    made = always_sounding(compiled(library), DRIVE)
    states = tuple(state._replace(sounds=False) for state in made.cues[9].states)

    view = view_of(library, with_cue(made, 9, states=states), revision=1)

    assert not any("always on" in words for words in view.legend)
    assert "drive" in [mark.unit for mark in view.songs[0].entries[0].chain]


def test_house_sounds_have_no_bars() -> None:
    """Nobody knows how long a song is that nobody has."""
    library = a_library(a_gig(NAMES))
    made = compiled(library)
    assert made.house
    house = replace(made.house, cues=tuple(cue._replace(bars=None) for cue in made.house.cues))

    view = view_of(library, with_cue(replace(made, house=house), 3, bars=None), revision=1)

    assert [entry.bars for entry in view.last[-1].songs[0].entries] == ["", ""]
    assert view.songs[0].entries[2].bars == "bars not known"


def looped() -> Rig:
    return a_rig().model_copy(update={"loops": {LOOPER: {"loop 1": (FUZZ,)}}})


def test_a_unit_in_a_loop_has_its_own_switch_on_though_it_does_not_sound() -> None:
    """A hollow mark beside a bare "on" looks like an error, and somebody presses it."""
    library = a_library(a_gig(NAMES)).model_copy(update={"rigs": {"board": looped()}})
    made = compiled(library)
    on = tuple(
        move._replace(after="on") if (move.unit, move.member) == (FUZZ, "main") else move
        for move in made.cues[0].by_hand
    )

    tables = view_of(library, with_cue(made, 0, by_hand=on), revision=1).set_up.tables

    home = next(table for table in tables if table.title.startswith("Home"))
    assert home.rows[0][:2] == ("○ fuzz, silicon", "own switch on; its loop decides; gain 2 o'clock")
    assert home.rows[1][:2] == ("○ drive, soft", "off; gain 11 o'clock")


def test_a_check_of_a_unit_in_a_loop_is_of_its_own_switch() -> None:
    """The lamp row says that it does not sound, so a bare "on" beside it would be a riddle."""
    library = a_library(a_gig(NAMES)).model_copy(update={"rigs": {"board": looped()}})
    checks = tuple(ByHand(Action.CHECK, unit, "main", "", "on", Moment.CUE, 3, 0) for unit in (FUZZ, DRIVE))

    view = view_of(library, with_cue(compiled(library), 3, by_hand=checks), revision=1)

    said = [do.words for do in view.songs[0].entries[2].to_do]
    assert said == ["check fuzz: own switch on", "check drive: on"]


def test_the_switch_of_a_loop_is_told_by_the_lamps_alone() -> None:
    """What sounds is the unit in the loop; the switcher's own words say the same again."""
    library = a_library(a_gig(NAMES)).model_copy(update={"rigs": {"board": looped()}})
    made = compiled(library)
    states = tuple(
        state._replace(sounds=True, values={**state.values, "loop 1": "on", "level": "40 %"})
        if state.unit == LOOPER
        else state
        for state in made.cues[2].states
    )
    looper = library.units[LOOPER]
    switches = {**looper.switches, "loop 1": looper.switches["main"], "level": looper.switches["main"]}
    units = {**library.units, LOOPER: looper.model_copy(update={"switches": switches})}

    view = view_of(library.model_copy(update={"units": units}), with_cue(made, 2, states=states), revision=1)

    said = [part.words for sound in view.songs[0].entries[1].sounds for part in sound.parts if sound.unit == "looper"]
    assert said == ["level 40 %"]


def test_the_multi_effects_is_never_left_out_of_the_rows() -> None:
    """It always sounds, but its display is what is looked at."""
    library = a_library(a_gig(NAMES))

    view = view_of(library, compiled(library), revision=1)

    assert all("multi-effects" in [mark.unit for mark in e.chain] for e in view.songs[0].entries if e.chain)
    assert MULTI not in "".join(view.legend)
