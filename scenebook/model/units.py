"""Units: one piece of gear each, with its switches and controls, its presets, and what it is as an object."""

from enum import StrEnum
from functools import cached_property
from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from scenebook.errors import BadValueError, UnknownNameError
from scenebook.model.base import MAIN, Frozen, Line, Name, Prose, did_you_mean
from scenebook.model.objects import Outlet, Size, Supply
from scenebook.model.on_stage import Lists
from scenebook.model.programs import SLOT_WRITING, BankSelect, Programs
from scenebook.model.protocol import DATA
from scenebook.model.values import Scale, carried_over, midi_number, read_tolerance, read_value, step_of, uses_tempo

__all__ = [
    "BankSelect",
    "Control",
    "ControlMessage",
    "Outlet",
    "Preset",
    "Programs",
    "Role",
    "Size",
    "Supply",
    "Switch",
    "SwitchMessage",
    "Toggle",
    "Trigger",
    "Unit",
    "Variant",
    "value_over",
]

Data = Annotated[int, Field(ge=0, le=DATA[-1])]
RESERVED = ("preset", "variant", "leave")


class Role(StrEnum):
    """What a unit, or a section of one, does to the sound."""

    OCTAVE = "octave"
    DYNAMICS = "dynamics"
    DRIVE = "drive"
    FUZZ = "fuzz"
    FILTER = "filter"
    PITCH = "pitch"
    MODULATION = "modulation"
    DELAY = "delay"
    REVERB = "reverb"
    LOOPER = "looper"
    SYNTH = "synth"
    PREAMP = "preamp"
    VOLUME = "volume"
    TUNER = "tuner"
    UTILITY = "utility"


class SwitchMessage(Frozen):
    """What to send for on and for off: a controller, a note, or any message bytes.

    With only `controller` the unit takes 0-63 as off and 64-127 as on, and 127 and 0 are sent; with `on` and `off`
    exactly those values count. `on_bytes` and `off_bytes` are hex, with `n` for the channel: "Bn 50 7F".
    A press-and-release pair is two messages in one such list.
    """

    controller: Data | None = None
    on: Data | None = None
    off: Data | None = None
    note: Data | None = None
    on_bytes: Line | None = None
    off_bytes: Line | None = None
    by_chart: bool = Field(default=False, description="the maker's chart really uses this controller number")

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        kinds = [self.controller is not None, self.note is not None, self.on_bytes is not None]
        if sum(kinds) != 1 or (self.on_bytes is None) != (self.off_bytes is None):
            raise ValueError("give one of: controller, note, on_bytes with off_bytes")
        if (self.on is None) != (self.off is None) or (self.on is not None and self.controller is None):
            raise ValueError("on and off go together, with a controller")
        if self.on is not None and self.on == self.off:
            raise ValueError("on and off need different values")
        if self.on_bytes is not None and self.on_bytes == self.off_bytes:
            raise ValueError("on_bytes and off_bytes need to differ; a message that flips the switch is a toggle")
        return self


class Toggle(Frozen):
    """A message of which each one flips the switch: a controller with its value, a note, or any message bytes."""

    controller: Data | None = None
    value: Data = DATA[-1]
    note: Data | None = None
    bytes: Line | None = None
    by_chart: bool = False

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        if sum(kind is not None for kind in (self.controller, self.note, self.bytes)) != 1:
            raise ValueError("give one of: controller, note, bytes")
        return self


class Switch(Frozen):
    """A thing on a unit that is on or off, and the ways in which it can be worked.

    With no way at all only a preset can move it. `contact` names the footswitch jack through which a foot works it.
    A momentary switch acts while it is held: a scene says what for, and it has no state.
    """

    message: SwitchMessage | None = None
    toggle: Toggle | None = None
    foot: bool = False
    hand: bool = False
    contact: Line | None = None
    momentary: bool = False
    section: Role | None = Field(default=None, description="the part of a multi-effects that this switch turns on")


class ControlMessage(Frozen):
    """The controller that sets a control: `range` gives the values that 0 and 127 stand for, `values` each choice's."""

    controller: Data
    range: tuple[Line, Line] | None = None
    values: dict[Name, Data] = Field(default_factory=dict)
    by_chart: bool = False


