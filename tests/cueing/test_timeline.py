"""Gigs in bars and ticks: where scenes begin, when their messages go out, what the markers say."""

from collections.abc import Mapping
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import CueList, Message, MessageKind
from scenebook.cueing.timeline import DIVISION, Mark, Metre, TempoFrom, Timeline, gig_timelines, song_timelines
from scenebook.model import Library, Song
from tests.support import build

BAR = 4 * DIVISION
DRIVE, MULTI, SAMPLER = "drive", "multi", "sampler"
OFF, ON = bytes.fromhex("B0 50 00"), bytes.fromhex("B0 50 7F")


def a_library(
    songs: Mapping[str, Song] | Song, gig: Any = None, *, settle_ms: float = 100, multi_port: str = "out"
) -> Library:
    """A drive switched by a message, a multi-effects with two presets that settles slowly, a sampler with a trigger."""
    units = {
        DRIVE: build.unit(switches={"main": {"message": {"controller": 80}}}),
        MULTI: build.unit(
            switches={"main": {}},
            programs={"count": 128, "first": "0", "settle_ms": settle_ms},
            preset=[{"slot": "0", "stores": {"main": "on"}}, {"slot": "5", "stores": {"main": "on"}}],
        ),
        SAMPLER: build.unit(triggers={"wave": {"note": 60}}),
    }
    rig = build.rig(
        DRIVE,
        MULTI,
        SAMPLER,
        units={
            DRIVE: {"port": "out", "channel": 1},
            MULTI: {"port": multi_port, "channel": 2},
            SAMPLER: {"port": "out", "channel": 3},
        },
        home={MULTI: {"preset": "0"}},
    )
    return build.library(units, rig, songs, gig)


def a_song(*form: Any, **said: Any) -> Song:
    """Soft is home, loud has the drive, far is another preset, hit fires the sampler."""
    scenes = {
        "soft": {},
        "loud": {DRIVE: "on"},
        "far": {MULTI: {"preset": "5"}},
        "hit": {"units": {}, "triggers": [f"{SAMPLER}.wave"]},
    }
    return build.song(scenes, *form, **{"tempo": 120, **said})


def both(library: Library) -> tuple[Library, CueList, CueList]:
    return library, compile_gig(library, build.GIG), compile_gig(library, build.GIG, full=True)


def gig_timeline(library: Library) -> Timeline:
    (timeline,) = gig_timelines(*both(library))
    return timeline


def seconds(timeline: Timeline, tick: int) -> Fraction:
    """Return when a tick is reached, exactly, from the tempos alone."""
    total = Fraction(0)
    for index, (begin, us_per_quarter) in enumerate(timeline.tempos):
        end = timeline.tempos[index + 1].tick if index + 1 < len(timeline.tempos) else tick
        total += Fraction(max(0, min(tick, end) - begin) * us_per_quarter, DIVISION * 1_000_000)
    return total


def sent(timeline: Timeline) -> list[tuple[int, bytes]]:
    """Return all messages of all tracks by their ticks."""
    return sorted(
        ((each.tick, each.data) for track in timeline.tracks for each in track.sent), key=lambda each: each[0]
    )


def words(timeline: Timeline) -> list[str]:
    return [mark.words for mark in timeline.markers]


BARS_2 = [{"scene": "soft", "bars": 2}, {"scene": "loud", "bars": 4}, {"scene": "far", "bars": 1.5}]


def test_scenes_stand_on_bar_lines_after_a_bar_in_which_home_is_sent() -> None:
    """A player who opens the file in a sequencer sees the form of the song, with a bar to count in."""
    timeline = gig_timeline(a_library(a_song(*BARS_2)))

    assert timeline.markers == (
        Mark(0, "home"),
        Mark(BAR, "song: soft"),
        Mark(3 * BAR, "song: loud"),
        Mark(7 * BAR, "song: far"),
    )
    assert timeline.cue_points == (Mark(BAR, "1 song"),)
    assert timeline.tempos == (TempoFrom(0, 500_000),)
    assert timeline.metres == (Metre(0, 4, 4, 24),)
    assert timeline.end == 8 * BAR + BAR // 2


def test_each_channel_has_a_track_and_the_messages_are_those_of_the_cues() -> None:
    """Home and the first scene are sent whole, what follows is lean."""
    timeline = gig_timeline(a_library(a_song(*BARS_2)))

    assert [(track.name, track.channel) for track in timeline.tracks] == [
        ("channel 1: drive", 1),
        ("channel 2: multi", 2),
    ]
    home_and_first = [OFF, bytes.fromhex("C1 00")]
    assert sorted(data for tick, data in sent(timeline) if tick < BAR) == sorted(home_and_first * 2)
    assert [data for tick, data in sent(timeline) if tick >= BAR] == [ON, OFF, bytes.fromhex("C1 05")]


