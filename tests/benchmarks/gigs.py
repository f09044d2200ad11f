"""Make large gigs for measuring, always the same for the same seed: a library in memory, no file."""

import random

from scenebook.model import (
    Control,
    FormEntry,
    Gig,
    GigSet,
    Library,
    Placement,
    Preset,
    Programs,
    Rig,
    Scene,
    SetEntry,
    Song,
    Switch,
    Unit,
)
from scenebook.model.units import ControlMessage, Role, SwitchMessage

__all__ = ["SEED", "large_gig"]

SEED = 20261125
UNITS, MULTIS, PRESETS, MEMBERS, SCENES_A_SONG = 20, 6, 128, 12, 4


def large_gig(cues: int, seed: int = SEED) -> Library:
    """Return a gig of `cues` distinct scenes on 20 units, 6 of them with 128 presets of 12 members, all by message.

    Scenes name what is on; half of what they say of a unit with presets leaves its preset open. Members change as
    they do between the parts of songs: a few at a time, 8 to 12 messages a cue.
    """
    chance = random.Random(seed)
    units = {f"multi-effects {n}": _multi(chance) for n in range(MULTIS)}
    units |= {f"unit {n}": _single(n) for n in range(UNITS - MULTIS)}
    places = {name: Placement(port="main", channel=min(16, index + 1)) for index, name in enumerate(units)}
    for index, name in enumerate(list(units)[16:]):
        places[name] = Placement(port="second", channel=index + 1)
    scenes = _scenes(units, cues, chance)
    songs = {
        f"song {start}": Song(
            tempo=float(chance.randint(60, 180)),
            scenes=dict(scenes[start : start + SCENES_A_SONG]),
            form=tuple(FormEntry(scene=name, bars=8) for name, _ in scenes[start : start + SCENES_A_SONG]),
        )
        for start in range(0, cues, SCENES_A_SONG)
    }
    gig = Gig(rig="wall", sets=(GigSet(name="one", songs=tuple(SetEntry(song=name, gap="20 s") for name in songs)),))
    home = {name: {"preset": "1"} for name in list(units)[:MULTIS]}
    return Library(
        units=units, rigs={"wall": Rig(chain=tuple(units), units=places, home=home)}, songs=songs, gigs={"gig": gig}
    )


def _multi(chance: random.Random) -> Unit:
    switches = {
        f"section {n}": Switch(message=SwitchMessage(controller=80 + n), section=Role.MODULATION) for n in range(6)
    }
    controls = {
        f"control {n}": Control(scale="percent", message=ControlMessage(controller=20 + n)) for n in range(MEMBERS - 6)
    }
    presets = tuple(Preset(slot=str(n + 1), name=f"sound {n}", stores=_stores(chance)) for n in range(PRESETS))
    return Unit(switches=switches, controls=controls, presets=presets, programs=Programs(settle_ms=30, silence_ms=10))


def _stores(chance: random.Random) -> dict[str, str]:
    stored = {f"section {n}": chance.choice(("on", "off")) for n in range(6)}
    return stored | {f"control {n}": str(chance.randrange(0, 101, 10)) for n in range(MEMBERS - 6)}


def _single(number: int) -> Unit:
    return Unit(
        roles=(Role.DRIVE,),
        switches={"main": Switch(message=SwitchMessage(controller=80))},
        controls={"gain": Control(scale="0 to 10", message=ControlMessage(controller=20))} if number % 2 else {},
    )


def _scenes(units: dict[str, Unit], count: int, chance: random.Random) -> list[tuple[str, Scene]]:
    """Return scenes of which each differs from the one before in a few things, as the parts of a song do."""
    names = list(units)
    stands: dict[str, dict[str, str]] = {}
    scenes = []
    for number in range(count):
        for name in chance.sample(names[MULTIS:], 4):
            stands.pop(name, None)  # a player writes down what is on; a unit that is not named is off
            if chance.random() < 0.6:
                gain = {"gain": str(chance.randint(0, 10))} if units[name].controls else {}
                stands[name] = {"main": "on", **gain}
        for name in chance.sample(names[:MULTIS], 2):
            stands[name] = _multi_setting(stands.get(name, {}), chance)
        scenes.append((f"scene {number}", Scene(units={name: dict(setting) for name, setting in stands.items()})))
    return scenes


def _multi_setting(before: dict[str, str], chance: random.Random) -> dict[str, str]:
    edits = {f"section {chance.randrange(6)}": chance.choice(("on", "off")) for _ in range(2)}
    edits |= {f"control {chance.randrange(6)}": str(chance.randrange(0, 101, 10)) for _ in range(2)}
    if chance.random() < 0.5:
        return {"preset": str(chance.randint(1, PRESETS)), **edits}
    kept = {member: text for member, text in before.items() if member != "preset"}
    everything = {f"section {n}": "off" for n in range(6)} | {f"control {n}": "50" for n in range(MEMBERS - 6)}
    return everything | kept | edits