class Control(Frozen):
    """A thing on a unit that holds a value; with no way given it is a knob, turned by hand."""

    scale: Scale
    choices: tuple[Name, ...] = ()
    message: ControlMessage | None = None
    hand: bool | None = None
    pedal: bool = False
    tolerance: Line | None = Field(default=None, description="how far it may stand off; half an hour on the clock")

    @property
    def by_hand(self) -> bool:
        """Whether a hand can turn it."""
        return self.hand if self.hand is not None else not (self.message or self.pedal)

    @cached_property
    def range(self) -> tuple[float, float] | None:
        """The numbers that 0 and 127 stand for, or the scale's own two ends; nothing where neither is known."""
        if self.message and self.message.range:
            low, high = (read_value(text, self.scale) for text in self.message.range)
            return low, high
        return {Scale.CLOCK: (0.0, 1.0), Scale.TEN: (0.0, 10.0), Scale.PERCENT: (0.0, 100.0)}.get(self.scale)

    @cached_property
    def slack(self) -> float:
        """The tolerance as a number of the scale: within it no hand moves the knob."""
        low, high = self.range or (None, None)
        return read_tolerance(self.tolerance, self.scale, low, high)

    @model_validator(mode="after")
    def _complete(self) -> Self:
        if (self.scale is Scale.CHOICE) != bool(self.choices):
            raise ValueError("choices go with the scale 'choice', and it needs them")
        message = self.message
        if message and self.scale is Scale.CHOICE and set(message.values) != set(self.choices):
            raise ValueError("values must give a number from 0 to 127 for each choice")
        try:
            if message and self.scale is not Scale.CHOICE and self.range is None:
                raise ValueError(f"a message on the scale '{self.scale}' needs range: the values of 0 and 127")
            if self.range and self.range[0] == self.range[1]:
                raise ValueError("range needs two different values")
            _ = self.slack
        except BadValueError as error:
            raise ValueError(str(error).rstrip(".")) from None
        return self


def _short_control(value: object) -> object:
    return {"scale": value} if isinstance(value, str) else value


ShortControl = Annotated[Control, BeforeValidator(_short_control, json_schema_input_type=Scale | Control)]


_ANY_TEMPO = 120.0  # where only whether a text is on a scale is asked


def value_over(text: str, old: Switch | Control, new: Switch | Control) -> str | None:
    """Return a member's value as another unit's member takes it, or nothing where it has no such value.

    A switch takes a switch's, a control a control's where its scale can say it and its message can set it. `leave` is
    carried over as it is.
    """
    if text == "leave" or (isinstance(old, Switch) and isinstance(new, Switch)):
        return text
    if isinstance(old, Switch) or isinstance(new, Switch):
        return None
    try:
        written = carried_over(text, old.scale, new.scale)
        value = None if written is None else read_value(written, new.scale, tempo=_ANY_TEMPO, choices=new.choices)
    except BadValueError:
        return None
    if written is None or value is None or uses_tempo(written):
        return written
    reached = not new.message or new.choices or not new.range or step_of(value, *new.range) is not None
    return written if reached else None


class Variant(Frozen):
    """A stored state inside a preset, reached by its own message (or foot) without leaving the preset."""

    controller: Data | None = None
    value: Data = DATA[-1]
    bytes: Line | None = None
    foot: bool = False
    by_chart: bool = False
    stores: dict[Name, Line] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        if self.controller is not None and self.bytes is not None:
            raise ValueError("give controller or bytes, not both")
        return self


class Preset(Frozen):
    """A programme stored in a unit.

    `stores` gives the members that a recall sets, each with its value; with `rest: off` every other switch that the
    unit's presets store is off. `footswitches` says what they do in it, `pitches` names notes (shown with Hz).
    """

    slot: Line
    name: Line = ""
    stores: dict[Name, Line] = Field(default_factory=dict)
    rest: Literal["off"] | None = None
    footswitches: dict[Name, Line] = Field(default_factory=dict)
    pitches: tuple[Line, ...] = ()
    variants: dict[Name, Variant] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _pitches_are_pitches(self) -> Self:
        try:
            for pitch in self.pitches:
                midi_number(pitch)
        except BadValueError as error:
            raise ValueError(str(error).rstrip(".")) from None
        return self


