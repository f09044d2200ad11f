"""A sheet that is described once is done: a second one finds nothing, and compiling recalls what the first one told."""

import random
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from scenebook.actions.boxes import box_warnings, note_written
from scenebook.actions.planning_sheets import program_rig
from scenebook.actions.stored_presets import presets_plan
from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import CueList, recalled_slots
from scenebook.errors import ScenebookError
from scenebook.model import Library, Unit
from scenebook.planning.programming import programming
from scenebook.storage import Box, create_library, open_library
from tests.support.build import GIG, RIG, gig, library, rig, song, unit
from tests.support.gigs_at_random import gig_at_random

CLOCK = ["9 o'clock", "12 o'clock", "3 o'clock"]
PROGRAMS = {"count": 12, "first": "0", "settle_ms": 10, "foot": True}


def at_random(seed: int) -> Library:
    """Return a library with units of which no preset is described; what scenes determine differs, some name slots."""
    chance = random.Random(seed)
    units = {f"unit {n}": _unit(chance) for n in range(chance.choice([1, 2]))}
    named = {name for name in units if chance.random() < 0.2}
    songs = {
        f"song {n}": song(
            {f"scene {k}": {u: _setting(chance, units[u], u in named) for u in units} for k in range(3)}, tempo=120
        )
        for n in range(2)
    }
    place = {name: {"port": "p", "channel": at} for at, name in enumerate(units, 1) if chance.random() < 0.7}
    return library(units, rig(*units, units=place), songs, gig(*songs, "song 0"))


def _unit(chance: random.Random) -> Unit:
    switches: dict[str, dict[str, Any]] = {
        f"switch {n}": {"foot": True, **({"message": {"controller": 70 + n}} if chance.random() < 0.5 else {})}
        for n in range(chance.randint(1, 3))
    }
    controls = {f"knob {n}": {"scale": "clock"} for n in range(chance.randint(0, 2))}
    programs = {**PROGRAMS, "count": chance.choice([4, 12]), "silence_ms": chance.choice([0, 30])}
    return unit(switches=switches, controls=controls, programs=programs)


def _setting(chance: random.Random, thing: Unit, named: bool) -> dict[str, str]:
    said = {m: chance.choice(CLOCK if m in thing.controls else ["on", "off"]) for m in thing.members}
    said = {member: text for member, text in said.items() if chance.random() < 0.8}
    return {"preset": chance.choice("01")} if named and chance.random() < 0.3 else said


def stored(of: Library, path: Path) -> Path:
    """Keep a library in a file."""
    create_library(path)
    with open_library(path) as store, store.change("begin") as change:
        for name, each in of.units.items():
            change.put_unit(name, each)
        change.put_rig(RIG, of.rigs[RIG])
        for name, one in of.songs.items():
            change.put_song(name, one)
        change.put_gig(GIG, of.gigs[GIG])
    return path


def held(path: Path) -> tuple[int, Library, list[Box]]:
    with open_library(path) as store:
        return store.revision, store.library(), store.boxes()


def compiles(of: Library) -> CueList | None:
    try:
        return compile_gig(of, GIG, RIG)
    except ScenebookError:
        return None


def by_hand_us(of: CueList) -> int:
    return sum(move.us for cue in of.cues for move in cue.by_hand)


@pytest.mark.parametrize("made", [at_random, gig_at_random])
@pytest.mark.parametrize("seed", range(8))
def test_written_once_all_agree_and_a_second_sheet_changes_nothing(made: Any, seed: int, tmp_path: Path) -> None:
    """Each slot is recalled, hands have no more to do than before, no box is stale, and there is nothing left."""
    path = stored(made(seed), tmp_path / "library.scenebook")
    before = compiles(held(path)[1])

    first = program_rig(path, RIG, as_presets=True)
    if first.plan.units:
        note_written(path, first)
    then = held(path)
    second = program_rig(path, RIG, as_presets=True)
    if second.plan.units:
        note_written(path, second)

    told = {(each.unit, slot.label) for each in first.plan.units for slot in each.slots}
    after = compiles(then[1])
    assert [each.slots for each in second.plan.units] == [() for _ in second.plan.units]
    assert held(path) == then
    assert (after is None, bool(told) and before is None) == (before is None, False)
    if before is not None and after is not None:
        assert told <= set(recalled_slots(after))
        assert by_hand_us(after) <= by_hand_us(before)
        stale = box_warnings(then[1], RIG, GIG, after, then[2])
        assert not any(
            f"{name}, copy" in each and (f"holds {slot} " in each or f"the box: {slot} " in each)
            for each in stale
            for name, slot in told
        )


KNOBS = {"mix": {"scale": "clock"}, "time": {"scale": "clock"}, "tone": {"scale": "clock"}}


