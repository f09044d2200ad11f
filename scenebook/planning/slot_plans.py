"""What a plan of slots says: what each slot of a unit stores, for which scenes, and where it begins as a copy."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from scenebook.model.units import Variant
from scenebook.planning.slots import Thrift

__all__ = ["Hole", "Programming", "SlotPlan", "UnitProgramming", "Use", "VariantPlan", "changes", "same_sound"]
__all__ += ["same_variants", "way_words"]


class Use(NamedTuple):
    """A scene that uses a slot or a variant; `gig` where it has another sound at another of the chosen gigs."""

    song: str
    scene: str
    gig: str = ""


class VariantPlan(NamedTuple):
    """A variant to store inside a slot: how it is reached, and what it changes."""

    name: str
    way: str
    stores: Mapping[str, str]
    uses: tuple[Use, ...]


class SlotPlan(NamedTuple):
    """What one slot stores. `copy_of` names the preset that it begins as a copy of, "" for one made anew.

    `kept` marks a preset that stays as the library describes it; `rest_off`: every other stored switch is off.
    `begins_as` is the label of the slot of which it is best begun as a copy, where that is not `copy_of`.
    """

    slot: int
    label: str
    name: str
    copy_of: str
    stores: Mapping[str, str]
    variants: tuple[VariantPlan, ...]
    uses: tuple[Use, ...]
    kept: bool = False
    rest_off: bool = False
    begins_as: str = ""


class Hole(NamedTuple):
    """A recall that is heard inside a song: between which scenes, for how many ms, how often in the chosen gigs."""

    song: str
    before: str
    after: str
    ms: float
    times: int


@dataclass(frozen=True)
class UnitProgramming:
    """One unit's slots: first those that stay, by slot, then those to store, in set order.

    `split` names songs inside which feet change the bank, `no_room` the uses for which no slot is left; `by_message`
    says that messages recall its slots, so that no foot walks from one to the next; `once` is how many there would be
    to store if each sound were stored once; `unset` gives each member that no slot stores, with the scenes that set it.
    `recalled` are the slots, as displayed, that the compiled gigs recall as the library is; None where nobody asked.
    """

    unit: str
    bank_of: int | None
    count: int
    thrift: Thrift
    kept: tuple[SlotPlan, ...]
    slots: tuple[SlotPlan, ...]
    holes: tuple[Hole, ...]
    split: tuple[str, ...] = ()
    no_room: tuple[Use, ...] = ()
    by_message: bool = False
    once: int = 0
    unset: Mapping[str, tuple[Use, ...]] = field(default_factory=dict)
    recalled: frozenset[str] | None = None

    @property
    def copies(self) -> int:
        """How many of the slots to store are wholly the same as another, so that hands copy and set nothing."""
        return sum(
            source is not None and same_sound(slot, source) for slot in self.slots for source in [self.source(slot)]
        )

    @property
    def for_feet(self) -> bool:
        """Whether feet or hands follow the slots as they are laid out: compiling sends what messages work."""
        return not self.by_message or self.thrift is not Thrift.FEWEST

    def source(self, slot: SlotPlan) -> SlotPlan | None:
        """Return the slot that another begins as a copy of; None for one that is made anew."""
        named = slot.begins_as or slot.copy_of.split(" ", 1)[0]
        return next((each for each in (*self.kept, *self.slots) if named and each.label == named), None)


@dataclass(frozen=True)
class Programming:
    """What to store in every unit of a rig whose presets can be recalled there; the other units are in `without`.

    `as_presets` says that only what compiling can recall is stored, once each, to be described in the library.
    """

    rig: str
    gigs: tuple[str, ...]
    units: tuple[UnitProgramming, ...]
    without: tuple[str, ...]
    refused: tuple[tuple[str, str, str], ...] = ()
    left_out: tuple[tuple[str, str], ...] = ()
    as_presets: bool = False


def changes(slot: SlotPlan, source: SlotPlan) -> dict[str, str]:
    """Return what has to be set otherwise in a slot that begins as a copy of another."""
    off = "off" if source.rest_off else None
    return {member: text for member, text in slot.stores.items() if source.stores.get(member, off) != text}


def same_sound(slot: SlotPlan, source: SlotPlan) -> bool:
    """Whether a copy of `source` is the slot, variants included."""
    return not changes(slot, source) and same_variants(slot, source)


def same_variants(slot: SlotPlan, source: SlotPlan) -> bool:
    """Whether two slots hold the same variants, reached in the same ways."""
    return _variants(slot) == _variants(source)


def _variants(slot: SlotPlan) -> list[tuple[str, Mapping[str, str]]]:
    return [(variant.way, variant.stores) for variant in slot.variants]


def way_words(variant: Variant) -> str:
    """Return how a variant is reached, in words: its controller and value, its bytes, or a foot."""
    if variant.controller is not None:
        return f"controller {variant.controller}, value {variant.value}"
    return f"bytes {variant.bytes}" if variant.bytes else "foot" if variant.foot else "unsaid"