def test_what_a_cue_sends_has_settled_on_its_bar_line_and_not_much_before() -> None:
    """Two bytes and 100 ms for the recall; the switch, three bytes; at most one tick early for each message."""
    timeline = gig_timeline(a_library(a_song(*BARS_2)))
    tick_s = seconds(timeline, 1)

    (on,) = [tick for tick, data in sent(timeline) if data == ON]
    (recall,) = [tick for tick, data in sent(timeline) if data == bytes.fromhex("C1 05")]

    on_lead = seconds(timeline, 3 * BAR) - seconds(timeline, on)
    assert Fraction("0.000960") <= on_lead < Fraction("0.000960") + 2 * tick_s
    recall_lead = seconds(timeline, 7 * BAR) - seconds(timeline, recall)
    assert Fraction("0.100640") <= recall_lead < Fraction("0.100640") + 3 * tick_s


def test_a_pre_roll_has_as_many_bars_as_home_and_the_first_scene_need() -> None:
    """A unit that takes three seconds to settle does so twice before the first bar: seven seconds and no less."""
    timeline = gig_timeline(a_library(a_song(*BARS_2), settle_ms=3_000))

    assert timeline.markers[1] == Mark(4 * BAR, "song: soft")  # 2 s a bar
    recalls = [seconds(timeline, tick) for tick, data in sent(timeline) if data == bytes.fromhex("C1 00")]
    assert recalls[1] - recalls[0] >= Fraction("3.000640")
    assert seconds(timeline, 4 * BAR) - recalls[1] >= Fraction("3.000640")


def test_what_nobody_knows_is_taken_and_the_marker_says_so() -> None:
    """Eight bars, 120 quarters a minute, two bars of gap: guesses, and called that."""
    songs = {"one": a_song("soft", tempo=None), "two": a_song({"scene": "loud", "bars": 1})}
    timeline = gig_timeline(a_library(songs))

    assert timeline.tempos == (TempoFrom(0, 500_000),)
    assert timeline.markers == (
        Mark(0, "home"),
        Mark(BAR, "one: soft (tempo not known, 120 taken; bars not known, 8 taken)"),
        Mark(11 * BAR, "two: loud (gap before not known, 2 bars taken)"),
    )


@pytest.mark.parametrize(
    ("first", "bars"),
    [
        ({"song": "one", "gap": "3 s"}, 4),  # 2 bars and 3 s of 2 s each: to the next line
        ({"song": "one", "gap": "4 s"}, 4),
        ({"song": "one", "gap": "0 s"}, 2),
        ({"song": "one", "segue": True}, 2),
        ({"song": "one", "form": [{"scene": "soft", "bars": 1.25}], "segue": True}, 2),
        ({"song": "one", "form": [{"scene": "soft", "bars": 1.25}], "gap": "1 s"}, 2),
        ({"song": "one", "tempo": 240, "gap": "3 s"}, 5),  # at tonight's tempo
    ],
)
def test_a_gap_goes_at_the_tempo_of_the_song_before_to_the_next_bar_line(first: dict[str, Any], bars: int) -> None:
    """However long the singer talks, the next song begins on a bar line of the grid."""
    songs = {
        "one": a_song({"scene": "soft", "bars": 2}),
        "two": a_song({"scene": "loud", "bars": 1}, tempo=60, metre="3/4"),
    }
    timeline = gig_timeline(a_library(songs, build.gig(first, "two")))

    begin = BAR + bars * BAR
    assert timeline.markers[-1] == Mark(begin, "two: loud")
    assert timeline.tempos[-1] == TempoFrom(begin, 1_000_000)
    assert timeline.metres[-1] == Metre(begin, 3, 4, 24)
    assert timeline.end == begin + 3 * DIVISION


def test_an_interval_is_the_gap_after_a_set() -> None:
    """The second half begins after the break, and a break of unknown length takes two bars."""
    songs = {name: a_song({"scene": "soft", "bars": 1}) for name in ("one", "two", "three")}
    sets = [
        {"name": "first", "songs": ["one"], "interval": "1 min"},
        {"name": "second", "songs": ["two"]},
        {"name": "third", "songs": ["three"]},
    ]
    timeline = gig_timeline(a_library(songs, build.gig(sets=sets)))

    assert timeline.markers[1:] == (
        Mark(BAR, "one: soft"),
        Mark(32 * BAR, "two: soft"),
        Mark(35 * BAR, "three: soft (gap before not known, 2 bars taken)"),
    )


