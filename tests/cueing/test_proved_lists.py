"""What the compiler makes, the proof accepts; and no message in it and no microsecond is too many (P1, P3, P4, C4)."""

from collections import Counter
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from scenebook.actions.proving import sent_cues
from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import CueList
from scenebook.errors import SceneError
from scenebook.model import Library, Unit
from scenebook.proof import Prover, SentCue, prove
from scenebook.proof.reading import Asked
from scenebook.storage.folder import read_folder
from tests.demo_library.reading import DEMO
from tests.support.build import GIG, RIG
from tests.support.gigs_at_random import gig_at_random
from tests.support.mutations import Tally, mutations, tally
from tests.support.random_gigs import random_library
from tests.support.second_receiver import BYTE, State, state_after, table_of

RANDOM = [pytest.param(gig_at_random, id="presets"), pytest.param(random_library, id="ports, loops and triggers")]


@pytest.fixture(scope="module")
def demo() -> Library:
    """The demo library, read once."""
    return read_folder(DEMO)[0]


def both(library: Library, gig: str, rig: str) -> tuple[CueList, CueList] | None:
    """Compile a gig, lean and full, or nothing where a scene of it cannot be reached."""
    try:
        return compile_gig(library, gig, rig), compile_gig(library, gig, rig, full=True)
    except SceneError:
        return None


def gigs_at_random(make: Callable[[int], Library], count: int) -> Iterator[tuple[int, Library, CueList, CueList]]:
    for seed in range(count):
        library = make(seed)
        lists = both(library, GIG, RIG)
        if lists is not None:
            yield seed, library, *lists


@pytest.mark.parametrize("make", RANDOM)
def test_every_list_that_the_compiler_makes_is_proved(make: Callable[[int], Library]) -> None:
    """Lean and full, of 600 random gigs: two readings of the scenes that share nothing come to the same."""
    counted: Counter[bool] = Counter()
    for seed, library, *lists in gigs_at_random(make, 600):
        for each in lists:
            proof = prove(library, GIG, RIG, sent_cues(each.cues), full=each.full)
            assert [(seed, each.full, f.number, f.place, f.what) for f in proof.failures] == []
            counted[each.full] += 1

    assert counted[False] == counted[True] > 250


def test_every_gig_of_the_demo_is_proved_on_every_rig(demo: Library) -> None:
    """Any evening on any board, with MIDI or without."""
    for gig in demo.gigs:
        for rig in demo.rigs:
            for each in both(demo, gig, rig) or ():
                proof = prove(demo, gig, rig, sent_cues(each.cues), full=each.full)
                assert [(gig, rig, each.full, f.number, f.place, f.what) for f in proof.failures] == []


@pytest.mark.parametrize("make", RANDOM)
def test_full_ends_where_lean_ends(make: Callable[[int], Library]) -> None:
    """Send again at any cue, and every unit is in the preset, and stands, as if all had gone well until then."""
    for seed, library, lean, full in gigs_at_random(make, 300):
        assert [cue.states for cue in full.cues] == [cue.states for cue in lean.cues]
        assert ends(library, full) == ends(library, lean), seed


def ends(library: Library, compiled: CueList) -> list[dict[str, Any]]:
    """Return for each cue after home what second receivers hold of what it asks; full forgets before each."""
    prover = Prover(library, compiled.gig, compiled.rig)
    before: dict[str, State] = {}
    found = []
    for cue, reading in zip(sent_cues(compiled.cues), prover.readings, strict=True):
        now: dict[str, State] = {}
        for name, unit in prover.tonight.units.items():
            place = prover.tonight.placements[name]
            if place.port is not None and is_heard_whole(unit):
                begun = None if compiled.full and cue.number else before.get(name)
                now[name] = state_after(unit, place, stream_of(cue, place.port), begun, table_of(unit))
        found.append({n: held(prover.tonight.units[n], reading.units[n], state) for n, state in now.items()})
        before = now
    return found[1:]


def is_heard_whole(unit: Unit) -> bool:
    """Whether no foot or hand recalls presets or reaches variants, which nobody on the wire would notice."""
    variants = [variant for preset in unit.presets for variant in preset.variants.values()]
    by_foot = any(variant.controller is None and variant.bytes is None for variant in variants)
    return unit.programs is None or (unit.programs.program_change and not by_foot)


