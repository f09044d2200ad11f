"""The line check: what a cue touches, the fewest cues that touch all of it, and what is not used tonight."""

from collections.abc import Iterator, Sequence
from contextlib import suppress
from itertools import combinations, count
from typing import Any

import pytest

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import Cue
from scenebook.errors import ScenebookError
from scenebook.model import MAIN, Control, Library, Unit
from scenebook.planning.line_check import ASSUMED, Kind, LineCheck, Touching, line_check
from scenebook.proof.reading import read_gig
from scenebook.states.stage import stage_of
from scenebook.storage.folder import read_folder
from tests.demo_library.reading import DEMO
from tests.support.build import GIG, RIG, gig, library, rig, song, unit
from tests.support.compiling import on_port
from tests.support.gigs_at_random import gig_at_random

ON = {"main": "on"}
FUZZ = unit(roles=["fuzz"], switches={"main": {"message": {"controller": 80}}, "fat": {"message": {"controller": 81}}})
DRIVE = unit(roles=["drive"], switches={"main": {"message": {"controller": 82}}})
DELAY = unit(
    switches={"main": {"message": {"controller": 83}}, "hold": {"foot": True, "momentary": True}},
    triggers={"hit": {"note": 60}, "clear": {"foot": True}},
)
WAH = unit(switches={"main": {"foot": True}}, controls={"sweep": {"scale": "percent", "pedal": True}})
MULTI = unit(preset=[{"slot": "1"}, {"slot": "2"}], switches={})
UNITS = {"fuzz": FUZZ, "drive": DRIVE, "delay": DELAY, "wah": WAH, "multi": MULTI}


def evening(scenes: dict[str, Any], *, units: tuple[str, ...] = tuple(UNITS), **said: Any) -> Library:
    """Return a gig of one song; the multi-effects is on a port of its own."""
    placements = {**on_port(*(name for name in units if name not in ("multi", "wah")))}
    placements |= on_port("multi", port="wet") if "multi" in units else {}
    chosen = {name: UNITS[name] for name in units}
    return library(
        chosen, rig(*units, units=placements), {"one": song(scenes), **said.pop("songs", {})}, gig("one", **said)
    )


def candidates(of: Library, name: str = GIG, carrier: str = RIG) -> list[Cue]:
    found = compile_gig(of, name, carrier, full=True)
    house = found.house.cues if found.house else ()
    return [*found.cues[1:], *(cue for spare in found.spares for cue in spare.cues), *house]


def checked(of: Library) -> LineCheck:
    return line_check(candidates(of), stage_of(of, RIG, of.gigs[GIG]), of.songs)


def said(check: LineCheck) -> list[tuple[str, list[str]]]:
    """Return each cue's scene with what it is the first to touch, by kind; loudness apart."""
    ends = (Kind.LOUDEST, Kind.QUIETEST)
    return [
        (each.cue.scene, [f"{thing.kind}: {thing}" for thing in each.first if thing.kind not in ends])
        for each in check.checks
    ]


def test_one_scene_may_touch_all() -> None:
    """Then nobody has to listen to more than one, the loudest and the quietest at once."""
    of = evening({"b": {"drive": ON, "fuzz": {**ON, "fat": "on"}}}, units=("drive", "fuzz"))

    assert said(checked(of)) == [("b", ["a message goes out: front", "sounds: drive", "sounds: fuzz", "on: fuzz fat"])]


def test_a_unit_has_to_sound_and_a_preset_to_be_recalled() -> None:
    """The multi-effects always sounds, and one recall of any preset shows that its lead is in."""
    of = evening({"a": {"multi": {"preset": "1"}}, "b": {"fuzz": ON}}, units=("multi", "fuzz"))

    assert said(checked(of)) == [
        ("a", ["a message goes out: wet", "a message goes out: front", "sounds: multi", "recalled: multi"]),
        ("b", ["sounds: fuzz"]),
    ]


def test_a_switch_counts_only_while_its_unit_sounds() -> None:
    """Nobody hears whether the fat switch works while the fuzz is bypassed."""
    of = evening({"a": {"delay": ON, "fuzz": {"fat": "on"}}, "b": {"delay": ON, "fuzz": ON}}, units=("fuzz", "delay"))

    assert "fuzz fat" in [str(thing) for thing in checked(of).untouched]


def test_pedals_held_switches_and_triggers_are_touched() -> None:
    """Each has a lead, a jack or a foot of its own that can fail."""
    of = evening(
        {
            "a": {"wah": ON},
            "b": {"units": {"delay": {**ON, "hold": "the last word"}}, "triggers": ["delay.hit", "delay.clear"]},
        },
        units=("wah", "delay"),
    )

    assert said(checked(of)) == [
        ("a", ["a message goes out: front", "sounds: wah", "pedal to move: wah sweep"]),
        ("b", ["sounds: delay", "on: delay hold", "fired: delay hit", "fired: delay clear"]),
    ]


def test_what_no_cue_touches_is_named() -> None:
    """A unit that stays silent is named by itself, and not once more for each of its switches."""
    of = evening({"a": {"delay": ON}}, units=("fuzz", "delay", "multi"))
    kinds = [(thing.kind, str(thing)) for thing in checked(of).untouched]

    assert kinds == [
        (Kind.PORT, "wet"),
        (Kind.SOUNDS, "fuzz"),
        (Kind.RECALLED, "multi"),
        (Kind.ON, "delay hold"),
        (Kind.FIRED, "delay hit"),
        (Kind.FIRED, "delay clear"),
    ]


