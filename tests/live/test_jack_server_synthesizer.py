"""A synthesizer that is not ours at the far end of a running stand: its programs and banks are the scenes'.

The stand is the real command in a process of its own, stepped over its page's API and by a MIDI footswitch; the far end
of each port of the rig is a FluidSynth 2.3, which prints bank and program of each channel when asked (its command
`channels -verbose`). What a place asks is the proof's plain reading of the scene, not the compiler's.
"""

import random
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

import pytest

from scenebook.live.places import HOME, Part, Place
from scenebook.live.programme import Programme, programme_of
from scenebook.live.records import replayed
from scenebook.live.tonight import Tonight, applied, tonight_of
from scenebook.model import Library, Programs
from scenebook.proof.reading import read_gig
from scenebook.storage.evenings import evenings
from tests.demo_library.reading import demo_library
from tests.support.checkout import ROOT
from tests.support.far_end import Pedal
from tests.support.jack import JackServer
from tests.support.on_stage import readings
from tests.support.sound_font import write_sound_font
from tests.support.stand_process import StandProcess
from tests.support.synthesizer import Synthesizer, synthesizer
from tests.support.terminal import typed

pytestmark = [pytest.mark.jack, pytest.mark.fluidsynth]

GIG = "Pell Quay hall"
STEPS, EVERY = 80, 10
PRESS, RELEASE = "BF 40 7F", "BF 40 00"  # the board's footswitch that goes on: controller 64 on channel 16
_SECONDS = 10.0

Stood = dict[tuple[str, int], tuple[int, int]]  # port and channel: bank and program

LARGE, HALL_REVERB = "multi-effects, large", "reverb, large hall"
DELAY = "delay, tape voiced"


def verse(entry: int, form: int) -> Place:
    return Place(Part.SET, entry, form)


# What is changed in the course of the evening, each before the round of steps after it.
CHANGES: list[tuple[str, dict[str, Any]]] = [
    ("out", {"unit": DELAY}),
    ("cut", {"place": verse(2, 1)}),
    ("deaf from here", {"unit": LARGE}),
    ("in", {"unit": DELAY}),
    ("tempo", {"place": verse(4, 0), "text": "131"}),
    ("hears again", {"unit": LARGE}),
    ("out", {"unit": HALL_REVERB}),
]


class Scenes:
    """Where each place wants the units that hear program changes, as things stand tonight."""

    def __init__(self, library: Library, gig: str, tonight: Tonight) -> None:
        rig = library.gigs[gig].rig or ""
        self.programme: Programme = programme_of(library, gig, rig, tonight)
        self._asked = readings(library, gig, rig, tonight, self.programme)
        there = applied(library, gig, rig, tonight, stays=self.programme.stays)
        self._tonight, _ = read_gig(there, there.gigs[gig], there.rigs[rig])

    def at(self, place: Place) -> Stood:
        """Return what a place asks of each unit whose preset it names."""
        found: Stood = {}
        for name, unit in self._tonight.units.items():
            placed, slot = self._tonight.placements[name], self._asked[place].units[name].slot
            if placed.port and placed.channel and unit.programs and slot is not None:
                found[placed.port, placed.channel] = on_the_wire(unit.programs, slot)
        return found


def on_the_wire(programs: Programs, slot: int) -> tuple[int, int]:
    """Return bank (14 bits) and program: the bank of a unit that takes the MSB alone stands in the upper seven bits."""
    bank, program = programs.bank_and_program(slot)
    return (bank << 7 if programs.bank_select == "msb" else bank), program


