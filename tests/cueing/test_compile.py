"""A gig as a whole: its cues in order, spare songs and house sounds, warnings, and what is refused."""

from typing import Any

import pytest

from scenebook.cueing.compile import compile_gig
from scenebook.errors import BadValueError, ControllerError, UnknownNameError
from scenebook.model import Library, Unit
from tests.support.build import GIG, gig, library, rig, song, unit
from tests.support.compiling import compiled, hands, on_port, one_song, sent, stands

DRIVE = unit(switches={"main": {"message": {"controller": 80}}})


def test_cues_are_home_and_every_part_of_every_form_in_order() -> None:
    """A chorus is stored once and played twice; an entry may have a form of its own tonight."""
    scenes: dict[str, Any] = {"verse": {}, "chorus": {"drive": "on"}}
    parts: list[Any] = [
        {"scene": "verse", "bars": 8, "words": "drums count in"},
        {"scene": "chorus", "bars": 4, "free": 1},
        "verse",
    ]
    songs = {"long": song(scenes, *parts), "short": song(scenes)}
    order: list[Any] = ["long", {"song": "short", "form": ["chorus"]}]

    cues = compiled(library({"drive": DRIVE}, rig("drive", units=on_port("drive")), songs, gig(*order)))

    assert [(c.number, c.entry, c.form, c.song, c.scene, c.bars, c.free, c.words) for c in cues] == [
        (0, None, None, "", "home", None, 0, ""),
        (1, 0, 0, "long", "verse", 8, 0, "drums count in"),
        (2, 0, 1, "long", "chorus", 4, 1, ""),
        (3, 0, 2, "long", "verse", None, 0, ""),
        (4, 1, 0, "short", "chorus", None, 0, ""),
    ]
    assert [sent(cue) for cue in cues] == [["0: B0 50 00"], [], ["0: B0 50 7F"], ["0: B0 50 00"], ["0: B0 50 7F"]]


def test_a_gig_with_no_songs_has_home_alone() -> None:
    """Tonight's board can be set up before the set is chosen."""
    of = library({"drive": DRIVE}, rig("drive", units=on_port("drive")), {}, gig())

    assert [(cue.number, sent(cue)) for cue in compiled(of)] == [(0, ["0: B0 50 00"])]
    assert len(compiled(of, full=True)) == 1


def test_a_song_with_no_scenes_has_no_cues() -> None:
    """It is in the set all the same."""
    of = library({"drive": DRIVE}, rig("drive"), {"empty": song({}), "full": song({"part": {}})})

    assert [(cue.number, cue.song) for cue in compiled(of)] == [(0, ""), (1, "full")]


def test_a_rig_with_no_units_has_cues_with_nothing_to_do() -> None:
    """And says what lacks."""
    of = library({"drive": DRIVE}, rig(), song({"part": {"drive": "on"}}))

    home, cue = compiled(of)

    assert (home.messages, home.by_hand, home.states) == ((), (), ())
    assert (cue.messages, cue.by_hand, cue.states, cue.lacks) == ((), (), (), ("drive",))


def test_spare_songs_and_house_sounds_are_compiled_from_home_each_by_itself() -> None:
    """House sounds are full: they come after anything."""
    songs = {name: song({"a": {"drive": "on"}, "b": {"drive": "on"}}) for name in ("set", "spare", "house")}
    of = library(
        {"drive": DRIVE}, rig("drive", units=on_port("drive")), songs, gig("set", spares=["spare"], house="house")
    )

    made = compile_gig(of, GIG)

    assert [each.song for each in made.spares] == ["spare"]
    assert [[(c.number, sent(c)) for c in each.cues] for each in made.spares] == [[(1, ["0: B0 50 7F"]), (2, [])]]
    assert made.house is not None
    assert [sent(cue) for cue in made.house.cues] == [["0: B0 50 7F"], ["0: B0 50 7F"]]


def test_a_gig_may_be_compiled_for_another_rig() -> None:
    """The board that fits the van."""
    of = one_song({"drive": DRIVE}, {"drive": "on"})
    of = of.model_copy(update={"rigs": {**of.rigs, "small": rig()}})

    made = compile_gig(of, GIG, "small")

    assert made.rig == "small"
    assert made.cues[1].lacks == ("drive",)


@pytest.mark.parametrize(
    ("rig_name", "message"),
    [
        ("van", "gig 'gig': no rig is called 'van'; accepted: rig."),
        (None, "gig 'gig': the gig names no rig; accepted: rig. Name one in the gig, or say which one to compile for."),
    ],
)
def test_a_gig_needs_a_rig(rig_name: str | None, message: str) -> None:
    """The error names those that there are."""
    of = library({}, rig(), {}, gig().model_copy(update={"rig": None}))

    with pytest.raises(UnknownNameError) as caught:
        compile_gig(of, GIG, rig_name)

    assert str(caught.value) == message