def test_house_sounds_and_spare_songs_serve_as_well() -> None:
    """One house sound may save three cues."""
    more = {
        "spare": song({"s": {"fuzz": ON}}),
        "sounds": song({"big": {"fuzz": {**ON, "fat": "on"}, "drive": ON}}),
    }
    scenes = {"a": {}, "b": {"drive": ON}}
    of = evening(scenes, units=("fuzz", "drive"), songs=more, spares=["spare"], house="sounds")

    assert [each.cue.scene for each in checked(of).checks] == ["a", "big"]


def levelled(**levels: float | None) -> Library:
    """Return a gig in which every scene says the same, with these levels in dB."""
    scenes = {name: {"units": {"drive": ON}, **({} if db is None else {"level": db})} for name, db in levels.items()}
    return evening(scenes, units=("drive",))


def test_the_quietest_and_the_loudest_are_among_them() -> None:
    """The house has to hear both; before the loudest everybody is warned, and it is said by how much."""
    check = checked(levelled(a=-3, b=-20, c=0, d=-3))

    assert [each.cue.scene for each in check.checks] == ["b", "c"]
    assert [bool(each.caution) for each in check.checks] == [False, True]
    assert "20 dB above the quietest" in check.checks[1].caution
    assert "agree with the house" in check.checks[1].caution
    assert "protect your hearing" in check.checks[1].caution


def test_scenes_without_a_level_are_counted() -> None:
    """They may be louder than any that has one."""
    assert checked(levelled(a=-3, b=None, c=0)).loudness.endswith("1 of 3 cues have none and may be louder")


def test_with_no_level_at_all_loudness_is_assumed_and_said_to_be() -> None:
    """Two gain stages are louder than one, mostly."""
    of = evening({"a": {"drive": ON}, "b": {"drive": ON, "fuzz": ON}, "c": {}}, units=("drive", "fuzz"))

    check = checked(of)

    assert check.loudness == ASSUMED
    assert [each.cue.scene for each in check.checks] == ["b", "c"]
    assert check.checks[0].caution
    assert "dB" not in check.checks[0].caution


def test_a_unit_that_is_out_is_not_asked_for() -> None:
    """It is not on the stage."""
    of = evening({"a": {"drive": ON}}, units=("fuzz", "drive"), out=["fuzz"])

    assert checked(of).untouched == ()


def test_a_gig_without_songs_needs_no_cue() -> None:
    """It is said that nothing is used."""
    of = evening({"a": {}}, units=("drive",))
    check = line_check([], stage_of(of, RIG, of.gigs[GIG]), of.songs)

    assert check.checks == ()
    assert [str(thing) for thing in check.untouched] == ["front", "drive"]


def read_plainly(of: Library) -> list[set[tuple[str, str]]]:
    """Return for each form entry which units sound and which switches are on then, by the proof's own reading."""
    _, readings = read_gig(of, of.gigs[GIG], of.rigs[RIG])
    return [
        {found for name, asked in reading.units.items() for found in _plain(name, of.units[name], asked.values)}
        for reading in readings[1:]
    ]


def _plain(name: str, thing: Unit, values: dict[str, Any]) -> Iterator[tuple[str, str]]:
    if MAIN in thing.switches and values.get(MAIN) != "on":
        return
    yield name, "sounds"
    for member, each in thing.members.items():
        if isinstance(each, Control):
            yield from [(name, member)] if each.pedal else []
        elif member != MAIN and values.get(member) == "on":
            yield name, member


def _playable(seed: int) -> Iterator[tuple[Library, list[Cue]]]:
    for each in count(seed * 1000):
        of = gig_at_random(each)
        with suppress(ScenebookError):
            yield of, candidates(of)


def shortest_by_trying_all(held: Sequence[frozenset[Any]]) -> tuple[int, ...]:
    wanted = frozenset[Any]().union(*held)
    return next(
        numbers
        for size in range(len(held) + 1)
        for numbers in combinations(range(len(held)), size)
        if frozenset[Any]().union(*(held[number] for number in numbers)) == wanted
    )


@pytest.mark.parametrize("seed", range(40))
def test_no_shorter_list_touches_all_of_a_random_gig(seed: int) -> None:
    """All lists are tried; and all that sounds by the proof's reading of the library does so in the list."""
    of, cues = next(_playable(seed))
    touching = Touching(cues, stage_of(of, RIG, of.gigs[GIG]), of.songs)

    numbers = touching.shortest()

    assert numbers == shortest_by_trying_all(touching.held)
    plain = read_plainly(of)
    assert set().union(*(plain[number] for number in numbers)) == set().union(*plain)


@pytest.mark.parametrize(
    ("name", "carrier", "cues"),
    [
        ("Pell Quay hall", "hall board", 12),
        ("Skerrow Head fly-in", "fly board", 4),
        ("Tallow reading room", "fly board, no MIDI", 4),
    ],
)
def test_the_demo_library_is_checked_in_a_few_cues(name: str, carrier: str, cues: int) -> None:
    """Every unit of a rig that sounds at all does so, and everything is either touched or named."""
    of, _ = read_folder(DEMO)
    stage, asked = stage_of(of, carrier, of.gigs[name]), candidates(of, name, carrier)

    check = line_check(asked, stage, of.songs)

    assert len(check.checks) == cues
    touched = {thing for each in check.checks for thing in each.first}
    assert touched == frozenset().union(*Touching(asked, stage, of.songs).held)
    named = {thing.name for thing in (*touched, *check.untouched)}
    assert {each.name for each in stage.carried} <= named
    assert sum(bool(each.caution) for each in check.checks) >= 1
