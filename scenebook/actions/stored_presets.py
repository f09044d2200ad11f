"""Describe what a programming sheet stores as presets of the units, so that compiling recalls it from then on.

What the library describes already is never touched, and all of it is one change, which `library undo` takes back.
"""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from scenebook.actions.making import given, made
from scenebook.model import Library, Preset, Unit
from scenebook.model.base import place_text
from scenebook.planning.slot_plans import Programming, SlotPlan, UnitProgramming, way_words
from scenebook.planning.sounds import sounds_of
from scenebook.storage import open_library

__all__ = ["describe_stored", "recalled_only"]


def recalled_only(library: Library, plan: Programming) -> Programming:
    """Return a plan without the slots that compiling could not recall: scenes name another preset in place of each."""
    open_to = _left_open(library, plan)
    units = [
        replace(unit, slots=tuple(slot for slot in unit.slots if _uses(slot) & open_to.get(unit.unit, set())))
        for unit in plan.units
    ]
    return replace(plan, units=tuple(units), as_presets=True)


def describe_stored(path: Path, rig: str, units: tuple[UnitProgramming, ...]) -> dict[str, int]:
    """Describe each slot that some units are to store as a preset; a slot that is described already stays as it is.

    Returns:
        For each unit how many presets are new.

    Raises:
        FormatError: what a slot stores is nothing that a preset of its unit can store.
    """
    described = {}
    with open_library(path) as store, store.change(f"rig program {rig} --written --as-presets") as change:
        for plan in units:
            unit = store.unit(plan.unit)
            there = {preset.slot for preset in unit.presets}
            free = [slot for slot in plan.slots if slot.label not in there]
            described[plan.unit] = len(free)
            if free:
                change.put_unit(plan.unit, _with_presets(plan.unit, unit, free))
    return described


_Scene = tuple[str, str]


def _left_open(library: Library, plan: Programming) -> dict[str, set[_Scene]]:
    """Return the scenes, as (song, scene), that leave a unit's preset open at some gig, so that compiling chooses."""
    found: dict[str, set[_Scene]] = {}
    gigs = [gig for gig in plan.gigs if gig] or None
    for unit, songs in sounds_of(library, plan.rig, gigs).by_unit.items():
        for song, part in ((song, part) for song, runs in songs.items() for run in runs for part in run.parts):
            if part.sound is not None and part.sound.preset is None:
                found.setdefault(unit, set()).add((song, part.scene))
    return found


def _uses(slot: SlotPlan) -> set[_Scene]:
    uses = [*slot.uses, *(use for variant in slot.variants for use in variant.uses)]
    return {(use.song, use.scene) for use in uses}


def _with_presets(name: str, unit: Unit, slots: list[SlotPlan]) -> Unit:
    where = place_text("unit", name)
    presets = [*unit.presets, *_presets(unit, slots, where)]
    return made(Unit, {**{key: getattr(unit, key) for key in unit.model_fields_set}, "presets": presets}, where)


def _presets(unit: Unit, slots: list[SlotPlan], where: str) -> Iterator[Preset]:
    """Yield a preset for each slot; one that begins as a copy of a described one has what else that one has."""
    taken = {word.casefold() for preset in unit.presets for word in (preset.slot, preset.name)}
    sources = {f"{preset.slot} {preset.name}".strip(): preset for preset in unit.presets}
    for slot in slots:
        source = sources.get(slot.copy_of)
        name = slot.name if slot.name.casefold() not in taken else f"{slot.name} ({slot.label})"
        taken.add(name.casefold())
        kept = given(pitches=source.pitches, footswitches=source.footswitches, rest=source.rest) if source else {}
        said = given(slot=slot.label, name=name, stores=dict(slot.stores), variants=_variants(unit, slot))
        yield made(Preset, {**kept, **said}, where)


def _variants(unit: Unit, slot: SlotPlan) -> dict[str, dict[str, Any]]:
    """Return a slot's variants, each reached in the way in which the unit's described ones are."""
    ways = {way_words(each): each for preset in unit.presets for each in preset.variants.values()}
    return {
        variant.name: {**ways[variant.way].model_dump(exclude_unset=True), "stores": dict(variant.stores)}
        for variant in slot.variants
    }
