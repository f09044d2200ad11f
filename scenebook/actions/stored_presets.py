"""Describe what a programming sheet stores as presets of the units, so that compiling recalls it from then on.

A sheet that is made for that has just the slots that compiling does recall: nobody stores what nothing calls up.
What the library describes already is never touched.
"""

from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from scenebook.actions.making import given, made
from scenebook.cueing.cues import recalled_slots
from scenebook.errors import ScenebookError
from scenebook.model import Gig, Library, Preset, Unit
from scenebook.model.base import place_text
from scenebook.planning.copying import begun_as_copies, plain_slots
from scenebook.planning.programming import programming
from scenebook.planning.recalls import compiled_on, holes_of
from scenebook.planning.slot_plans import Programming, SlotPlan, UnitProgramming, way_words
from scenebook.planning.worth import chosen_gigs

__all__ = ["presets_plan", "with_stored"]


def presets_plan(library: Library, rig: str, gigs: Sequence[str] | None = None) -> Programming:
    """Return what to store in a rig's units so that the compiled gigs recall it once it is described, and no more.

    What is quicker to press, turn or send needs no slot. A gig that cannot be compiled as it is recalls nothing: unless
    it was named it is left out, with why.

    Raises:
        ScenebookError: a gig that was named cannot be compiled for the rig.
    """
    able: dict[str, Gig] = {}
    unable: dict[str, str] = {}
    for name, gig in chosen_gigs(library, gigs).items():
        try:
            compiled_on(library, rig, gig)
            able[name] = gig
        except ScenebookError as error:
            if gigs:
                raise error.at(place_text("gig", name)) from None
            unable[name] = str(error)
    plan = _round(library, rig, able)
    more = _round(_described(library, plan), rig, able)
    while any(each.slots for each in more.units):  # what nothing recalls made room: a second sheet would have these
        plan = _both(library, plan, more)
        more = _round(_described(library, plan), rig, able)
    left_out = tuple((name or "all scenes", why) for name, why in unable.items())
    return replace(_with_holes(library, plan, able.values()), left_out=left_out)


def with_stored(plan: UnitProgramming, unit: Unit) -> Unit:
    """Return a unit with each slot that it is to store described as a preset; what is described already stays as it is.

    Raises:
        FormatError: what a slot stores is nothing that a preset of the unit can store.
    """
    there = {preset.slot for preset in unit.presets}
    free = [slot for slot in plan.slots if slot.label not in there]
    return _with_presets(plan.unit, unit, free) if free else unit


def _round(library: Library, rig: str, gigs: Mapping[str, Gig]) -> Programming:
    """Return a plan of slots each of which some gig recalls once all of them are described."""
    plan = programming(library, rig, [name for name in gigs if name], as_presets=True)
    while (fewer := _recalled_only(library, plan, gigs.values())) != plan:
        plan = fewer
    return plan


def _recalled_only(library: Library, plan: Programming, gigs: Iterable[Gig]) -> Programming:
    then = _described(library, plan)
    recalled = {slot for gig in gigs for slot in recalled_slots(compiled_on(then, plan.rig, gig))}
    units = (_with_slots(each, library.units[each.unit], recalled) for each in plan.units)
    return replace(plan, units=tuple(units))


def _described(library: Library, plan: Programming) -> Library:
    told = {each.unit: _with_presets(each.unit, library.units[each.unit], list(each.slots)) for each in plan.units}
    return library.model_copy(update={"units": {**library.units, **told}})


def _both(library: Library, plan: Programming, more: Programming) -> Programming:
    units = []
    for old, new in zip(plan.units, more.units, strict=True):
        slots = [slot._replace(begins_as="") for slot in sorted((*old.slots, *new.slots), key=lambda each: each.slot)]
        begun = begun_as_copies(slots, old.kept, plain_slots(library.units[old.unit]))
        units.append(replace(old, slots=tuple(begun), no_room=new.no_room))
    return replace(plan, units=tuple(units))


def _with_slots(plan: UnitProgramming, unit: Unit, recalled: Container[tuple[str, str]]) -> UnitProgramming:
    """Return a unit's plan with the slots that are recalled, moved up to the first of those that all of them took."""
    kept = [slot for slot in plan.slots if (plan.unit, slot.label) in recalled]
    if len(kept) == len(plan.slots):
        return plan
    moved = [
        slot._replace(slot=at.slot, label=at.label, begins_as="") for slot, at in zip(kept, plan.slots, strict=False)
    ]
    return replace(plan, slots=tuple(begun_as_copies(moved, plan.kept, plain_slots(unit))))


def _with_holes(library: Library, plan: Programming, gigs: Iterable[Gig]) -> Programming:
    """Return a plan with the recalls that are heard inside songs as the gigs are compiled once it is described."""
    then = _described(library, plan)
    holes = holes_of([compiled_on(then, plan.rig, gig) for gig in gigs], library.units)
    return replace(plan, units=tuple(replace(each, holes=holes.get(each.unit, ())) for each in plan.units))


def _with_presets(name: str, unit: Unit, slots: list[SlotPlan]) -> Unit:
    where = place_text("unit", name)
    presets = [*unit.presets, *_presets(unit, slots, where)]
    return made(Unit, {**{key: getattr(unit, key) for key in unit.model_fields_set}, "presets": presets}, where)


def _presets(unit: Unit, slots: list[SlotPlan], where: str) -> Iterator[Preset]:
    """Yield a preset for each slot."""
    taken = {word.casefold() for preset in unit.presets for word in (preset.slot, preset.name)}
    for slot in slots:
        name = slot.name if slot.name.casefold() not in taken else f"{slot.name} ({slot.label})"
        taken.add(name.casefold())
        yield made(
            Preset, given(slot=slot.label, name=name, stores=dict(slot.stores), variants=_variants(unit, slot)), where
        )


def _variants(unit: Unit, slot: SlotPlan) -> dict[str, dict[str, Any]]:
    """Return a slot's variants, each reached in the way in which the unit's described ones are."""
    ways = {way_words(each): each for preset in unit.presets for each in preset.variants.values()}
    return {
        variant.name: {**ways[variant.way].model_dump(exclude_unset=True), "stores": dict(variant.stores)}
        for variant in slot.variants
    }
