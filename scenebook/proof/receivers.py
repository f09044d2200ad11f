"""A receiver for each carried unit: it hears bytes with their times and keeps the state that they put it in (P2).

It knows the unit's chart and is given what the unit hears; of scenes, or of what the list was meant to do, it knows
nothing. Where the rules leave something open, it reads them so:

- Everything but real-time bytes is lost while the unit settles, exclusive messages too. Where no settle time is known,
  it settles until the next cue. Settling never lasts past a cue.
- Bank Select is kept for each channel. With one of MSB and LSB alone that number is the bank; with both, it is
  MSB x 128 + LSB.
- A program change to a slot that the unit does not have is not understood, nor a variant's message outside its preset.
- Where a unit ignores its current program and nobody knows which that is, what a recall stores is unknown after it.
- `rest: off` holds in a preset's variants too, for what its other variants store.
- A list of messages counts when all have arrived in order; others may come between.
- A note that fires is released no sooner than 100 ms after its last byte; a sooner release is not understood.
"""

import math
from collections import Counter
from collections.abc import Mapping
from typing import Final

from scenebook.model import Preset, Unit
from scenebook.model.protocol import REAL_TIME_FIRST
from scenebook.model.units import BankSelect
from scenebook.proof.charts import Chart, Meaning
from scenebook.proof.scales import Value, held

__all__ = ["RELEASE_US", "UNKNOWN", "Receiver"]

UNKNOWN: Final = "?"  # of a variant: nobody knows; None is "in the preset itself"
RELEASE_US: Final = 100_000  # C8


