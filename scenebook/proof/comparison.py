"""Hold a receiver's state against what a cue asks of its unit, member by member (P3).

What a message or a program change reaches is compared. What hands and feet work is not: they are trusted to do what the
sheet says. Readings of our own:

- Where presets are recalled by hand or foot on a unit that hears messages, nothing that they store is compared; where a
  variant is reached by foot alone, nothing that its preset and variants store.
- A toggling switch of which nobody knows how it stands (at home, and throughout in full) is not proved.
- The own switch of a unit that is alone in a loop is set once by hand; it fails only if something is known to move it.
- A free member is touched if it ends otherwise than recalls alone would have left it. In lean, with the preset open, a
  recall does not move it either (C2).
"""

from collections.abc import Iterator
from dataclasses import dataclass

from scenebook.model import MAIN, Control, Switch, Unit, Variant
from scenebook.proof.reading import Asked
from scenebook.proof.receivers import UNKNOWN, Receiver
from scenebook.proof.scales import Value

__all__ = ["Comparison"]


@dataclass(frozen=True)
class Comparison:
    """What can be compared of one unit: its preset, its variants (of which slots not), its members by their way."""

    unit: Unit
    preset: bool
    footed: frozenset[int]  # slots with a variant that a foot reaches
    members: tuple[str, ...]
    toggling: frozenset[str]
    loose: frozenset[str]  # compared only where known
    by_hand: tuple[str, ...]

    @classmethod
    def of(cls, unit: Unit, *, alone: bool, deaf: bool) -> "Comparison":
        """Sort the members of a unit that is `alone` in a loop or not; `deaf`: it has no port."""
        programs = unit.programs
        recalled = programs is not None and programs.program_change and not deaf
        footed = frozenset(_footed(unit))
        hidden = _hidden(unit, footed, recalled=recalled)
        loose = frozenset({MAIN} if alone else ())
        seen = [
            name
            for name, thing in unit.members.items()
            if not deaf and name not in hidden and (name in loose or _is_seen(unit, name, thing))
        ]
        toggling = {name for name, switch in unit.switches.items() if switch.toggle and not switch.message}
        by_hand = [name for name in unit.members if name not in seen or name in loose]
        return cls(
            unit=unit,
            preset=recalled,
            footed=footed,
            members=tuple(seen),
            toggling=frozenset(toggling & set(seen)),
            loose=loose,
            by_hand=(*(["preset"] if programs is not None and not recalled else []), *by_hand),
        )

    def differences(self, asked: Asked, receiver: Receiver, *, lean: bool, anew: bool = False) -> tuple[list[str], int]:
        """Return what is not as asked, a sentence each without its full stop, and how many things were compared.

        `anew`: in a list that is lean otherwise each cue may recall its preset once more, as full does.
        """
        found: list[str] = []
        count = 0
        if self.preset and asked.slot is not None:
            count += 1
            found += self._preset_differs(asked, receiver)
        for member in self.members:
            now = receiver.values.get(member)
            if member in asked.values:
                if now is None and (member in self.loose or (member in self.toggling and not lean)):
                    continue
                count += 1
                if now != asked.values[member]:
                    found.append(_sentence(member, asked.values[member], now))
            else:
                count += 1
                found += _touched(member, receiver, recalls=asked.slot is not None or anew or not lean)
        return found, count

    def _preset_differs(self, asked: Asked, receiver: Receiver) -> Iterator[str]:
        programs = self.unit.programs
        if programs is None or asked.slot is None:  # pragma: no cover - asked only of units with programs
            return
        label = programs.label(asked.slot)
        if receiver.slot != asked.slot:
            now = "an unknown preset" if receiver.slot is None else f"preset {programs.label(receiver.slot)}"
            yield f"preset {label} is asked for, and the unit is in {now}"
        elif receiver.variant != asked.variant and asked.slot not in self.footed:
            wanted = f"variant {asked.variant!r}" if asked.variant else "no variant"
            now = {None: "none", UNKNOWN: "an unknown one"}.get(receiver.variant, repr(receiver.variant))
            yield f"{wanted} of preset {label} is asked for, and the unit is in {now}"


def _footed(unit: Unit) -> Iterator[int]:
    slots = unit.programs.slots if unit.programs else {}
    for preset in unit.presets:
        if any(not _has_message(variant) for variant in preset.variants.values()):
            yield slots[preset.slot]


def _has_message(variant: Variant) -> bool:
    return variant.controller is not None or variant.bytes is not None


def _hidden(unit: Unit, footed: frozenset[int], *, recalled: bool) -> frozenset[str]:
    """Return the members that a foot or hand can change by way of a preset, unseen by any receiver."""
    if not recalled:
        return unit.stored
    slots = unit.programs.slots if unit.programs else {}
    mixed = [preset for preset in unit.presets if slots[preset.slot] in footed]
    stores = [layer for p in mixed for layer in (p.stores, *(variant.stores for variant in p.variants.values()))]
    return frozenset(member for layer in stores for member in layer)


def _is_seen(unit: Unit, name: str, thing: Switch | Control) -> bool:
    """Tell whether a message works it, or only a preset does (S1)."""
    if thing.message or (isinstance(thing, Switch) and thing.toggle):
        return True
    if isinstance(thing, Switch):
        worked = thing.foot or thing.hand or thing.contact is not None
    else:
        worked = thing.by_hand or thing.pedal
    return not worked and name in unit.stored


def _touched(member: str, receiver: Receiver, *, recalls: bool) -> list[str]:
    now = receiver.values.get(member)
    if member in receiver.set_directly and receiver.set_directly[member] != now:
        return [f"nothing is asked of {member!r}, and a message set it to {now}"]
    if not recalls and member in receiver.before_recall and receiver.before_recall[member] != now:
        return [f"nothing is asked of {member!r}, and a recall moved it"]
    return []


def _sentence(member: str, asked: Value, now: Value | None) -> str:
    state = "nothing has set it" if now is None else f"it is at {now}"
    return f"{member!r} is to be at {asked}, and {state}"
