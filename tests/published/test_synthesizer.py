"""A synthesizer that is not ours as the receiver: what it says of itself equals the scenes after every cue.

The receiver is FluidSynth 2.3 on a JACK MIDI port, sent to through the tool's own port; asked after each cue, it prints
bank and program of each channel (its command `channels -verbose`). It settles at once, so order alone counts here.
Bank Select by the MIDI 1.0 specification: controllers 0 and 32 count at the next Program Change. FluidSynth's way `mma`
reads all 14 bits, `gs` controller 0 alone; a bank that its sound font lacks is replaced by bank 0.
"""

from itertools import pairwise
from pathlib import Path

import pytest

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import Cue
from scenebook.model import Library, Programs
from scenebook.model.messages import bank_select, program_change
from scenebook.model.units import BankSelect
from scenebook.proof.proving import Prover
from tests.demo_library.reading import demo_library
from tests.support import build
from tests.support.jack import JackServer
from tests.support.sound_font import write_sound_font
from tests.support.synthesizer import SOUND_FONTS, synthesizer

pytestmark = [pytest.mark.jack, pytest.mark.fluidsynth]

DEMO = demo_library()
HALL, FLY_IN = "Pell Quay hall", "Skerrow Head fly-in"
REVERB = 5  # its channel on the hall board
BANK_SELECTS = (bytes([0xB4, 0]), bytes([0xB4, 32]))  # there

Places = dict[int, tuple[int, int]]  # bank and program by channel


class Scenes:
    """Where the scenes of a gig want each unit on a port: bank and program by channel."""

    def __init__(self, library: Library, gig: str, port: str) -> None:
        self.library, self.port = library, port
        plain = Prover(library, gig, library.gigs[gig].rig or "")
        self.placements = plain.tonight.placements
        self.readings = plain.readings
        self.programs = {
            placement.channel: unit.programs
            for name, unit in plain.tonight.units.items()
            for placement in [self.placements[name]]
            if placement.port == port and placement.channel and unit.programs
        }

    def after(self, cue: Cue) -> Places:
        """Return what the cue says of every unit, and see that it says what the scene names, read by the proof."""
        found: Places = {}
        for state in cue.states:
            placement, programs = self.placements[state.unit], self.library.units[state.unit].programs
            if placement.port == self.port and placement.channel in self.programs and programs and state.preset:
                named = self.readings[cue.number].units[state.unit].slot
                slot = programs.slots[state.preset]
                assert named in (None, slot)
                found[placement.channel] = on_the_wire(programs, slot)
        return found


def on_the_wire(programs: Programs, slot: int) -> tuple[int, int]:
    """Return bank (14 bits) and program: the bank of a unit that takes the MSB alone stands in the upper seven bits."""
    bank, program = programs.bank_and_program(slot)
    return (bank << 7 if programs.bank_select == "msb" else bank), program


def on_port(cue: Cue, port: str) -> list[bytes]:
    return [message.data for message in cue.messages if message.port == port]


def every_place(library: Library, gig: str) -> set[tuple[int, int]]:
    """Return the (bank, program) pairs of all presets of the gig's units, and all of bank 0."""
    units = (library.units[name] for name in library.rigs[library.gigs[gig].rig or ""].carried)
    said = [(unit.programs, preset.slot) for unit in units if unit.programs for preset in unit.presets]
    return {on_the_wire(programs, programs.slots[slot]) for programs, slot in said} | {(0, n) for n in range(128)}


def those_of(expected: Places, reported: Places) -> Places:
    """Return of a report the channels that have a unit; all other channels stand at a program nobody asked for."""
    return {channel: reported[channel] for channel in expected}


HALL_PORTS = DEMO.rigs["hall board"].ports


@pytest.mark.parametrize("port", HALL_PORTS)
def test_after_every_cue_of_the_hall_gig_each_channel_is_in_its_scenes_preset(
    port: str, jack: JackServer, tmp_path: Path
) -> None:
    """Lean, from home to the last cue. The font has the banks of the demo's units, all 14 bits are read."""
    scenes, cues = Scenes(DEMO, HALL, port), compile_gig(DEMO, HALL).cues
    font = write_sound_font(tmp_path / "demo.sf2", sorted(every_place(DEMO, HALL)))

    with synthesizer([font], banks="mma") as synth:
        found = [those_of(scenes.after(cue), synth.send(on_port(cue, port))) for cue in cues]

    assert found == [scenes.after(cue) for cue in cues]
    beyond_bank_0 = {place for places in found for place in places.values() if place[0]}
    assert beyond_bank_0 == {"front": {(1 << 7, 1)}, "wet": {(1, 11)}}[port]


