"""One carried unit's chart on its channel: which bytes work which lane, recall which slot; and what a hand takes.

Everything is made once and kept, since a gig asks for the same few messages again and again.
"""

from collections.abc import Iterable
from typing import NamedTuple

from scenebook.cueing.cues import MessageKind
from scenebook.model import MAIN, Settings, Switch
from scenebook.model.messages import bank_select, control_change, note_off, note_on, program_change
from scenebook.model.patterns import MessagePattern
from scenebook.model.protocol import BYTE_US, DATA
from scenebook.model.units import BankSelect, SwitchMessage, Toggle, Trigger, Variant
from scenebook.states.lanes import Lanes
from scenebook.states.stage import Way

__all__ = ["Charted", "Planned", "us"]

_BY_HAND = (Way.FOOT, Way.HAND, Way.PEDAL)


def us(ms: float) -> int:
    """Return milliseconds as whole microseconds."""
    return round(ms * 1000)


class Planned(NamedTuple):
    """Messages that belong together, not yet timed."""

    kind: MessageKind
    member: str
    value: str  # as the player would say it
    data: tuple[bytes, ...]
    release: tuple[bytes, ...] = ()  # of a trigger's note


class Charted:
    """The messages and by-hand times of one carried unit."""

    def __init__(self, lanes: Lanes, settings: Settings) -> None:
        self.lanes, self.unit, self.name = lanes, lanes.unit, lanes.carried.name
        self.channel = lanes.carried.placement.channel or 1
        self.port = lanes.carried.placement.port or ""
        self.programs = lanes.unit.programs
        self.recall_way = lanes.carried.recall
        self.settle_us = self.programs.settle_us if self.programs else None
        self.hole_us = us(self.programs.hole_ms) if self.programs else 0
        self.silence_us = us(self.programs.silence_ms) if self.programs else 0
        self.cuts_tails = self.programs is not None and self.programs.tails == "cut" and self.programs.tail_ms > 0
        self.ignores_repeat = self.programs is not None and self.programs.repeat == "ignored"
        self.press_us, self.turn_us = us(settings.press_ms), us(settings.turn_ms)
        by_way = {Way.FOOT: self.press_us, Way.HAND: self.turn_us, Way.PEDAL: us(settings.pedal_ms)}
        self.hand_us = tuple(by_way.get(way, 0) for way in lanes.ways)
        self.by_hand = tuple(way in _BY_HAND for way in lanes.ways)
        self.by_hand_mask = _mask(index for index, way in enumerate(lanes.ways) if way in _BY_HAND)
        main = lanes.mask_of(MAIN) if lanes.main is not None else 0
        self.patient_mask = self.by_hand_mask & ~main  # what can wait for as long as the unit is silent (rule C9)
        self.toggle_mask = _mask(index for index, way in enumerate(lanes.ways) if way is Way.TOGGLE)
        self.blocked_mask = _mask(index for index, way in enumerate(lanes.ways) if way in (Way.PRESET, Way.LOOP))
        self.plain_mask = _mask(index for index in range(len(lanes.ways)) if self._is_plain(index))
        self.planned: dict[tuple[int, int, str | None], Planned] = {}  # kept by moves.py
        self._messages: dict[tuple[int, int], tuple[bytes, ...]] = {}
        self._recalls: dict[int, tuple[bytes, ...]] = {}
        self._recall_us: dict[int, int] = {}
        self._wire: dict[tuple[int, int], int] = {}

    def messages(self, index: int, lane: int) -> tuple[bytes, ...]:
        """Return what sets a lane worked by message (or flips one worked by a toggling message)."""
        found = self._messages.get((index, lane))
        if found is None:
            found = self._messages[index, lane] = self._lane_messages(index, lane)
        return found

    def wire_us(self, index: int, lane: int) -> int:
        """Return how long the messages of a lane take on the wire, running status not used."""
        found = self._wire.get((index, lane))
        if found is None:
            found = self._wire[index, lane] = BYTE_US * sum(map(len, self.messages(index, lane)))
        return found

    def recall_messages(self, slot: int) -> tuple[bytes, ...]:
        """Return Bank Select, where the unit uses it, and the Program Change (rule C3)."""
        found = self._recalls.get(slot)
        if found is None:
            found = self._recalls[slot] = self._recall(slot)
        return found

    def recall_us(self, slot: int) -> int:
        """Return how long a recall by message takes: its bytes on the wire and its settle time, 0 where not known."""
        found = self._recall_us.get(slot)
        if found is None:
            sent = BYTE_US * sum(map(len, self.recall_messages(slot)))
            found = self._recall_us[slot] = sent + (self.settle_us or 0)
        return found

    def variant_messages(self, slot: int, name: str) -> tuple[bytes, ...] | None:
        """Return what reaches a variant from inside its preset; None where only a foot does, or nothing."""
        variant = self.lanes.variant(slot, name)
        if self.lanes.carried.placement.channel is None:
            return None
        return self._variant(variant)

    def trigger_messages(self, name: str) -> tuple[tuple[bytes, ...], tuple[bytes, ...]] | None:
        """Return (what fires a trigger, what releases it after 100 ms); None where a foot fires it."""
        trigger = self.unit.triggers[name]
        if self.lanes.carried.placement.channel is None or _silent(trigger):
            return None
        if trigger.note is not None:
            on = note_on(self.channel, trigger.note, trigger.velocity)
            return (on,), (note_off(self.channel, trigger.note),)
        return self._either(trigger.controller, trigger.value, trigger.bytes), ()

    def walk(self, here: int | None, slot: int) -> tuple[int, int]:
        """Return (presses, microseconds) of a recall by foot or hand from where the unit stands (rule C9).

        By foot: a press for each bank between the two, then the slot's own switch; where slots are not in banks, a
        press for each slot between. By hand: one turn, wherever it stands.
        """
        if self.recall_way is Way.HAND or self.programs is None:
            return 1, self.turn_us
        start = here if here is not None else 0
        size = self.programs.bank_of
        presses = abs(slot // size - start // size) + 1 if size else max(1, abs(slot - start))
        return presses, presses * self.press_us

    def other_slot(self, slot: int) -> int:
        """Return the lowest slot that is not `slot`: the way around a unit that ignores its current program."""
        return 1 if slot == 0 else 0

    def slot_name(self, slot: int) -> str:
        """Return a slot as the display shows it, with the preset's name where it has one."""
        label = self.programs.label(slot) if self.programs else str(slot)
        preset = self.lanes.presets.get(slot)
        return f"{label} {preset.name}" if preset and preset.name else label

    def _is_plain(self, index: int) -> bool:
        """Whether every message of the lane is one control change, so that a price is a count."""
        if self.lanes.ways[index] is not Way.MESSAGE:
            return False
        thing = self.lanes.things[index]
        return not isinstance(thing, Switch) or (thing.message is not None and thing.message.controller is not None)

    def _lane_messages(self, index: int, lane: int) -> tuple[bytes, ...]:
        thing = self.lanes.things[index]
        if not isinstance(thing, Switch):
            assert thing.message is not None, "the way is a message"
            return (control_change(self.channel, thing.message.controller, lane),)
        if self.lanes.ways[index] is Way.TOGGLE:
            assert thing.toggle is not None, "the way is a toggling message"
            return self._toggle(thing.toggle)
        assert thing.message is not None, "the way is a message"
        return self._switch(thing.message, on=bool(lane))

    def _switch(self, message: SwitchMessage, *, on: bool) -> tuple[bytes, ...]:
        if message.controller is not None:
            high = DATA[-1] if message.on is None else message.on
            low = DATA[0] if message.off is None else message.off
            return (control_change(self.channel, message.controller, high if on else low),)
        if message.note is not None:
            note = note_on(self.channel, message.note, DATA[-1]) if on else note_off(self.channel, message.note)
            return (note,)
        return MessagePattern.parse((message.on_bytes if on else message.off_bytes) or "").for_channel(self.channel)

    def _toggle(self, toggle: Toggle) -> tuple[bytes, ...]:
        if toggle.note is not None:
            return note_on(self.channel, toggle.note, DATA[-1]), note_off(self.channel, toggle.note)
        return self._either(toggle.controller, toggle.value, toggle.bytes)

    def _variant(self, variant: Variant) -> tuple[bytes, ...] | None:
        if variant.controller is None and variant.bytes is None:
            return None
        return self._either(variant.controller, variant.value, variant.bytes)

    def _either(self, controller: int | None, value: int, text: str | None) -> tuple[bytes, ...]:
        if controller is not None:
            return (control_change(self.channel, controller, value),)
        return MessagePattern.parse(text or "").for_channel(self.channel)

    def _recall(self, slot: int) -> tuple[bytes, ...]:
        assert self.programs is not None, "a preset was named, so there are programs"
        bank, program = self.programs.bank_and_program(slot)
        kind = self.programs.bank_select
        msb = bank if kind is BankSelect.MSB else bank >> 7 if kind is BankSelect.BOTH else None
        lsb = bank if kind is BankSelect.LSB else bank & DATA[-1] if kind is BankSelect.BOTH else None
        banks = () if kind is BankSelect.NONE else bank_select(self.channel, msb=msb, lsb=lsb)
        return (*banks, program_change(self.channel, program))


def _silent(trigger: Trigger) -> bool:
    return trigger.note is None and trigger.controller is None and trigger.bytes is None


def _mask(indexes: Iterable[int]) -> int:
    return sum(0xFF << (index << 3) for index in indexes)
