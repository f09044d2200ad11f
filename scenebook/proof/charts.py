"""What each message means to a unit, read from its chart alone.

Channels play no part here, but for bytes to which the chart itself gives a channel: who hears what is known elsewhere.
"""

from collections import defaultdict
from collections.abc import Callable
from typing import Literal, NamedTuple

from scenebook.model import Unit
from scenebook.model.patterns import MessagePattern
from scenebook.model.protocol import (
    BANK_SELECT_LSB,
    BANK_SELECT_MSB,
    CONTROL_CHANGE,
    NOTE_OFF,
    NOTE_ON,
    PROGRAM_CHANGE,
    SWITCH_ON_FROM,
    SYSTEM_FIRST,
)
from scenebook.model.units import BankSelect, SwitchMessage, Toggle, Trigger, Variant

__all__ = ["Chart", "Meaning"]

Act = Literal["set", "flip", "fire", "release", "variant", "recall", "bank", "part", "nothing"]


class Meaning(NamedTuple):
    """What a message does: set or flip a member, fire or release a trigger, reach a variant, recall, select a bank.

    `part`: it is one of a list of messages that together mean something; `number` is that list's place, `at` the
    places in the list that it can fill. `nothing`: the chart knows it and nothing comes of it.
    """

    act: Act
    name: str = ""
    value: str | int = 0
    number: int = 0
    at: tuple[int, ...] = ()


_NOTHING = Meaning("nothing")
_Reading = Callable[[int], Meaning | None]


class Chart:
    """A unit's chart turned round: from a message to its meanings."""

    def __init__(self, unit: Unit) -> None:
        self.lists: list[tuple[int, Meaning]] = []  # how many messages, and what they mean together
        self._open: defaultdict[bytes, list[Meaning]] = defaultdict(list)  # on any channel that the unit hears
        self._fixed: defaultdict[bytes, list[Meaning]] = defaultdict(
            list
        )  # with the chart's own channel, or without any
        self._controllers: defaultdict[int, list[_Reading]] = defaultdict(list)
        self._notes: defaultdict[int, list[tuple[Meaning, Meaning]]] = defaultdict(list)  # note on, note off
        self._programs = unit.programs if unit.programs and unit.programs.program_change else None
        self._known: dict[bytes, tuple[Meaning, ...]] = {}
        self._read_members(unit)
        for name, trigger in unit.triggers.items():
            self._read_trigger(name, trigger)
        for preset in unit.presets:
            slot = unit.programs.slots[preset.slot] if unit.programs else 0
            for name, variant in preset.variants.items():
                self._read_variant(Meaning("variant", name, number=slot), variant)

    def meanings(self, message: bytes) -> tuple[Meaning, ...]:
        """Return all that one whole message means to the unit; nothing if the chart does not know it."""
        if message not in self._known:
            self._known[message] = tuple(self._look_up(message))
        return self._known[message]

    def _look_up(self, message: bytes) -> list[Meaning]:
        found = list(self._fixed.get(message, ()))
        if message[0] >= SYSTEM_FIRST:
            return found
        kind = message[0] & 0xF0
        found += self._open.get(bytes((kind,)) + message[1:], ())
        if kind == PROGRAM_CHANGE and self._programs:
            found.append(Meaning("recall", number=message[1]))
        elif kind == CONTROL_CHANGE:
            found += self._banks(message[1], message[2])
            found += [meaning for read in self._controllers.get(message[1], ()) if (meaning := read(message[2]))]
        elif kind in (NOTE_ON, NOTE_OFF):
            down = kind == NOTE_ON and message[2] > 0
            found += [on if down else off for on, off in self._notes.get(message[1], ())]
        return found

    def _banks(self, controller: int, value: int) -> list[Meaning]:
        uses = self._programs.bank_select if self._programs else BankSelect.NONE
        if controller == BANK_SELECT_MSB and uses in (BankSelect.MSB, BankSelect.BOTH):
            return [Meaning("bank", "msb", number=value)]
        if controller == BANK_SELECT_LSB and uses in (BankSelect.LSB, BankSelect.BOTH):
            return [Meaning("bank", "lsb", number=value)]
        return []

    def _read_members(self, unit: Unit) -> None:
        for name, switch in unit.switches.items():
            on, off, flip = Meaning("set", name, "on"), Meaning("set", name, "off"), Meaning("flip", name)
            if switch.momentary:
                on = off = flip = _NOTHING
            if switch.message:
                self._read_switch(switch.message, on, off)
            if switch.toggle:
                self._read_toggle(switch.toggle, flip)
        for name, control in unit.controls.items():
            if control.message:
                self._controllers[control.message.controller].append(_step(name))

    def _read_switch(self, way: SwitchMessage, on: Meaning, off: Meaning) -> None:
        if way.controller is not None and way.on is None:
            self._controllers[way.controller].append(lambda value: on if value >= SWITCH_ON_FROM else off)
        elif way.controller is not None:
            self._controllers[way.controller].append({way.on: on, way.off: off}.get)
        elif way.note is not None:
            self._notes[way.note].append((on, off))
        else:
            self._read_bytes(way.on_bytes, on)
            self._read_bytes(way.off_bytes, off)

    def _read_toggle(self, way: Toggle, flip: Meaning) -> None:
        if way.controller is not None:
            self._controllers[way.controller].append({way.value: flip}.get)
        elif way.note is not None:
            self._notes[way.note].append((flip, _NOTHING))
        else:
            self._read_bytes(way.bytes, flip)

    def _read_trigger(self, name: str, trigger: Trigger) -> None:
        fire = Meaning("fire", name)
        if trigger.controller is not None:
            self._controllers[trigger.controller].append({trigger.value: fire}.get)
        elif trigger.note is not None:
            note = trigger.note
            self._notes[note].append((fire._replace(number=note, value="note"), Meaning("release", name, number=note)))
        else:
            self._read_bytes(trigger.bytes, fire)

    def _read_variant(self, meaning: Meaning, variant: Variant) -> None:
        if variant.controller is not None:
            self._controllers[variant.controller].append({variant.value: meaning}.get)
        else:
            self._read_bytes(variant.bytes, meaning)

    def _read_bytes(self, text: str | None, meaning: Meaning) -> None:
        """Note a list of messages; one message alone needs no list."""
        if text is None:
            return
        pattern = MessagePattern.parse(text)
        places: defaultdict[tuple[bool, bytes], list[int]] = defaultdict(list)
        for place, (message, is_open) in enumerate(zip(pattern.messages, pattern.open_channel, strict=True)):
            places[is_open, message].append(place)
        if len(pattern.messages) > 1:
            self.lists.append((len(pattern.messages), meaning))
            meaning = Meaning("part", number=len(self.lists) - 1)
        for (is_open, message), at in places.items():
            table = self._open if is_open else self._fixed
            table[message].append(meaning._replace(at=tuple(at)))


def _step(name: str) -> _Reading:
    return lambda value: Meaning("set", name, value)
