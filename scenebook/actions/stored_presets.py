"""Describe what a programming sheet stores as presets of the units, so that compiling recalls it from then on.

A sheet that is made for that has just the slots that compiling does recall: nobody stores what nothing calls up.
What the library describes already is never touched.
"""

from collections import Counter
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

from scenebook.actions.making import given, made
from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import CueList, recalled_slots
from scenebook.errors import ScenebookError
from scenebook.model import Gig, Library, Preset, Unit
from scenebook.model.base import place_text
from scenebook.planning.copying import begun_as_copies, plain_slots
from scenebook.planning.programming import programming
from scenebook.planning.slot_plans import Hole, Programming, SlotPlan, UnitProgramming, way_words
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
            _compiled(library, rig, gig)
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


_GIG = "as it would be"  # what the one gig is called that is compiled on trial


def with_stored(plan: UnitProgramming, unit: Unit) -> Unit:
    """Return a unit with each slot that it is to store described as a preset; what is described already stays as it is.

    Raises:
        FormatError: what a slot stores is nothing that a preset of the unit can store.
    """
    there = {preset.slot for preset in unit.presets}
    free = [slot for slot in plan.slots if slot.label not in there]
    return _with_presets(plan.unit, unit, free) if free else unit


def _compiled(library: Library, rig: str, gig: Gig) -> CueList:
    return compile_gig(library.model_copy(update={"gigs": {_GIG: gig}}), _GIG, rig)


def _round(library: Library, rig: str, gigs: Mapping[str, Gig]) -> Programming:
    """Return a plan of slots each of which some gig recalls once all of them are described."""
    plan = programming(library, rig, [name for name in gigs if name], as_presets=True)
    while (fewer := _recalled_only(library, plan, gigs.values())) != plan:
        plan = fewer
    return plan


def _recalled_only(library: Library, plan: Programming, gigs: Iterable[Gig]) -> Programming:
    then = _described(library, plan)
    recalled = {slot for gig in gigs for slot in recalled_slots(_compiled(then, plan.rig, gig))}
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
    then, found = _described(library, plan), Counter[tuple[str, str, str, str]]()
    for gig in gigs:
        cues = _compiled(then, plan.rig, gig)
        songs = [cues.cues, *(song.cues for song in cues.spares)]
        for before, after in (pair for each in songs for pair in pairwise(each) if pair[0].entry == pair[1].entry):
            for old, new in zip(before.states, after.states, strict=True):
                if old.sounds and new.sounds and new.preset not in (None, old.preset):
                    found[new.unit, after.song, before.scene, after.scene] += 1
    units = []
    for each in plan.units:
        programs = library.units[each.unit].programs
        ms = programs.hole_ms if programs else 0.0
        own = [Hole(song, a, b, ms, n) for (unit, song, a, b), n in found.items() if unit == each.unit]
        units.append(replace(each, holes=tuple(own) if ms else ()))
    return replace(plan, units=tuple(units))


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
