"""What one slot of a unit holds, in one form for what a sheet stores and for what the library describes. Pure.

Kept as JSON: the preset's name, what it stores, what each variant stores; and for a slot that a sheet stored also for
which rig and gigs that was, and what their scenes asked for then.
"""

import json
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from scenebook.model import Preset, Unit
from scenebook.planning.slot_plans import SlotPlan
from scenebook.planning.sounds import said_value

__all__ = ["Held", "Made", "body_of", "described", "held_in", "holds", "made_for", "planned"]


class Held(NamedTuple):
    """What a slot holds: a name, each member's value, and what each variant sets."""

    name: str
    stores: Mapping[str, str]
    variants: Mapping[str, Mapping[str, str]]


class Made(NamedTuple):
    """For what a sheet stored a slot: the rig, the gigs, and by song and scene the sounds that were asked for."""

    rig: str
    gigs: Sequence[str]
    asked: Sequence[Sequence[Any]]


def described(preset: Preset, unit: Unit) -> Held:
    """Return what the library says that a preset holds."""
    variants = {name: dict(variant.stores) for name, variant in preset.variants.items()}
    return Held(preset.name, _with_rest(preset.stores, preset.rest, unit), variants)


def planned(slot: SlotPlan) -> Held:
    """Return what a sheet says is to be stored in a slot."""
    return Held(slot.name, dict(slot.stores), {variant.name: dict(variant.stores) for variant in slot.variants})


def body_of(held: Held, made: Made | None = None) -> str:
    """Return it as it is kept."""
    said = {**held._asdict(), **(made._asdict() if made else {})}
    return json.dumps(said, ensure_ascii=False, sort_keys=True)


def held_in(body: str, unit: Unit) -> Held:
    """Return what a kept body says that a slot holds; also one that was kept in the words of a described preset."""
    said = json.loads(body)
    variants = said.get("variants", {})
    if "rig" not in said:  # once kept as the preset itself: with a variant's way beside what it stores
        variants = {name: each.get("stores", each) for name, each in variants.items()}
        variants = {name: each if isinstance(each, dict) else {} for name, each in variants.items()}
    return Held(said.get("name", ""), _with_rest(said.get("stores", {}), said.get("rest"), unit), variants)


def made_for(body: str) -> Made | None:
    """Return for what a sheet stored a slot; nothing where it only says which described preset is in it."""
    said = json.loads(body)
    return Made(said["rig"], said["gigs"], said["asked"]) if "rig" in said else None


def holds(held: Held, wanted: Held, unit: Unit) -> bool:
    """Whether a slot that holds one thing holds all that another says; a value written otherwise is the same value."""
    named = held.name == wanted.name or not (held.name and wanted.name)
    return (
        named
        and _covers(held.stores, wanted.stores, unit)
        and all(_covers(held.variants.get(name, {}), stores, unit) for name, stores in wanted.variants.items())
    )


def _covers(held: Mapping[str, str], wanted: Mapping[str, str], unit: Unit) -> bool:
    return all(
        member in held and said_value(unit, member, held[member]) == said_value(unit, member, text)
        for member, text in wanted.items()
    )


def _with_rest(stores: Mapping[str, str], rest: str | None, unit: Unit) -> dict[str, str]:
    off = dict.fromkeys(sorted(unit.stored & unit.switches.keys()), "off") if rest == "off" else {}
    return {**off, **stores}