def held(unit: Unit, asked: Asked, state: State) -> Any:
    """Return slot, variant and the determined members that a message sets."""
    members = {m: state["members"].get(m) for m in sorted(asked.values) if unit.members[m].message}
    return state["slot"], state["variant"], members


def stream_of(cue: SentCue, port: str) -> list[tuple[int, bytes]]:
    clock, stream = 0, []
    for message in cue.messages:
        if message.port == port:
            stream.append((clock + message.wait_us, message.data))
            clock += message.wait_us + BYTE * len(message.data)
    return stream


def test_a_gig_compiles_to_the_same_list_every_time(demo: Library) -> None:
    """What was rehearsed is what is played."""
    for gig in demo.gigs:
        assert compile_gig(demo, gig) == compile_gig(demo.model_copy(deep=True), gig)


@pytest.mark.parametrize("gig", ["Pell Quay hall", "Skerrow Head fly-in"])
def test_no_message_and_no_wait_can_be_spared(demo: Library, gig: str, tell: Callable[[str], None]) -> None:
    """Drop any message, or shorten any wait by a microsecond, and the proof fails.

    Bank Select apart, and the note off after a toggling note: where the bank is right already, or the switch has
    flipped, neither changes anything.
    """
    rig = demo.gigs[gig].rig or ""
    compiled = compile_gig(demo, gig, rig)
    sent, prover = sent_cues(compiled.cues), Prover(demo, gig, rig)
    tried: Counter[str] = Counter()
    spared = []
    for mutation in mutations(sent):
        if mutation.name not in ("drop", "wait 1 us less") or may_be_spared(sent[mutation.place], mutation.cue):
            continue
        tried[mutation.name] += 1
        spoiled = [*sent[: mutation.place], mutation.cue, *sent[mutation.place + 1 :]]
        if prover.prove(spoiled, check_bytes=False).ok:
            spared.append((mutation.name, mutation.cue))

    tell(f"{gig}: {dict(tried)}, all of them fail the proof")
    assert spared == []
    assert tried["drop"] > 200
    assert tried["wait 1 us less"] > 0


def may_be_spared(honest: SentCue, spoiled: SentCue) -> bool:
    """Whether the message that is not the same is a Bank Select, or the note off that ends a toggling note."""
    pairs = zip(honest.messages, (*spoiled.messages, None), strict=False)
    data = next(one.data for one, other in pairs if one != other)
    is_bank = data[0] & 0xF0 == 0xB0 and data[1] in (0, 32)
    return is_bank or (data[0] & 0xF0 == 0x80 and not any(m.wait_us for m in honest.messages if m.data == data))


def tallied(demo: Library, at_most: int | None, tell: Callable[[str], None]) -> list[Tally]:
    found = []
    for gig, each in demo.gigs.items():
        rig = each.rig or ""
        found.append(tally(demo, gig, rig, sent_cues(compile_gig(demo, gig).cues), at_most=at_most))
        last = found[-1]
        tell(
            f"{gig}: {last.tried} mutations tried, {last.state_changing} change a state, {last.caught} of them caught, "
            f"{last.falsely_reported} falsely reported"
        )
    return found


def test_every_mutation_that_changes_a_state_is_reported_and_no_other(
    demo: Library, tell: Callable[[str], None]
) -> None:
    """A choice of the lean lists' mutations, judged by a receiver that was written apart."""
    assert [each.disagreements for each in tallied(demo, 500, tell)] == [[]] * len(demo.gigs)


@pytest.mark.parametrize("make", RANDOM)
def test_mutations_of_lists_at_random_are_judged_alike(make: Callable[[int], Library]) -> None:
    """Whatever the units are."""
    found = [
        (seed, tally(library, GIG, RIG, sent_cues(lean.cues), at_most=40).disagreements)
        for seed, library, lean, _ in gigs_at_random(make, 150)
    ]

    assert [(seed, disagreements) for seed, disagreements in found if disagreements] == []
    assert len(found) > 60


@pytest.mark.benchmark
def test_every_single_mutation_is_judged_alike(demo: Library, tell: Callable[[str], None]) -> None:
    """All of them, for whoever has some minutes."""
    assert [each.disagreements for each in tallied(demo, None, tell)] == [[]] * len(demo.gigs)