def knobs(*scenes: dict[str, str], which: Unit | None = None, **of_rig: Any) -> Library:
    which = which or unit(switches={"main": {"foot": True}}, controls=KNOBS, programs=PROGRAMS)
    said = {f"scene {n}": {"echo": {"main": "on", **each}} for n, each in enumerate(scenes)}
    return library({"echo": which}, rig("echo", **of_rig), song(said))


def test_of_a_blank_unit_what_most_scenes_determine_is_stored() -> None:
    """Slots that hold the tone too could be recalled by the one scene that says it, and by none of the others."""
    nine, noon, three = CLOCK
    of = knobs({"mix": nine, "time": nine}, {"mix": three, "time": three}, {"mix": noon, "time": noon, "tone": nine})

    (found,) = presets_plan(of, RIG).units

    assert [list(slot.stores) for slot in found.slots] == [["mix", "time"]] * 3
    assert [use.scene for use in found.unset["tone"]] == ["scene 2"]


def test_what_is_quicker_to_send_gets_no_slot() -> None:
    """Three bytes are sent long before a recall has settled: nobody stores at the hotel what nothing calls up."""
    mix = {"mix": {"scale": "percent", "message": {"controller": 20}}}
    heard = unit(switches={"main": {"message": {"controller": 80}}}, controls=mix, programs=PROGRAMS)
    of = knobs({"mix": "20 %"}, {"mix": "60 %"}, which=heard, units={"echo": {"port": "p", "channel": 1}})

    (found,) = presets_plan(of, RIG).units

    assert programming(of, RIG, as_presets=True).units[0].slots
    assert found.slots == ()


def test_recalls_that_are_heard_are_counted_as_they_are_compiled() -> None:
    """Of two scenes that name presets and one between that is sent, one recall is heard, and not three."""
    said: dict[str, Any] = {"switches": {"main": {"message": {"controller": 80}}}}
    said["controls"] = {"mix": {"scale": "percent", "message": {"controller": 20}}}
    presets = [{"slot": slot, "stores": {"mix": text}} for slot, text in (("0", "10 %"), ("1", "90 %"))]
    which = unit(preset=presets, programs={**PROGRAMS, "silence_ms": 30}, **said)
    of = knobs(
        {"preset": "0"}, {"mix": "70 %"}, {"preset": "1"}, which=which, units={"echo": {"port": "p", "channel": 1}}
    )

    (found,) = presets_plan(of, RIG).units

    assert [(hole.before, hole.after, hole.ms, hole.times) for hole in found.holes] == [("scene 1", "scene 2", 30.0, 1)]


def test_a_slot_that_anything_names_is_not_stored_over() -> None:
    """Nobody has described what is in slot 0, and another rig stands in it at home."""
    scenes = [dict.fromkeys(KNOBS, text) for text in CLOCK]
    of = knobs(*scenes)
    other = {RIG: of.rigs[RIG], "other": rig("echo", home={"echo": {"preset": "0"}})}

    free, named = (programming(each, RIG) for each in (of, of.model_copy(update={"rigs": other})))

    assert [slot.label for slot in free.units[0].slots] == ["0", "1", "2"]
    assert [slot.label for slot in named.units[0].slots] == ["1", "2", "3"]


def test_where_a_slot_that_nobody_described_is_recalled_nothing_is_stored_that_only_hands_set() -> None:
    """After that recall nobody would know how the knobs stand, and a gig that compiled would be refused."""
    scenes = [dict.fromkeys(KNOBS, text) for text in CLOCK]
    of = knobs(*scenes, {"preset": "7", "mix": CLOCK[0]})

    (found,) = presets_plan(of, RIG).units

    assert compiles(of) is not None
    assert found.slots == ()


def test_a_gig_that_cannot_be_compiled_is_left_out_or_refused_where_it_was_named() -> None:
    """It recalls nothing."""
    deaf = unit(switches={"main": {"foot": True}, "deep": {}}, programs=PROGRAMS)
    of = knobs({"deep": "on"}, which=deaf)

    plan = presets_plan(of, RIG)

    assert [(name, "nothing works 'deep'" in why) for name, why in plan.left_out] == [(GIG, True)]
    assert [each.slots for each in plan.units] == [()]
    with pytest.raises(ScenebookError, match="nothing works 'deep'"):
        presets_plan(of, RIG, [GIG])


def test_what_a_sheet_does_not_change_is_not_checked_again_where_it_is_noted(tmp_path: Path) -> None:
    """A unit whose volts an older version took in, and nobody can read, holds its presets all the same."""
    named = {"slot": "0", "stores": {"mix": CLOCK[0]}}
    which = unit(switches={"main": {"foot": True}}, controls=KNOBS, programs=PROGRAMS, preset=[named])
    path = stored(knobs({"preset": "0"}, which=which), tmp_path / "library.scenebook")
    with closing(sqlite3.connect(path)) as old, old:
        old.execute("""UPDATE unit SET body = json_set(body, '$.supply', json('{"volts":"see plate"}'))""")

    noted = note_written(path, program_rig(path, RIG))

    assert noted.slots == {"echo": len(held(path)[2])}
