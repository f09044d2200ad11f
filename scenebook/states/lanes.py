"""One carried unit's members packed as 8-bit lanes of one integer, so that a difference is arithmetic.

A lane holds 0 or 1 for a switch, the 0-127 step of a control worked by message, and for any other control an index into
the list of its positions met so far; `SOMEWHERE` is a knob of which only a hand knows how it stands. Which lanes count
is told by a mask with 0xFF in each of them.
"""

from collections.abc import Iterator, Mapping
from functools import cached_property
from typing import NamedTuple

from scenebook.errors import BadValueError, ScenebookError
from scenebook.model import MAIN, Control, Preset, Switch
from scenebook.model.amounts import fixed
from scenebook.model.units import RESERVED, Variant
from scenebook.model.values import CONCERT_A, TIMES, read_value, step_of, uses_tempo
from scenebook.states.stage import Carried, Way

__all__ = ["SOMEWHERE", "Effect", "LaneValues", "Lanes", "lane_indexes"]

LANE, FULL = 8, 0xFF
SOMEWHERE = 0xFF  # equal to no position; a hand can set it all the same
_POSITIONS = 254


class Effect(NamedTuple):
    """What a recall or a variant does: lanes that it sets, and lanes that nobody knows after it (rule S5)."""

    value: int
    known: int
    unknown: int


def lane_indexes(mask: int) -> Iterator[int]:
    """Yield the index of every lane that has a bit in `mask`, from the first."""
    while mask:
        index = ((mask & -mask).bit_length() - 1) >> 3
        yield index
        mask &= ~(FULL << (index << 3))