def test_a_preset_that_is_not_there_says_what_there_is() -> None:
    """As the display counts them."""
    multi = unit(
        preset=[{"slot": "1A", "name": "plain"}], programs={"count": 6, "first": "1A", "bank_of": 3, "settle_ms": 0}
    )

    with pytest.raises(BadValueError) as out_of_range:
        compiled(one_song({"multi": multi}, {"multi": "4A"}))
    with pytest.raises(UnknownNameError) as unknown:
        compiled(one_song({"multi": multi}, {"multi": "plane"}))
    with pytest.raises(BadValueError) as none_at_all:
        compiled(one_song({"drive": DRIVE}, {"drive": "3"}))

    assert str(out_of_range.value) == (
        "song 'song', scene '1', unit 'multi': slot '4A' is out of range; accepted: 1A to 2C."
    )
    assert str(unknown.value) == (
        "song 'song', scene '1', unit 'multi': no preset is called 'plane'; accepted: a slot from 1A to 2C, or a "
        "name. Did you mean 'plain'?"
    )
    assert str(none_at_all.value) == (
        "song 'song', scene '1', unit 'drive': preset '3' is named, but the unit has no programs. Describe the unit's "
        "programs first."
    )


# --- channels -----------------------------------------------------------------------------------------------------


def banked(**control: Any) -> dict[str, Unit]:
    multi = unit(
        switches={}, preset=[{"slot": "0"}], programs={"count": 300, "first": "0", "bank_select": "msb", "settle_ms": 0}
    )
    other = unit(switches={}, controls={"mix": {"scale": "percent", "message": {"controller": 0, **control}}})
    return {"multi": multi, "other": other}


SAME_CHANNEL = {name: {"port": "front", "channel": 1} for name in ("multi", "other")}


def test_a_controller_that_bank_select_needs_on_the_same_channel_is_an_error() -> None:
    """Setting the mix would change the bank."""
    with pytest.raises(ControllerError) as caught:
        compiled(one_song(banked(), {}, units=SAME_CHANNEL))

    assert str(caught.value) == (
        "rig 'rig': 'mix' of 'other' uses controller 0, which 'multi' needs for Bank Select on the same channel. Put "
        "one of them on another channel, or write by_chart: true if the chart says so."
    )


def test_where_the_makers_chart_says_so_it_is_a_warning() -> None:
    """The chart wins over our taste."""
    warnings = compile_gig(one_song(banked(by_chart=True), {}, units=SAME_CHANNEL), GIG).warnings

    assert warnings[0] == (
        "'mix' of 'other' uses controller 0, which 'multi' needs for Bank Select on the same channel (the maker's "
        "chart says so)"
    )
    assert compile_gig(one_song(banked(), {}), GIG).warnings == ()


def test_a_channel_mode_message_is_an_error_unless_the_chart_says_so() -> None:
    """Controller 123 is All Notes Off to everybody else."""

    def phaser(**message: Any) -> Library:
        return one_song({"phaser": unit(switches={"main": {"message": {"controller": 123, **message}}})}, {})

    with pytest.raises(ControllerError) as caught:
        compiled(phaser())

    assert str(caught.value) == (
        "unit 'phaser': 'main' uses controller 123, which is a channel mode message; accepted: 0 to 119. "
        "Write by_chart: true if the maker's chart says so."
    )
    assert compile_gig(phaser(by_chart=True), GIG).warnings == (
        "phaser: 'main' uses controller 123, which is a channel mode message (the maker's chart says so)",
    )


def test_a_message_that_another_unit_takes_for_its_own_is_warned_of_once() -> None:
    """Both hear controller 80 on channel 1; the third hears everything and knows nothing of it."""
    units = {"drive": DRIVE, "boost": DRIVE, "tuner": unit(switches={"main": {"message": {"note": 1}}})}
    places = {
        "drive": {"port": "front", "channel": 1},
        "boost": {"port": "front", "channel": 2, "hears": [1, 2]},
        "tuner": {"port": "front", "channel": 3, "hears": "omni"},
    }

    made = compile_gig(one_song(units, {"drive": "on"}, {}, {"drive": "on"}, units=places), GIG)

    assert made.warnings == ("'boost' hears what is meant for 'drive': controller 80 = 127, channel 1",)


def test_what_stays_silent_by_its_loop_and_what_lacks_stand_with_their_cue() -> None:
    """A cue says all that a player must know of it."""
    of = one_song({"drive": DRIVE}, {"drive": "on", "fuzz": "on"}, {})
    of = of.model_copy(update={"units": {**of.units, "fuzz": DRIVE}})

    _, first, second = compiled(of)

    assert (first.lacks, second.lacks) == (("fuzz",), ())
    assert stands(first, "drive") == {"main": "on"}
    assert hands(first) == []
