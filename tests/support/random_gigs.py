"""Small random gigs, and a plain list for each: unit after unit, what differs is sent. Not clever, only right.

The list is made by asking the first receiver what lacks, so it proves nothing about that one; it is something to spoil.
"""

import random
from typing import Any

from scenebook.model import Control, Library, Unit
from scenebook.model.messages import bank_select, control_change, note_off, note_on, program_change
from scenebook.model.patterns import MessagePattern
from scenebook.model.units import BankSelect, SwitchMessage
from scenebook.proof import Prover, SentCue, SentMessage
from scenebook.proof.reading import Asked
from scenebook.proof.receivers import Receiver
from tests.support.build import GIG, RIG, gig, library, rig, song, unit

__all__ = ["plain_list", "random_library"]


def random_library(seed: int, *, leave: float = 0.1) -> Library:
    """Return a library of a few units on two ports, three scenes and two songs, different for each seed.

    `leave` is how likely a scene leaves a unit that it names.
    """
    chance = random.Random(seed)
    numbers = list(range(1, 32)) + list(range(33, 120))  # each used once, so that nobody disturbs anybody
    chance.shuffle(numbers)
    units = {f"unit {n}": _unit(chance, numbers) for n in range(chance.randint(1, 4))}
    placements = {
        name: {"port": chance.choice(["front", "wet"]), "channel": channel, **_hears(chance, thing)}
        for channel, (name, thing) in enumerate(units.items(), 1)
    }
    home = {name: _setting(chance, thing) for name, thing in units.items() if chance.random() < 0.5}
    songs = {f"song {n}": song({f"scene {i}": _scene(chance, units, leave) for i in range(3)}) for n in range(2)}
    evening = gig({"song": "song 0", "segue": chance.random() < 0.5}, "song 1")
    return library(units, rig(*units, units=placements, home=home, loops=_loops(chance, list(units))), songs, evening)


def _loops(chance: random.Random, names: list[str]) -> dict[str, Any]:
    """Return a loop with one unit, or two that share it, in some rigs of two units and more."""
    if len(names) < 2 or chance.random() < 0.5:
        return {}
    return {names[0]: {"main": names[1 : chance.randint(2, 3)]}}


def _hears(chance: random.Random, thing: Unit) -> dict[str, Any]:
    return {"hears": "omni"} if thing.programs is None and chance.random() < 0.3 else {}


def _unit(chance: random.Random, numbers: list[int]) -> Unit:
    ways: list[Any] = [
        lambda: {"message": {"controller": numbers.pop()}},
        lambda: {"message": {"controller": numbers.pop(), "on": 3, "off": 7}},
        lambda: {"message": {"note": numbers.pop()}},
        lambda: {"message": {f"{state}_bytes": _press(numbers.pop()) for state in ("on", "off")}},
        lambda: {"toggle": {"controller": numbers.pop()}},
        lambda: {"foot": True},
        lambda: {},
    ]
    names = ["main", "switch 1", "switch 2", "switch 3"]
    switches = {name: chance.choice(ways)() for name in names[: chance.randint(1, 4)]}
    controls: dict[str, Any] = {
        f"control {n}": {
            "scale": "percent",
            **({"message": {"controller": numbers.pop()}} if chance.random() < 0.8 else {}),
        }
        for n in range(chance.randint(0, 3))
    }
    said: dict[str, Any] = {"switches": switches, "controls": controls}
    if chance.random() < 0.5:
        said["triggers"] = {"hit": {"note": numbers.pop()}, "rec": {"controller": numbers.pop(), "value": 9}}
    if chance.random() < 0.6:
        said |= _programs(chance, numbers, said)
    return unit(**said)


def _press(number: int) -> str:
    return f"Bn {number:02X} 7F Bn {number:02X} 00"


def _programs(chance: random.Random, numbers: list[int], said: dict[str, Any]) -> dict[str, Any]:
    def stores() -> dict[str, str]:
        members = [*said["switches"], *said["controls"]]
        return {m: _value(chance, m) for m in members if chance.random() < 0.6}

    presets = [
        {"slot": slot, "stores": stores(), **({"rest": "off"} if chance.random() < 0.5 else {})}
        for slot in chance.sample(["0", "1", "2", "130", "131"], chance.randint(1, 3))
    ]
    if chance.random() < 0.5:
        way = {"foot": True} if chance.random() < 0.2 else {"controller": numbers.pop()}
        presets[0]["variants"] = {"one": {"stores": stores(), **way}, "two": {"controller": numbers.pop()}}
    uses = chance.choice(["msb", "lsb", "both"])
    repeat = chance.choice(["obeyed", "ignored"])
    settle = chance.choice([0, 5, 12.5])
    programs = {"count": 256, "first": "0", "bank_select": uses, "settle_ms": settle, "repeat": repeat}
    programs |= {"program_change": chance.random() < 0.85, "foot": True}
    return {"preset": presets, "programs": programs}


def _value(chance: random.Random, member: str) -> str:
    return str(chance.choice([0, 20, 100])) if member.startswith("control") else chance.choice(["on", "off"])


def _scene(chance: random.Random, units: dict[str, Unit], leave: float) -> dict[str, Any]:
    said = {name: _setting(chance, thing, leave=leave) for name, thing in units.items() if chance.random() < 0.7}
    fired = [
        f"{name}.{trigger}" for name, thing in units.items() for trigger in thing.triggers if chance.random() < 0.3
    ]
    return {"units": said, "triggers": fired}