@pytest.mark.parametrize("port", HALL_PORTS)
def test_every_full_cue_of_the_hall_gig_leads_there_from_anywhere(port: str, jack: JackServer, tmp_path: Path) -> None:
    """Before each cue every unit's channel is sent to another program, and to another bank where the unit has banks."""
    scenes, cues = Scenes(DEMO, HALL, port), compile_gig(DEMO, HALL, full=True).cues
    away = {channel: on_the_wire(programs, AWAY[programs.bank_select]) for channel, programs in scenes.programs.items()}
    font = write_sound_font(tmp_path / "demo.sf2", sorted(every_place(DEMO, HALL) | set(away.values())))
    leave = [message for channel, programs in scenes.programs.items() for message in recall(channel, programs)]

    with synthesizer([font], banks="mma") as synth:
        for cue in cues:
            expected = scenes.after(cue)
            assert those_of(away, synth.send(leave)) == away
            assert those_of(expected, synth.send(on_port(cue, port))) == expected, (cue.number, cue.song, cue.scene)


# A slot that nothing here asks for: program 99, in the bank after the first where a unit has banks.
AWAY = {BankSelect.NONE: 99, BankSelect.MSB: 128 + 99, BankSelect.LSB: 128 + 99}


def recall(channel: int, programs: Programs) -> list[bytes]:
    """Return what recalls that slot, without the compiler."""
    bank, program = programs.bank_and_program(AWAY[programs.bank_select])
    select = {
        BankSelect.NONE: (),
        BankSelect.MSB: bank_select(channel, msb=bank),
        BankSelect.LSB: bank_select(channel, lsb=bank),
    }
    return [*select[programs.bank_select], program_change(channel, program)]


@pytest.mark.parametrize("full", [False, True])
def test_after_every_cue_of_the_fly_in_the_published_sound_font_is_where_the_scene_wants_it(
    full: bool, jack: JackServer
) -> None:
    """One unit without banks: the sound fonts as Debian has them, Bank Select as most synthesizers read it."""
    scenes, cues = Scenes(DEMO, FLY_IN, "fly"), compile_gig(DEMO, FLY_IN, full=full).cues

    with synthesizer(SOUND_FONTS, banks="gs") as synth:
        found = [those_of(scenes.after(cue), synth.send(on_port(cue, "fly"))) for cue in cues]

    assert found == [scenes.after(cue) for cue in cues]
    assert len({place for places in found for place in places.values()}) > 3


def test_variation_banks_of_the_published_sound_fonts_are_found(jack: JackServer) -> None:
    """A synth whose presets are GS sounds: rain is bank 1, program 122; a dog is bank 1, 123; the bass has no bank."""
    slots = {"rain": 128 + 122 + 1, "dog": 128 + 123 + 1, "bass": 33 + 1, "seashore": 122 + 1}
    units = {
        "synth": build.unit(
            preset=[{"slot": str(slot), "name": name} for name, slot in slots.items()],
            programs={"count": 1024, "first": "1", "bank_select": "msb", "settle_ms": 0},
        )
    }
    rig = build.rig("synth", units={"synth": {"port": "out", "channel": 4}}, home={"synth": {"preset": "bass"}})
    form = ["seashore", "rain", "dog", "rain", "seashore", "bass"]
    song = build.song({name: {"synth": {"preset": name}} for name in slots}, *form)
    library = build.library(units, rig, song)
    cues = compile_gig(library, build.GIG).cues

    with synthesizer(SOUND_FONTS, banks="gs") as synth:
        found = [synth.send(on_port(cue, "out"))[4] for cue in cues]

    assert found == [(0, 33), (0, 122), (1, 122), (1, 123), (1, 122), (0, 122), (0, 33)]


def test_a_list_without_one_of_its_bank_selects_is_found_out(jack: JackServer, tmp_path: Path) -> None:
    """A check that nothing fails is none: each Bank Select that changes the reverb's bank is left out once."""
    scenes, cues = Scenes(DEMO, HALL, "wet"), compile_gig(DEMO, HALL).cues
    both_banks = {(bank, program) for bank in (0, 1) for program in range(128)}
    font = write_sound_font(tmp_path / "demo.sf2", sorted(both_banks))
    agreed = []

    with synthesizer([font], banks="mma") as synth:
        for before, cue in pairwise(cues):
            expected = scenes.after(cue)
            if scenes.after(before)[REVERB][0] != expected[REVERB][0]:
                spoiled = [data for data in on_port(cue, "wet") if data[:2] not in BANK_SELECTS]
                agreed.append(synth.send(spoiled)[REVERB] == expected[REVERB])
            assert synth.send(on_port(cue, "wet"))[REVERB] == expected[REVERB] or before.number == 0

    assert len(agreed) >= 2
    assert not any(agreed)


def test_bank_select_waits_for_the_next_program_change(jack: JackServer) -> None:
    """What the specification says and the receivers of a proof rely on, seen from outside."""
    with synthesizer(SOUND_FONTS, banks="gs") as synth:
        first = synth.send([program_change(1, 122)])[1]
        selected = synth.send([bank_select(1, msb=1)[0]])[1]
        recalled = synth.send([program_change(1, 122)])[1]

    assert (first, selected, recalled) == ((0, 122), (0, 122), (1, 122))