class Lanes:
    """The packed view of one carried unit. It grows as new knob positions and texts are met."""

    def __init__(self, carried: Carried, *, tuning: float = CONCERT_A) -> None:
        self.carried, self.unit, self.tuning = carried, carried.unit, tuning
        self.members = tuple(self.unit.members)
        self.index = {member: index for index, member in enumerate(self.members)}
        self.things: tuple[Switch | Control, ...] = tuple(self.unit.members.values())
        self.ways = tuple(carried.ways[member] for member in self.members)
        self.main = self.index.get(MAIN)
        self.switch_mask = self._mask(m for m in self.members if m in self.unit.switches)
        self.stored_mask = self._mask(m for m in self.members if m in self.unit.stored)
        self.explicit_mask = self._mask(m for m in self.members if carried.ways[m] is Way.MESSAGE)
        self.hand_mask = self._mask(
            m for m in self.members if m in self.unit.controls and carried.ways[m] is not Way.MESSAGE
        )
        self._positions: list[list[float]] = [[] for _ in self.members]
        self._texts: dict[tuple[int, int], str] = {}
        self._effects: dict[tuple[int, str | None], Effect] = {}
        self._slots: dict[str, int] = {}
        self._packed: dict[tuple[str, str], tuple[int, int]] = {}
        self._has_times = any(control.scale in TIMES for control in self.unit.controls.values())
        self._presets = {self.unit.preset_at(preset.slot)[0]: preset for preset in self.unit.presets}

    @property
    def presets(self) -> Mapping[int, Preset]:
        """The described presets by slot, counted from 0."""
        return self._presets

    def mask_of(self, member: str) -> int:
        """The mask of one member's lane."""
        return FULL << (self.index[member] << 3)

    def lane(self, member: str, text: str, tempo: float | None) -> int:
        """Return what `member`'s lane holds for a value as written, already shifted into place.

        Raises:
            BadValueError: the value is off its scale, or outside what its message can set.
        """
        index = self.index[member]
        thing = self.things[index]
        if isinstance(thing, Switch):
            return (text == "on") << (index << 3)
        try:
            lane = self._control_lane(index, thing, text, tempo)
        except BadValueError as error:
            raise error.at(f"unit {self.carried.name!r}, control {member!r}") from None
        self._texts.setdefault((index, lane), text)
        return lane << (index << 3)

    def text(self, index: int, lane: int) -> str:
        """Return a lane's value as the player wrote it."""
        if self.switch_mask >> (index << 3) & FULL:
            return "on" if lane else "off"
        return self._texts[index, lane] if lane != SOMEWHERE else ""

    def position(self, index: int, lane: int) -> float:
        """Return the number that the position of a control worked by hand computes to on its scale."""
        return self._positions[index][lane]

    def measured(self, index: int, lane: int) -> str:
        """Return the number that a control's position computes to, with its unit: "402 ms"."""
        thing = self.things[index]
        scale = thing.scale if isinstance(thing, Control) else ""
        return f"{fixed(self.position(index, lane))} {'ms' if scale in TIMES else scale}".strip()

    def packed(self, setting: Mapping[str, str], tempo: float | None) -> tuple[int, int]:
        """Return (value, known) of the members that a setting gives a value; those that it leaves are not known."""
        value = known = 0
        for written in setting.items():
            lane = self._packed.get(written)
            if lane is None:
                lane = self._packed_one(*written, tempo)
            value |= lane[0]
            known |= lane[1]
        return value, known

    def tempo_matters(self, setting: Mapping[str, str]) -> bool:
        """Whether any value of a setting is written as a note value."""
        return self._has_times and any(uses_tempo(text) for text in setting.values())

    def slot(self, text: str) -> int:
        """Return the slot, counted from 0, that a scene names by its label or its preset's name."""
        found = self._slots.get(text)
        if found is None:
            found = self._slots[text] = self.unit.preset_at(text, f"unit {self.carried.name!r}")[0]
        return found

    def effect(self, slot: int, variant: str | None = None) -> Effect:
        """Return what recalling `slot` does, or reaching a variant while in it (rule S5)."""
        key = slot, variant
        found = self._effects.get(key)
        if found is None:
            found = self._effects[key] = self._effect(self._presets.get(slot), variant)
        return found

    def same(self, index: int, one: int, other: int) -> bool:
        """Whether two lane values are equal (rule S10): exactly, or for a knob within its tolerance."""
        if one == other:
            return True
        thing = self.things[index]
        if isinstance(thing, Switch) or self.ways[index] is Way.MESSAGE or SOMEWHERE in (one, other):
            return False
        positions = self._positions[index]
        return abs(positions[one] - positions[other]) <= thing.slack + 1e-9

    def difference(self, value: int, known: int, wanted: int, mask: int) -> int:
        """Return a number with a bit in each lane of `mask` where `value` is not `wanted`, or is not known."""
        lanes = ((value ^ wanted) | ~known) & mask
        knobs = lanes & self.hand_mask & known
        for index in lane_indexes(knobs) if knobs else ():
            shift = index << 3
            if self.same(index, value >> shift & FULL, wanted >> shift & FULL):
                lanes &= ~(FULL << shift)
        return lanes

    def _packed_one(self, member: str, text: str, tempo: float | None) -> tuple[int, int]:
        """Return (value, known) of one member, and keep it where it holds at any tempo."""
        if member in RESERVED or text == "leave" or member not in self.index:
            return 0, 0
        lane = self.lane(member, text, tempo), self.mask_of(member)
        if not (self._has_times and uses_tempo(text)):
            self._packed[member, text] = lane
        return lane

    def _control_lane(self, index: int, control: Control, text: str, tempo: float | None) -> int:
        value = read_value(text, control.scale, tempo=tempo, tuning=self.tuning, choices=control.choices)
        if self.ways[index] is not Way.MESSAGE or control.message is None:
            return self._position(index, value)
        if control.choices:
            return control.message.values[control.choices[int(value)]]
        low, high = control.range or (0.0, 1.0)
        step = step_of(value, low, high)
        if step is None:
            between = " to ".join(control.message.range or (f"{low:g}", f"{high:g}"))
            raise BadValueError(f"{text!r} is outside what its message can set", accepted=between)
        return step

    def _position(self, index: int, value: float) -> int:
        positions = self._positions[index]
        for place, met in enumerate(positions):
            if abs(met - value) < 1e-9:
                return place
        if len(positions) >= _POSITIONS:
            raise BadValueError(f"more than {_POSITIONS} different positions of one knob in one gig")
        positions.append(value)
        return len(positions) - 1

    def _effect(self, preset: Preset | None, variant: str | None) -> Effect:
        if preset is None:
            return Effect(0, 0, self.stored_mask)
        value, known = self._stored(preset.stores)
        touched = self.stored_mask
        if variant is not None:
            touched = self._mask(m for each in preset.variants.values() for m in each.stores if m in self.index)
            more, more_known = self._stored(preset.variants[variant].stores)
            value, known = (value & ~more_known) | more, known | more_known
        if preset.rest == "off":
            known |= touched & self.switch_mask
        return Effect(value, known, touched & ~known)

    def _stored(self, stores: Mapping[str, str]) -> tuple[int, int]:
        try:
            return self.packed(stores, None)
        except ScenebookError as error:
            raise error.at(f"presets of {self.carried.name!r}") from None

    def _mask(self, members: Iterator[str]) -> int:
        mask = 0
        for member in members:
            mask |= FULL << (self.index[member] << 3)
        return mask

    def variant(self, slot: int, name: str) -> Variant:
        """Return a variant of the preset in `slot`."""
        return self._presets[slot].variants[name]


class LaneValues(Mapping[str, str]):
    """The members of a packed value as the player wrote them, worked out when somebody reads them."""

    def __init__(self, lanes: Lanes, value: int, known: int, words: Mapping[str, str]) -> None:
        """Keep the packed value; `words` are the scene's own writing, which goes before an equal value met earlier."""
        self._packed = lanes, value, known, words

    @cached_property
    def _values(self) -> dict[str, str]:
        lanes, value, known, words = self._packed
        return {
            lanes.members[lane]: words.get(lanes.members[lane]) or lanes.text(lane, value >> (lane << 3) & FULL)
            for lane in lane_indexes(known)
        }

    def __getitem__(self, member: str) -> str:
        return self._values[member]

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)

    def __repr__(self) -> str:
        return repr(self._values)