def _setting(chance: random.Random, thing: Unit, *, leave: float = 0.0) -> dict[str, str]:
    if leave and chance.random() < leave:
        return {"leave": "unit"}
    said: dict[str, str] = {}
    if thing.presets and chance.random() < 0.6:
        preset = chance.choice(thing.presets)
        said["preset"] = preset.slot
        if preset.variants and chance.random() < 0.5:
            said["variant"] = chance.choice(list(preset.variants))
    for member in thing.members:
        if chance.random() < 0.4:
            said[member] = "leave" if leave and chance.random() < 0.15 else _value(chance, member)
    return said


def plain_list(of: Library, *, full: bool = False) -> list[SentCue]:
    """Return a list that recalls every scene where that is possible; whether it was, the proof says."""
    prover = Prover(of, GIG, RIG)
    receivers = {name: Receiver(thing, of.settings.tuning) for name, thing in prover.tonight.units.items()}
    cues = []
    for number, reading in enumerate(prover.readings):
        messages: list[SentMessage] = []
        for name, receiver in receivers.items():
            receiver.forget() if full else receiver.begin()
            writer = _Writer(
                receiver, prover.tonight.placements[name].port or "", prover.tonight.placements[name].channel or 1
            )
            writer.reach(reading.units[name], sorted(trigger for who, trigger in reading.triggers if who == name))
            messages += writer.messages
            if number == 0 and not full:
                writer.look(reading.units[name])
        entry, form = reading.key or (None, None)
        cues.append(SentCue(number, entry, form, reading.scene, tuple(messages)))
    return cues


class _Writer:
    """Writes what one unit needs at one cue, and lets its receiver hear it at once."""

    def __init__(self, receiver: Receiver, port: str, channel: int) -> None:
        self.receiver, self.port, self.channel = receiver, port, channel
        self.messages: list[SentMessage] = []
        self.clock = self.wait = 0

    def send(self, *messages: bytes) -> None:
        for data in messages:
            self.messages.append(SentMessage(self.port, self.wait, data))
            start = self.clock + self.wait
            self.clock = start + 320 * len(data)
            self.receiver.hear(start, self.clock, data)
            self.wait = 0

    def reach(self, asked: Asked, triggers: list[str]) -> None:
        now = (self.receiver.slot, self.receiver.variant)
        if asked.slot is not None and now != (asked.slot, asked.variant):
            self.recall(asked.slot, asked.variant)
        for member, value in asked.values.items():
            if self.receiver.values.get(member) != value:
                self.work(member, value)
        for name in triggers:
            trigger = self.receiver.unit.triggers[name]
            if trigger.note is not None:
                self.send(note_on(self.channel, trigger.note, trigger.velocity))
                self.wait = 100_000
                self.send(note_off(self.channel, trigger.note))
            elif trigger.controller is not None:
                self.send(control_change(self.channel, trigger.controller, trigger.value))

    def recall(self, slot: int, variant: str | None) -> None:
        programs = self.receiver.unit.programs
        if programs is None or not programs.program_change:
            return
        by_way = [slot ^ 5] if programs.repeat == "ignored" and self.receiver.slot in (None, slot) else []
        for each in [*by_way, slot]:
            bank, program = programs.bank_and_program(each)
            parts = {
                BankSelect.MSB: {"msb": bank},
                BankSelect.LSB: {"lsb": bank},
                BankSelect.BOTH: {"msb": bank // 128, "lsb": bank % 128},
            }[programs.bank_select]
            self.send(*bank_select(self.channel, **parts), program_change(self.channel, program))
            self.wait = int((programs.settle_ms or 0) * 1000)
        if variant is not None:
            preset = next(each for each in self.receiver.unit.presets if programs.slots[each.slot] == slot)
            found = preset.variants[variant]
            if found.controller is not None:
                self.send(control_change(self.channel, found.controller, found.value))

    def work(self, member: str, value: Any) -> None:
        thing = self.receiver.unit.members[member]
        if isinstance(thing, Control):
            if thing.message is not None:
                self.send(control_change(self.channel, thing.message.controller, value))
        elif thing.toggle is not None and thing.toggle.controller is not None and member in self.receiver.values:
            self.send(control_change(self.channel, thing.toggle.controller, thing.toggle.value))
        elif thing.message is not None:
            self.send(*_switching(thing.message, self.channel, on=value == "on"))

    def look(self, asked: Asked) -> None:
        """Set a toggling switch of which nothing is known, as the player does before the first song."""
        for name, switch in self.receiver.unit.switches.items():
            if switch.toggle is not None:
                self.receiver.values.setdefault(name, asked.values[name])


def _switching(way: SwitchMessage, channel: int, *, on: bool) -> tuple[bytes, ...]:
    if way.note is not None:
        return (note_on(channel, way.note, 99) if on else note_off(channel, way.note),)
    if way.controller is not None:
        values = (127, 0) if way.on is None or way.off is None else (way.on, way.off)
        return (control_change(channel, way.controller, values[not on]),)
    return MessagePattern.parse((way.on_bytes if on else way.off_bytes) or "").for_channel(channel)