@pytest.mark.parametrize(
    ("metre", "expected", "bar"),
    [
        ("6/8", Metre(0, 6, 8, 36), 3 * DIVISION),
        ("7/8", Metre(0, 7, 8, 12), 7 * DIVISION // 2),
        ("5/4", Metre(0, 5, 4, 24), 5 * DIVISION),
        ("2/2", Metre(0, 2, 2, 48), 4 * DIVISION),
        ("3/32", Metre(0, 3, 32, 3), 3 * DIVISION // 8),
    ],
)
def test_a_bar_is_as_long_as_its_metre_says(metre: str, expected: Metre, bar: int) -> None:
    """The tempo counts quarter notes in every metre; the click is on the beat, in 6/8 on every third."""
    timeline = gig_timeline(a_library(a_song({"scene": "soft", "bars": 2}, metre=metre), settle_ms=0))

    assert timeline.metres == (expected,)
    assert timeline.end == timeline.markers[1].tick + 2 * bar
    assert timeline.markers[1].tick == bar


def test_triggers_fire_on_the_bar_line_and_are_released_after_100_ms() -> None:
    """A sampler that plays along must begin with the bar, not before it."""
    timeline = gig_timeline(a_library(a_song({"scene": "soft", "bars": 1}, {"scene": "hit", "bars": 1})))

    (track,) = [track for track in timeline.tracks if track.channel == 3]
    (on_tick, on), (off_tick, off) = track.sent
    assert (on_tick, on[:2], off[:2]) == (2 * BAR, bytes.fromhex("92 3C"), bytes.fromhex("82 3C"))
    held = seconds(timeline, off_tick) - seconds(timeline, on_tick)
    assert Fraction("0.1") <= held < Fraction("0.102")  # and the note's own bytes


def test_a_scene_shorter_than_the_settling_keeps_its_order_and_says_that_it_is_late() -> None:
    """Half a bar of one second, and a recall of three: the next recall waits until the unit obeys again."""
    form = [{"scene": name, "bars": 0.5} for name in ("soft", "far", "soft", "far")]
    timeline = gig_timeline(a_library(a_song(*form), settle_ms=3_000))

    recalls = [(seconds(timeline, tick), data[1]) for tick, data in sent(timeline) if data[0] == 0xC1]
    assert [program for _, program in recalls] == [0, 0, 5, 0, 5]
    times = [time for time, _ in recalls]
    assert all(later - earlier >= Fraction("3.000640") for earlier, later in pairwise(times))
    assert words(timeline)[2:] == [
        "song: far (messages 2001 ms late)",
        "song: soft (messages 4002 ms late)",
        "song: far (messages 6002 ms late)",
    ]
    assert timeline.end >= max(tick for tick, _ in sent(timeline))


def test_each_port_has_a_timeline_of_its_own_with_the_same_bars() -> None:
    """Two players side by side stay together, and a slow unit on one port does not hurry the other's switches."""
    library, lean, full = both(a_library(a_song(*BARS_2), multi_port="wet", settle_ms=900))
    out, wet = gig_timelines(library, lean, full)

    assert (out.port, wet.port) == ("out", "wet")
    assert (out.tempos, out.metres, out.markers, out.end) == (wet.tempos, wet.metres, wet.markers, wet.end)
    assert [track.name for track in (*out.tracks, *wet.tracks)] == ["channel 1: drive", "channel 2: multi"]
    assert out.tracks[0].sent[1].tick > BAR - 100
    assert wet.tracks[0].sent[1].tick < BAR - BAR * 9 // 20  # 900 ms of 2 s


def test_songs_by_themselves_begin_with_a_full_list_and_count_sets_spares_and_house_sounds() -> None:
    """A file a song, for a band that calls its songs as it goes."""
    songs = {
        "one": a_song({"scene": "loud", "bars": 2}, {"scene": "soft", "bars": 2}),
        "two": a_song({"scene": "far", "bars": 1}, tempo=90),
        "house": a_song("soft", "loud", tempo=None),
    }
    gig = build.gig({"song": "one", "segue": True}, "two", {"song": "one", "tempo": 60}, spares=["two"], house="house")
    timelines = song_timelines(*both(a_library(songs, gig)))

    assert [(each.number, each.song, each.tempos) for each in timelines] == [
        (1, "one", (TempoFrom(0, 500_000),)),
        (2, "two", (TempoFrom(0, 666_667),)),
        (3, "one", (TempoFrom(0, 1_000_000),)),
        (4, "two", (TempoFrom(0, 666_667),)),
        (5, "house", (TempoFrom(0, 500_000),)),
    ]
    assert [data for tick, data in sent(timelines[0])] == [bytes.fromhex("C1 00"), ON, OFF]
    assert timelines[0].markers == (Mark(BAR, "one: loud"), Mark(3 * BAR, "one: soft"))
    assert sorted(data for _, data in sent(timelines[1])) == [OFF, bytes.fromhex("C1 05")]


def test_a_rig_that_hears_no_messages_has_no_timeline() -> None:
    """There is nothing to play to feet and hands."""
    library = build.library({DRIVE: build.unit()}, build.rig(DRIVE), build.song({"soft": {}}, "soft"))

    assert gig_timelines(*both(library)) == song_timelines(*both(library)) == ()


def test_a_gig_without_songs_has_no_timeline() -> None:
    """Home alone is no gig."""
    library = a_library({}, build.gig())

    assert gig_timelines(*both(library)) == song_timelines(*both(library)) == ()


def test_two_forms_of_one_gig_are_asked_for() -> None:
    """Two lean lists would make a file that can be played from the start alone."""
    library, lean, full = both(a_library(a_song(*BARS_2)))

    for pair in ((lean, lean), (full, full), (full, lean)):
        with pytest.raises(ValueError, match="lean and the full list"):
            gig_timelines(library, *pair)
        with pytest.raises(ValueError, match="lean and the full list"):
            song_timelines(library, *pair)


tempos = st.one_of(st.none(), st.floats(20, 400, allow_nan=False), st.sampled_from([20, 110, 400]))
parts = st.fixed_dictionaries(
    {"scene": st.sampled_from(["soft", "loud", "far", "hit"]), "bars": st.sampled_from([None, 0.01, 0.25, 1, 3])}
)


@given(
    forms=st.lists(st.tuples(tempos, st.lists(parts, min_size=1, max_size=6)), min_size=1, max_size=4),
    gaps=st.lists(st.sampled_from([{"segue": True}, {"gap": "1 s"}, {}]), min_size=4, max_size=4),
    settle_ms=st.sampled_from([0, 0.5, 100, 2_500]),
)
def test_order_and_waits_hold_at_any_tempo(forms: list[Any], gaps: list[Any], settle_ms: float) -> None:
    """From 20 to 400 a minute, scenes of any length: no message shares a tick or comes before its unit is ready."""
    songs = {str(number): a_song(*form, tempo=tempo) for number, (tempo, form) in enumerate(forms)}
    gig = build.gig(*({"song": name, **gap} for name, gap in zip(songs, gaps, strict=False)))
    library, lean, full = both(a_library(songs, gig, settle_ms=settle_ms))
    timeline = gig_timelines(library, lean, full)[0]

    firsts = {next(cue.number for cue in lean.cues if cue.entry == entry) for entry in range(len(songs))}
    cues = [(full if cue.number in firsts else lean).cues[cue.number] for cue in lean.cues]
    messages = [message for cue in cues for message in cue.messages]
    laid = sent(timeline)
    assert [data for _, data in laid] == [message.data for message in messages]
    assert len({tick for tick, _ in laid}) == len(laid)
    _no_wait_is_shorter(timeline, messages, Fraction(settle_ms) * 1000)
    for cue, mark in zip(cues[1:], timeline.markers[1:], strict=True):
        begin = sum(len(each.messages) for each in cues[: cue.number])
        mine = list(zip(laid[begin : begin + len(cue.messages)], cue.messages, strict=True))
        assert " ms late" in mark.words or _is_in_time(timeline, mark.tick, mine, Fraction(settle_ms) * 1000)


def _no_wait_is_shorter(timeline: Timeline, messages: list[Message], settle_us: Fraction) -> None:
    """The wire is free and the unit obeys when a message begins."""
    wire = obeys = Fraction(0)
    for (tick, data), message in zip(sent(timeline), messages, strict=True):
        now = seconds(timeline, tick) * 1_000_000
        assert now >= wire
        assert message.unit != MULTI or now >= obeys
        wire = now + 320 * len(data)
        obeys = wire + settle_us if message.kind is MessageKind.RECALL else obeys


def _is_in_time(timeline: Timeline, line: int, mine: list[tuple[tuple[int, bytes], Message]], settle: Fraction) -> bool:
    """Tell whether all is settled on the bar line and the first trigger stands on it."""
    triggers = [tick for (tick, _), message in mine if message.kind is MessageKind.TRIGGER]
    ends = [
        seconds(timeline, tick) * 1_000_000 + 320 * len(data) + (settle if message.kind is MessageKind.RECALL else 0)
        for (tick, data), message in mine
        if message.kind is not MessageKind.TRIGGER
    ]
    return triggers[:1] in ([], [line]) and max(ends, default=0) <= seconds(timeline, line) * 1_000_000
