"""Random gigs with a sender: its lists, pressed in any order, put every unit where its scene wants it (P1, P3, C4)."""

import random
from collections import Counter
from collections.abc import Callable, Iterator

import pytest

from scenebook.actions.proving import sent_cues
from scenebook.cueing.sender_presses import each_alone, in_order
from scenebook.errors import SceneError
from scenebook.model import MAIN, Library
from scenebook.proof import Prover, SentCue, prove
from scenebook.proof.reading import Asked
from tests.cueing.test_proved_lists import is_heard_whole, stream_of
from tests.support.build import GIG, RIG
from tests.support.gigs_at_random import gig_at_random
from tests.support.random_gigs import random_library
from tests.support.second_receiver import State, state_after, table_of
from tests.support.senders import Stored, stored_in

RANDOM = [pytest.param(gig_at_random, id="presets"), pytest.param(random_library, id="ports, loops and triggers")]


def gigs(make: Callable[[int], Library], count: int) -> Iterator[tuple[int, Stored]]:
    """Yield gigs that can be played; some senders serve one port only, some hold pauses, some count in banks."""
    for seed in range(count):
        library, chance = make(seed), random.Random(seed)
        ports = library.rigs[RIG].ports
        if ports:
            served = ports[:1] if chance.random() < 0.3 else ports
            holds = {"pauses": chance.random() < 0.5, "switches": chance.choice([None, 1, 4])}
            try:
                yield seed, stored_in(library, *served, **holds)
            except SceneError:
                continue


@pytest.mark.parametrize("make", RANDOM)
def test_lists_pressed_in_any_order_reach_every_scene(make: Callable[[int], Library]) -> None:
    """A song out of order, a chorus again, home in between: nothing of what came before may matter."""
    looked = 0
    for seed, (library, _, full, stored) in gigs(make, 300):
        prover, cues = Prover(library, GIG, RIG), sent_cues(each_alone(library, full, stored).cues)
        order = list(zip(cues, prover.readings, strict=True))
        random.Random(seed).shuffle(order)
        states: dict[str, State] = {}
        for cue, reading in [*order, *order[::-1]]:
            for name, unit in prover.tonight.units.items():
                place = prover.tonight.placements[name]
                if place.port is None or not is_heard_whole(unit):
                    continue
                stream = stream_of(cue, place.port)
                states[name] = state_after(unit, place, stream, states.get(name), table_of(unit))
                assert differing(unit_members(library, name), reading.units[name], states[name]) == [], (seed, cue)
                looked += 1

    assert looked > 1000


def unit_members(library: Library, name: str) -> list[str]:
    """Return what messages set; the own switch of a unit that is alone in its loop is set once by hand (S11)."""
    loops = [inside for switches in library.rigs[RIG].loops.values() for inside in switches.values()]
    members = library.units[name].members
    return [m for m, thing in members.items() if thing.message and not (m == MAIN and (name,) in loops)]


def differing(members: list[str], asked: Asked, state: State) -> list[str]:
    """Return what a second receiver holds otherwise than a scene asks, of what messages reach."""
    found = [m for m in members if m in asked.values and state["members"].get(m) != asked.values[m]]
    if asked.slot is not None and (state["slot"], state["variant"]) != (asked.slot, asked.variant):
        found.append("preset")
    return found


@pytest.mark.parametrize("make", RANDOM)
def test_a_gig_that_is_pressed_through_is_proved_and_so_is_each_list(make: Callable[[int], Library]) -> None:
    """With the flips of toggling switches in between, and no press where it stands so."""
    counted: Counter[str] = Counter()
    for seed, (library, lean, full, stored) in gigs(make, 500):
        alone, order = each_alone(library, full, stored), in_order(library, lean, full, stored)
        for each, is_full in ((alone, True), (order, False)):
            proof = prove(library, GIG, RIG, sent_cues(each.cues), full=is_full, anew=True)
            assert [(seed, is_full, f.number, f.place, f.what) for f in proof.failures] == []
        counted["gigs"] += 1
        counted["several presses"] += sum(len(needs) > 1 for needs in stored.sets)
        counted["flips"] += sum(each.flips is not None for each in stored.lists)

    assert counted["gigs"] > 200
    assert counted["several presses"] > 100
    assert make is gig_at_random or counted["flips"] > 50


@pytest.mark.parametrize("make", RANDOM)
def test_equal_lists_are_stored_once_and_each_fits_what_the_sender_holds(make: Callable[[int], Library]) -> None:
    """What is stored twice is work twice, and a slip twice."""
    for _, (_, _, _, stored) in gigs(make, 200):
        sent = [(each.flips, tuple((m.port, m.data, m.at_us) for m in each.messages)) for each in stored.lists]
        numbers = [each.number for each in stored.lists]
        assert len(set(sent)) == len(sent)
        assert numbers == sorted(set(numbers))
        assert {m.port for each in stored.lists for m in each.messages} <= set(stored.ports)


@pytest.mark.parametrize("make", RANDOM)
def test_a_list_that_lacks_a_message_is_found_out(make: Callable[[int], Library]) -> None:
    """The proof of a sender's lists is no matter of form: leave a message out, and it fails."""
    tried = found = 0
    for seed, (library, _, full, stored) in gigs(make, 60):
        prover, chance = Prover(library, GIG, RIG), random.Random(seed)
        cues = list(sent_cues(each_alone(library, full, stored).cues))
        place = chance.randrange(len(cues))
        if not cues[place].messages:
            continue
        cues[place] = without_one(cues[place], chance)
        tried += 1
        found += not prover.prove(cues, full=True).ok

    assert (
        found > 0.7 * tried > 10
    )  # Bank Select where the bank is right already changes nothing, nor a recall before another


def without_one(cue: SentCue, chance: random.Random) -> SentCue:
    drop = chance.randrange(len(cue.messages))
    return cue._replace(messages=(*cue.messages[:drop], *cue.messages[drop + 1 :]))