class Trigger(Frozen):
    """Something that fires once when a scene is entered: a note, a controller, any message bytes, or a foot."""

    note: Data | None = None
    velocity: Annotated[int, Field(ge=1, le=DATA[-1])] = 100
    controller: Data | None = None
    value: Data = DATA[-1]
    bytes: Line | None = None
    foot: bool = False
    by_chart: bool = False

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        kinds = sum(kind is not None for kind in (self.note, self.controller, self.bytes))
        if kinds > 1 or not (kinds or self.foot):
            raise ValueError("give one of: note, controller, bytes; or foot")
        return self


class Unit(Frozen):
    """One piece of gear. Only its name is needed; what lacks is named where it is needed."""

    roles: tuple[Role, ...] = ()
    switches: dict[Name, Switch] = {MAIN: Switch()}
    controls: dict[Name, ShortControl] = Field(default_factory=dict)
    triggers: dict[Name, Trigger] = Field(default_factory=dict)
    programs: Programs | None = None
    presets: tuple[Preset, ...] = ()
    sections_at_once: Annotated[int, Field(ge=1, le=64)] | None = None
    bypass_tails: Literal["kept", "cut"] = "cut"
    boot_s: Annotated[float, Field(ge=0, le=600)] | None = None
    size: Size | None = None
    jacks: tuple[Literal["left", "right", "top", "front"], ...] = ()
    weight_g: Annotated[float, Field(gt=0, le=100_000)] | None = None
    supply: Supply | None = None
    outlets: tuple[Outlet, ...] = Field(default=(), description="what it gives to others, if it is a supply")
    outlets_w: Annotated[float, Field(gt=0, le=5000)] | None = Field(
        default=None, description="the most that all its outlets give together, in W"
    )
    input: Literal["mono", "stereo"] | None = None
    output: Literal["mono", "stereo"] | None = None
    input_kohm: Annotated[float, Field(gt=0, le=100_000)] | None = Field(
        default=None, description="the impedance of its input, which matters for a fuzz"
    )
    bypass: Literal["mechanical", "relay", "buffered"] | None = None
    least_gap_ms: Annotated[float, Field(gt=0, le=1000)] | None = Field(
        default=None, description="the least time between two messages to it"
    )
    bends_ms: Annotated[float, Field(gt=0, le=60_000)] | None = Field(
        default=None, description="how long its tail rings; a change of the clock's tempo in that time bends it"
    )
    lists: Lists | None = Field(default=None, description="what it can hold of message lists, as a sender")
    owned: bool = True
    price: Annotated[float, Field(ge=0)] | None = None
    notes: Prose = ""

    @cached_property
    def members(self) -> dict[str, Switch | Control]:
        """Switches with a state, then controls, in the unit's own order."""
        return {**{name: s for name, s in self.switches.items() if not s.momentary}, **self.controls}

    @cached_property
    def stored(self) -> frozenset[str]:
        """The members that any of the unit's presets or variants store."""
        return frozenset(
            member
            for preset in self.presets
            for stores in (preset.stores, *(variant.stores for variant in preset.variants.values()))
            for member in stores
        )

    @cached_property
    def _presets_by_word(self) -> dict[str, Preset]:
        """The presets by slot and by name, without regard to case; a slot wins over another preset's name."""
        by_name = {preset.name.casefold(): preset for preset in reversed(self.presets) if preset.name}
        return by_name | {preset.slot.casefold(): preset for preset in self.presets}

    def preset_at(self, text: str, where: str = "") -> tuple[int, Preset]:
        """Return the slot (from 0) and the preset that `text` names: the slot as displayed, or the preset's name.

        A slot of which nothing is said is a preset that stores nothing.

        Raises:
            BadValueError: the unit has no programs, or no such slot.
            UnknownNameError: no preset has that name.
        """
        if self.programs is None:
            raise BadValueError(
                f"preset {text!r} is named, but the unit has no programs",
                where=where,
                remedy="Describe the unit's programs first",
            )
        slots = self.programs.slots
        preset = self._presets_by_word.get(text.casefold())
        if preset is not None:
            return slots[preset.slot], preset
        if text in slots:
            return slots[text], Preset(slot=text)
        labels = f"{self.programs.label(0)} to {self.programs.label(self.programs.count - 1)}"
        if SLOT_WRITING.fullmatch(text):
            raise BadValueError(f"slot {text!r} is out of range", where=where, accepted=labels)
        names = [preset.name for preset in self.presets if preset.name]
        raise UnknownNameError(
            f"no preset is called {text!r}",
            where=where,
            accepted=f"a slot from {labels}, or a name",
            remedy=did_you_mean(text, names),
        )
