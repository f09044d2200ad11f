"""The work by hand between songs, read from compiled cues."""

from typing import Any

import pytest

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import Action
from scenebook.model import Library
from scenebook.planning.board import presses_of
from scenebook.planning.compare import compared
from scenebook.planning.work import foot_presses, gig_work
from scenebook.storage.folder import read_folder
from tests.demo_library.reading import DEMO
from tests.support.build import GIG, RIG, gig, library, rig, song, unit

FUZZ = unit(switches={"main": {"foot": True}}, controls={"gain": "0 to 10", "tone": "0 to 10"})


def evening(*songs: dict[str, Any] | str, **said: Any) -> Library:
    """Return a gig of songs of one scene each: "plain", "one" knob, "both" knobs, or "on" by foot."""
    settings = {
        "plain": {},
        "one": {"fuzz": {"main": "on", "gain": "9"}},
        "both": {"fuzz": {"main": "on", "gain": "2", "tone": "3"}},
        "on": {"fuzz": {"main": "on"}},
    }
    named = {name: song({"all": scene}, tempo=120) for name, scene in settings.items()}
    return library({"fuzz": FUZZ}, rig("fuzz"), named, gig(*songs, **said))


def told(of: Library) -> list[tuple[str, str, float, int, str]]:
    changes = gig_work(of, GIG).changes
    return [(each.before, each.after, each.us / 1e6, each.presses, each.late) for each in changes]


def test_what_takes_longest_comes_first() -> None:
    """A press is 0.7 s and a turn 2.5 s; all are made in the gap."""
    assert told(evening("plain", "one", "plain", "both", gap="20 s")) == [
        ("plain", "both", pytest.approx(5.7), 1, ""),
        ("plain", "one", pytest.approx(3.2), 1, ""),
        ("one", "plain", pytest.approx(0.7), 1, ""),
    ]


def test_what_is_late_comes_before_what_takes_longer() -> None:
    """Three seconds are too few for one and plenty for nothing."""
    songs: list[Any] = ["plain", {"song": "both", "gap": "1 s"}, "one", "plain", "both"]

    assert told(evening(*songs, gap="30 s"))[0][:2] == ("both", "one")


def test_another_order_may_take_less() -> None:
    """That is what the command is for."""
    whole = gig_work(evening("plain", "one", "plain", "one", gap="20 s"), GIG).us
    sorted_by_sound = gig_work(evening("plain", "plain", "one", "one", gap="20 s"), GIG).us

    assert sorted_by_sound < whole


def test_the_work_is_what_the_cues_say_and_nothing_else() -> None:
    """On every gig of the demo library and on every rig."""
    demo = read_folder(DEMO)[0]
    for name in demo.gigs:
        for board in demo.rigs:
            cues = compile_gig(demo, name, board).cues
            work = gig_work(demo, name, board)
            firsts = [cue for cue in cues if cue.form == 0 and cue.entry]
            moves = [move for cue in firsts for move in cue.by_hand if move.action is not Action.CHECK]
            assert len(work.changes) == len(firsts)
            assert work.us == sum(move.us for move in moves)
            assert sum(each.presses for each in work.changes) == foot_presses(moves, demo.units)
            assert [each.cue for each in sorted(work.changes, key=lambda each: each.entry)] == [
                cue.number for cue in firsts
            ]


def test_the_time_is_the_gaps_the_intervals_or_nobodys() -> None:
    """As the gig says it."""
    of = evening({"song": "plain", "gap": "5 s"}, "one", {"song": "plain", "segue": True}, "on")

    times = {(each.before, each.after): each.time_us for each in gig_work(of, GIG).changes}

    assert times == {("plain", "one"): 5e6, ("one", "plain"): None, ("plain", "on"): None}


@pytest.mark.parametrize("way", ["hand", "foot"])
def test_a_recall_is_a_press_only_where_a_foot_makes_it(way: str) -> None:
    """Presets that fingers call up cost no foot anything, in the work, side by side, and on the board."""
    presets = [{"slot": "0", "name": "thin"}, {"slot": "1", "name": "wide"}]
    units = {"synth": unit(preset=presets, programs={"count": 8, "first": "0", way: True})}
    songs = {name: song({"all": {"synth": {"preset": name}}}) for name in ("thin", "wide")}
    of = library(units, rig("synth"), songs, gig("thin", "wide", "thin"))
    moves = [move for cue in compile_gig(of, GIG).cues[1:] for move in cue.by_hand]
    presses = sum(move.presses for move in moves if move.action is Action.RECALL) if way == "foot" else 0

    assert bool(presses) is (way == "foot")
    assert foot_presses(moves, units) == presses
    assert bool(sum(each.presses for each in gig_work(of, GIG).changes)) is (way == "foot")
    assert bool(presses_of(of, RIG).by_unit) is (way == "foot")
    assert [each.presses for rigs in compared(of, [RIG])[:1] for facts in rigs for each in facts.gigs] == [presses]
