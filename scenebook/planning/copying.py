"""Where a slot begins as a copy of another, so that hands copy and change little rather than dial all of it.

To copy a slot and change two switches is quicker, and less to go wrong, than to set twelve.
"""

from collections.abc import Collection, Iterator, Sequence

from scenebook.model import Unit
from scenebook.planning.slot_plans import SlotPlan, changes, same_variants

__all__ = ["begun_as_copies", "plain_slots"]


def begun_as_copies(slots: Sequence[SlotPlan], kept: Sequence[SlotPlan], told: Collection[str]) -> Iterator[SlotPlan]:
    """Yield slots in their order, each with the nearest that is there by then as what it begins as.

    `kept` are the presets that stay, and `told` the labels of those that are nothing but what is said of them. A slot
    that begins as a copy of a preset (`copy_of`) is like those alone that do too, and nearer than the preset itself,
    or it stays with the preset. Another is copied where that leaves no more than half of it to set.
    """
    own = {f"{each.label} {each.name}".strip(): each for each in kept}
    there = [each for each in kept if each.label in told]
    for slot in slots:
        near = [each for each in there if _may_begin_as(slot, each)]
        best = min(near, key=lambda each: _left(slot, each), default=None)
        preset = own.get(slot.copy_of)
        most = _left(slot, preset) - 1 if preset else len(slot.stores) / 2 + len(slot.variants)
        if best is not None and slot.stores and _left(slot, best) <= most:
            slot = slot._replace(begins_as=best.label)
        there.append(slot)
        yield slot


def plain_slots(unit: Unit) -> frozenset[str]:
    """Return the described slots that are nothing but what they store, so that a copy brings nothing else along."""
    told = (each for each in unit.presets if not (each.pitches or each.footswitches or each.variants))
    return frozenset(each.slot for each in told if each.stores)


def _may_begin_as(slot: SlotPlan, source: SlotPlan) -> bool:
    """Whether a copy brings nothing along that the slot does not want: no other preset's own, no other variants."""
    kin = not source.kept and source.copy_of == slot.copy_of if slot.copy_of else source.kept or not source.copy_of
    return kin and (not source.variants or same_variants(slot, source))


def _left(slot: SlotPlan, source: SlotPlan) -> int:
    return len(changes(slot, source)) + (0 if same_variants(slot, source) else len(slot.variants))
