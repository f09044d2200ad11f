"""Switches that each message flips: in a file that may be played from any song they are nobody's promise."""

from typing import Any

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import CueList
from scenebook.cueing.timeline import DIVISION, Mark, Timeline, gig_timelines, song_timelines
from scenebook.model import Library
from tests.support import build

BAR = 4 * DIVISION


def toggling(home: Any = None, **looper: Any) -> Library:
    """A looper whose switch each message flips; the first song leaves it on, the second wants it on as well."""
    unit = build.unit(switches={"main": {"toggle": {"controller": 60}}}, **looper)
    rig = build.rig("looper", units={"looper": {"port": "out", "channel": 1}}, home=home or {})
    scenes = {"soft": {}, "round": {"looper": "on"}}
    songs = {
        "one": build.song(scenes, {"scene": "round", "bars": 1}, {"scene": "soft", "bars": 1}, tempo=120),
        "two": build.song(scenes, {"scene": "round", "bars": 1}, {"scene": "round", "bars": 1}, tempo=120),
    }
    return build.library({"looper": unit}, rig, songs, build.gig({"song": "one", "gap": "0 s"}, "two"))


FLIP = bytes.fromhex("B0 3C 7F")


def lists(library: Library) -> tuple[Library, CueList, CueList]:
    return library, compile_gig(library, build.GIG), compile_gig(library, build.GIG, full=True)


def whole(library: Library) -> Timeline:
    (timeline,) = gig_timelines(*lists(library))
    return timeline


def sent(timeline: Timeline) -> list[tuple[int, bytes]]:
    return [(each.tick, each.data) for track in timeline.tracks for each in track.sent]


def words(timeline: Timeline) -> list[str]:
    return [mark.words for mark in timeline.markers]


def test_a_toggling_switch_is_flipped_where_it_would_be_and_the_marker_says_how_it_must_stand() -> None:
    """No full list can promise it, but played from the start it must still be right: on, off, on, and left alone."""
    timeline = whole(toggling())

    assert [data for _, data in sent(timeline)] == [FLIP, FLIP, FLIP]
    lines = [mark.tick for mark in timeline.markers[1:]]
    assert [min(line for line in lines if line >= tick) for tick, _ in sent(timeline)] == lines[:3]
    assert words(timeline)[1:] == [
        "one: round (check: looper main on)",
        "one: soft",
        "two: round (check: looper main on)",
        "two: round",
    ]


def test_a_song_by_itself_flips_no_toggling_switch_at_its_beginning() -> None:
    """Nobody knows how it stands there, so the player looks, and what follows is right."""
    one = song_timelines(*lists(toggling()))[0]

    flips = [tick for tick, data in sent(one) if data == FLIP]
    assert one.markers == (Mark(BAR, "one: round (check: looper main on)"), Mark(2 * BAR, "one: soft"))
    assert len(flips) == 1
    assert BAR < flips[0] < 2 * BAR


def test_a_toggling_switch_that_a_recall_sets_needs_no_look() -> None:
    """After the recall it is known to be off, so the full list itself flips it."""
    said = {"preset": [{"slot": "0", "stores": {"main": "off"}}], "programs": {"first": "0", "settle_ms": 0}}
    timeline = whole(toggling({"looper": {"preset": "0"}}, **said))

    recall = bytes.fromhex("C0 00")
    assert [data for _, data in sent(timeline)] == [recall, recall, FLIP, recall, recall, FLIP]
    assert words(timeline)[1:] == ["one: round", "one: soft", "two: round", "two: round"]