class Evening:
    """The stand that runs, its footswitch, and the synthesizers that hear it."""

    def __init__(self, library: Library, path: Path, stand: StandProcess, synths: Mapping[str, Synthesizer]) -> None:
        self._library, self._path, self._stand, self._synths = library, path, stand, synths
        self._pedal, self._chance = Pedal("floor"), random.Random(20261125)
        self.scenes = Scenes(library, GIG, tonight_of(library.gigs[GIG]))

    def close(self) -> None:
        self._pedal.stop()

    @property
    def place(self) -> Place:
        return _place(self._stand.state()["cue"])

    def wake_pedal(self) -> None:
        """Press until the gig steps: a connection just made may swallow the first message."""
        end = time.monotonic() + _SECONDS
        while self.place == HOME:
            assert time.monotonic() < end, "the footswitch is not heard"
            self._press()
            time.sleep(0.2)

    def change(self, verb: str, said: dict[str, Any]) -> None:
        """Change something for tonight, and read from the journal what holds from now on."""
        version = self._stand.state()["version"]
        self._stand.act(verb, **said)
        self._stand.wait(lambda state: bool(state["version"] > version), _SECONDS)
        standing = replayed(evenings(self._path, GIG)[-1].records)
        assert standing is not None
        assert standing.tonight is not None
        self.scenes = Scenes(self._library, GIG, standing.tonight)

    def step(self) -> str:
        """Do one thing at random, as soon as the one before was taken; return what."""
        state = self._stand.state()
        verbs = ["footswitch"] * 8 + ["back"] * 3 + ["go"] * 4 + ["safe", "send again", "send again", "next"]
        verb = self._chance.choice(verbs)
        if verb in ("footswitch", "next") and state["ahead"] is None:
            verb = "go"
        if verb == "back" and _place(state["cue"]) == HOME:
            verb = "send again"
        if verb == "footswitch":
            self._step_by_foot(state)
        elif verb == "go":
            self._stand.act("go", place=self._chance.choice(sorted(self.scenes.programme.by_place)))
        else:
            self._stand.act(verb)
        return verb

    def settle(self) -> tuple[Place, Stood, Stood]:
        """Let all go out; return the place, what it asks of the units, and what the synthesizers say of themselves."""
        state = self._stand.wait(lambda state: bool(state["sent"]["done"]), _SECONDS)
        place = _place(state["cue"])
        asked, end = self.scenes.at(place), time.monotonic() + 2
        while self._reported(asked) != asked and time.monotonic() < end:
            time.sleep(0.02)
        time.sleep(0.02)  # nothing follows that would undo it
        return place, asked, self._reported(asked)

    def _reported(self, asked: Stood) -> Stood:
        said = {port: synth.send([]) for port, synth in self._synths.items()}
        return {(port, channel): said[port].get(channel, (-1, -1)) for port, channel in asked}

    def _step_by_foot(self, state: dict[str, Any]) -> None:
        """Press once; the gig goes where it has said that it would."""
        ahead = _place(state["ahead"])
        time.sleep(0.09)  # a gig takes a press within 80 ms of the last for a bounce
        self._press()
        self._stand.wait(lambda now: _place(now["cue"]) == ahead)

    def _press(self) -> None:
        self._pedal.send(PRESS)
        self._pedal.send(RELEASE)


def _place(cue: dict[str, Any]) -> Place:
    said = cue["place"]
    return Place(Part(said["part"]), said["entry"], said["form"])


@contextmanager
def running(folder: Path) -> Iterator[Evening]:
    """Run the demo's large gig into one synthesizer for each port of its rig; its font has all banks that are asked."""
    library, path = demo_library(), folder / "library.scenebook"
    assert typed("library", "create", "--library", str(path)).code == 0
    assert typed("library", "import", str(ROOT / "demo_library"), "--library", str(path)).code == 0
    rig = library.rigs[library.gigs[GIG].rig or ""]
    font = write_sound_font(folder / "demo.sf2", [(bank, n) for bank in (0, 1, 1 << 7) for n in range(128)])
    with ExitStack() as stack:
        synths = {port: stack.enter_context(synthesizer([font], banks="mma")) for port in rig.ports}
        named = [text for port, synth in synths.items() for text in ("--port", f"{port}={synth.port}")]
        stand = stack.enter_context(StandProcess(path, GIG, *named))
        stand.wait(lambda state: all(each["state"] == "there" for each in state["ports"]), _SECONDS)
        evening = Evening(library, path, stand, synths)
        stack.callback(evening.close)
        yield evening
        code, _, complaints = stand.end()
        assert (code, complaints) == (0, "")


def test_at_the_end_of_a_gig_with_random_jumps_the_synthesizers_stand_as_the_scene_asks(
    jack: JackServer, tmp_path: Path, tell: Callable[[str], None]
) -> None:
    """Jumps, back, safe and back from it, send again, changes for tonight; looked at every tenth step."""
    changes, seen, done = iter(CHANGES), set[tuple[tuple[tuple[str, int], tuple[int, int]], ...]](), list[str]()
    with running(tmp_path) as evening:
        evening.wake_pedal()
        for _ in range(STEPS // EVERY):
            if change := next(changes, None):
                evening.change(*change)
            done += [evening.step() for _ in range(EVERY)]
            place, asked, found = evening.settle()
            assert found == asked, (place, done[-EVERY:])
            seen.add(tuple(sorted(found.items())))

    counts = ", ".join(f"{verb} {done.count(verb)}" for verb in sorted(set(done)))
    assert len(seen) > 4
    assert {bank for stood in seen for _, (bank, _) in stood} > {0}
    tell(f"{STEPS} steps ({counts}), {len(CHANGES)} changes for tonight, {len(seen)} different states of two receivers")
