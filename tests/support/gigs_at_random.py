"""Small random gigs for the reference test: one or two units with presets, three to five cues."""

import random
from typing import Any

from scenebook.model import Library, Settings, Unit
from tests.support.build import gig, library, rig, song, unit

__all__ = ["gig_at_random"]

VALUES = ["0", "20", "50", "90"]
CLOCK = ["9 o'clock", "9:20", "9:40", "12 o'clock", "3 o'clock"]  # the first three within tolerance of their neighbour


def gig_at_random(seed: int) -> Library:
    """Return a library with one gig on one rig, another for each seed."""
    chance = random.Random(seed)
    units = {f"unit {n}": _unit(chance) for n in range(chance.choice([1, 1, 2]))}
    placements = {
        name: {"port": "front", "channel": channel} for channel, name in enumerate(units, 1) if chance.random() < 0.85
    }
    home = {name: _home(chance, thing) for name, thing in units.items()}
    songs = {}
    cues = chance.randint(3, 5)
    first = chance.randint(1, cues)
    for name, count in [("one", first), ("two", cues - first)]:
        if count:
            scenes = {f"scene {n}": _scene(chance, units) for n in range(count)}
            songs[name] = song(scenes, tempo=120)
    order = [{"song": name, "segue": chance.random() < 0.5} for name in songs]
    of = library(units, rig(*units, units=placements, home=home), songs, gig(*order))
    times = {"press_ms": chance.choice([700, 400]), "turn_ms": chance.choice([2500, 700])}
    return of.model_copy(update={"settings": Settings(**times)})


def _unit(chance: random.Random) -> Unit:
    """Return a unit of a few members; most are worked by message, so that most gigs can be played."""
    switches: dict[str, Any] = {}
    if chance.random() < 0.7:
        switches["main"] = _switch(chance, 80, deaf=0.08)
    for number in range(chance.randint(0, 2)):
        switches[f"section {number}"] = _switch(chance, 81 + number, deaf=0.15)
    controls: dict[str, Any] = {
        f"level {n}": {"scale": "percent", "message": {"controller": 20 + n}} for n in range(chance.randint(1, 2))
    }
    if chance.random() < 0.25:
        controls["knob"] = {"scale": "clock"}
    if chance.random() < 0.05:
        controls["swell"] = {"scale": "percent", "pedal": True}
    said: dict[str, Any] = {"switches": switches, "controls": controls}
    if chance.random() < 0.93:
        said |= _programs(chance, said)
    return unit(**said)


def _switch(chance: random.Random, controller: int, *, deaf: float) -> dict[str, Any]:
    if chance.random() < deaf:
        return {}
    ways: list[dict[str, Any]] = [{"message": {"controller": controller}}] * 7
    ways += [{"toggle": {"controller": controller}}, {"foot": True}, {"hand": True}]
    way: dict[str, Any] = chance.choice(ways)
    return {**way, "foot": True} if chance.random() < 0.3 else way


def _programs(chance: random.Random, said: dict[str, Any]) -> dict[str, Any]:
    members = [*said["switches"], *said["controls"]]
    stored = [m for m in members if chance.random() < (0.12 if m in ("knob", "swell") else 0.9)]
    presets = [_preset(chance, slot, stored) for slot in chance.sample("01234", chance.randint(2, 4))]
    for number, preset in enumerate(presets[: chance.choice([0, 0, 1, 2])]):
        preset["variants"] = {
            name: {
                **({"foot": True} if chance.random() < 0.2 else {"controller": 100 + 2 * number + place}),
                "stores": {m: _value(chance, m) for m in stored if chance.random() < 0.5},
            }
            for place, name in enumerate(["ice", "fire"][: chance.randint(1, 2)])
        }
    programs: dict[str, Any] = {
        "count": 5,
        "first": "0",
        "settle_ms": chance.choice([0, 0, 0.5, 1, 2, 5, 40, None]),
        "silence_ms": chance.choice([0, 0, 30]),
        "tails": chance.choice(["kept", "cut"]),
        "tail_ms": chance.choice([0, 0, 50]),
        "repeat": chance.choice(["obeyed", "obeyed", "ignored"]),
        "bank_select": chance.choice(["none", "none", "msb", "both"]),
        "foot": chance.random() < 0.7,
        "hand": chance.random() < 0.3,
    }
    if chance.random() < 0.1:
        programs["program_change"] = False
    if chance.random() < 0.2:
        programs |= {"first": "1A", "bank_of": 2, "count": 6}
        labels = {"0": "1A", "1": "1B", "2": "2A", "3": "2B", "4": "3A"}
        presets = [{**preset, "slot": labels[preset["slot"]]} for preset in presets]
    return {"preset": presets, "programs": programs}


def _preset(chance: random.Random, slot: str, stored: list[str]) -> dict[str, Any]:
    stores = {m: _value(chance, m) for m in stored if chance.random() < 0.85}
    return {"slot": slot, "stores": stores, **({"rest": "off"} if chance.random() < 0.3 else {})}


def _value(chance: random.Random, member: str) -> str:
    if member == "knob":
        return chance.choice(CLOCK)
    if member.startswith(("level", "swell")):
        return chance.choice(VALUES)
    return chance.choice(["on", "on", "off"] if member == "main" else ["on", "off"])


def _home(chance: random.Random, thing: Unit) -> dict[str, str]:
    return {**_named(chance, thing, 0.5), **_members(chance, thing, 0.5)}


def _named(chance: random.Random, thing: Unit, likely: float) -> dict[str, str]:
    if not thing.presets or chance.random() >= likely:
        return {}
    preset = chance.choice(thing.presets)
    said = {"preset": preset.slot}
    if preset.variants and chance.random() < 0.6:
        said["variant"] = chance.choice(list(preset.variants))
    return said


def _members(chance: random.Random, thing: Unit, likely: float) -> dict[str, str]:
    """Say something of some members; of one that nothing but a preset works only where it is stored."""
    return {
        m: _value(chance, m)
        for m in thing.members
        if chance.random() < likely and (m in thing.stored or _has_way(thing, m))
    }


def _has_way(thing: Unit, member: str) -> bool:
    switch = thing.switches.get(member)
    return switch is None or bool(switch.message or switch.toggle or switch.foot or switch.hand)


def _scene(chance: random.Random, units: dict[str, Unit]) -> dict[str, Any]:
    said = {name: setting for name, thing in units.items() if (setting := _setting(chance, thing))}
    return {"units": said}


def _setting(chance: random.Random, thing: Unit) -> dict[str, str]:
    """Name a preset, or leave it open and say of most members what presets say, so that recalls are worth a thought."""
    kind = chance.random()
    if kind < 0.06:
        return {"leave": "unit"}
    if kind < 0.15:
        return {}
    if kind < 0.45:
        said = {**_named(chance, thing, 0.95), **_members(chance, thing, 0.15)}
    else:
        likely = thing.presets and chance.random() < 0.7
        base = dict(chance.choice(thing.presets).stores) if likely else {}
        said = {**_members(chance, thing, 0.9), **base}
        said |= _members(chance, thing, 0.1)
    return {m: "leave" if m in thing.members and chance.random() < 0.03 else text for m, text in said.items()}