class Receiver:
    """One unit's state. `values` holds what is known: a member that is not in it is unknown."""

    def __init__(self, unit: Unit, tuning: float) -> None:
        self.unit = unit
        self._chart = Chart(unit)
        programs = unit.programs
        settle_us = programs.settle_us if programs else None
        self._settle_us = math.inf if settle_us is None else settle_us
        slots = programs.slots if programs else {}
        self._presets = {slots[preset.slot]: preset for preset in unit.presets if preset.slot in slots}
        self._stores = {
            (slot, name): {member: held(unit, member, text, None, tuning) for member, text in stores.items()}
            for slot, preset in self._presets.items()
            for name, stores in _layers(preset).items()
        }
        self.forget()

    def forget(self) -> None:
        """Begin anew: nothing is known."""
        self.slot: int | None = None
        self.variant: str | None = UNKNOWN
        self.values: dict[str, Value] = {}
        self._bank: dict[str, int] = {}
        self._pending: dict[tuple[int, str], int] = {}
        self._progress = [0] * len(self._chart.lists)
        self.begin()

    def begin(self) -> None:
        """Begin a cue: the clock is at 0, the unit is ready, nothing has fired."""
        self.fired: Counter[str] = Counter()
        self.sounding: dict[int, int] = {}  # note that fired to the end of its last byte
        self.set_directly: dict[str, Value | None] = {}  # member to what recalls alone would have left
        self.before_recall: dict[str, Value | None] = {}  # member to what it held before a recall moved it
        self._ready: float = 0

    def hear(self, start: int, end: int, message: bytes) -> bool:
        """Obey one message; `start` and `end` are µs from the cue. Tell whether the chart knows it.

        What is lost in settling counts as known: nobody read it.
        """
        if start < self._ready and message[0] < REAL_TIME_FIRST:
            return True
        known = False
        for meaning in self._chart.meanings(message):
            known |= self._obey(meaning, start, end, message)
        return known

    def _obey(self, meaning: Meaning, start: int, end: int, message: bytes) -> bool:
        match meaning.act:
            case "set":
                self._set(meaning.name, meaning.value)
            case "flip":
                self._flip(meaning.name)
            case "fire":
                self._fire(meaning, end)
            case "release":
                return self._release(meaning.number, start)
            case "variant":
                return self._reach(meaning.number, meaning.name)
            case "recall":
                return self._program_change(message[0] & 0x0F, meaning.number, end)
            case "bank":
                self._pending[message[0] & 0x0F, meaning.name] = meaning.number
            case "part":
                self._advance(meaning, start, end, message)
        return True

    def _set(self, member: str, value: Value | None) -> None:
        self.set_directly.setdefault(member, self.values.get(member))
        self._put(member, value)

    def _flip(self, member: str) -> None:
        now = self.values.get(member)
        self._set(member, None if now is None else "off" if now == "on" else "on")

    def _fire(self, meaning: Meaning, end: int) -> None:
        self.fired[meaning.name] += 1
        if meaning.value == "note":
            self.sounding[meaning.number] = end

    def _release(self, note: int, start: int) -> bool:
        if note in self.sounding and start < self.sounding[note] + RELEASE_US:
            return False
        self.sounding.pop(note, None)
        return True

    def _advance(self, meaning: Meaning, start: int, end: int, message: bytes) -> None:
        length, whole = self._chart.lists[meaning.number]
        if self._progress[meaning.number] in meaning.at:
            self._progress[meaning.number] += 1
        if self._progress[meaning.number] == length:
            self._progress[meaning.number] = 0
            self._obey(whole, start, end, message)

    def _program_change(self, channel: int, program: int, end: int) -> bool:
        programs = self.unit.programs
        if programs is None:  # pragma: no cover - the chart knows no recall then
            return False
        bank = self._bank_after(channel, programs.bank_select)
        slot = None if bank is None else (bank - programs.first_bank) * 128 + program
        if slot is not None and not 0 <= slot < programs.count:
            return False
        if programs.repeat == "ignored" and slot is not None and slot == self.slot:
            return True
        sure = slot is not None and (programs.repeat == "obeyed" or self.slot is not None)
        self._ready = end + self._settle_us
        self.slot, self.variant = slot, None if sure else UNKNOWN
        self._take_stores(None, self.unit.stored, sure=sure)
        return True

    def _bank_after(self, channel: int, uses: BankSelect) -> int | None:
        """Return the bank in force after a program change on `channel`; None where nobody knows."""
        for part in ("msb", "lsb"):
            if (channel, part) in self._pending:
                self._bank[part] = self._pending.pop((channel, part))
        if uses is BankSelect.NONE:
            return self.unit.programs.first_bank if self.unit.programs else 0
        if uses is BankSelect.BOTH:
            msb, lsb = self._bank.get("msb"), self._bank.get("lsb")
            return None if msb is None or lsb is None else msb * 128 + lsb
        return self._bank.get(uses.value)

    def _reach(self, slot: int, variant: str) -> bool:
        if self.unit.programs is None or not self.unit.programs.program_change:
            return True  # presets are recalled by foot or hand: nobody can hear in which one it is
        if slot != self.slot:
            return False
        preset = self._presets[slot]
        siblings = {member for each in preset.variants.values() for member in each.stores}
        self.variant = variant
        self._take_stores(variant, siblings, sure=True)
        return True

    def _take_stores(self, variant: str | None, doubtful: frozenset[str] | set[str], *, sure: bool) -> None:
        """Give stored members their values (S5); those of `doubtful` that nothing stores here become unknown."""
        stores: dict[str, Value] = {}
        preset = self._presets.get(self.slot) if self.slot is not None else None
        if sure and preset is not None:
            stores = dict(self._stores[self.slot or 0, None])
            if preset.rest == "off":
                stores = {**{m: "off" for m in sorted(doubtful) if m in self.unit.switches}, **stores}
            if variant is not None:
                stores |= self._stores[self.slot or 0, variant]
        for member in sorted(doubtful | stores.keys()):
            now = self.values.get(member)
            self.before_recall.setdefault(member, self.set_directly.pop(member, now))
            self._put(member, stores.get(member))

    def _put(self, member: str, value: Value | None) -> None:
        if value is None:
            self.values.pop(member, None)
        else:
            self.values[member] = value


def _layers(preset: Preset) -> dict[str | None, Mapping[str, str]]:
    return {None: preset.stores, **{name: variant.stores for name, variant in preset.variants.items()}}
