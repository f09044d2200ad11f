"""List and show units, and put in a new one."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from scenebook.actions.entry import HOME, find_member
from scenebook.actions.making import check_is_new, containing, given, made
from scenebook.actions.unit_words import knob, pedal, preset, role, stores, switch
from scenebook.errors import BadValueError
from scenebook.model import MAIN, Preset, Unit, find_name
from scenebook.model.base import place_text
from scenebook.storage import open_library

__all__ = ["Described", "NewUnit", "UnitShown", "add_unit", "describe_preset", "list_units", "show_unit"]


class UnitShown(NamedTuple):
    """A unit, the scenes that name it as (song, scene), the rigs that do, and the library's A4 in Hz."""

    name: str
    unit: Unit
    scenes: tuple[tuple[str, str], ...]
    rigs: tuple[str, ...]
    tuning: float


@dataclass(frozen=True, slots=True)
class NewUnit:
    """What a player says of a new unit.

    `knobs` and `pedals` are texts such as "gain:clock", "time:ms:21:20 ms..1500 ms" or "mode:room/hall/plate";
    `switches` such as "boost" (by foot), "fat:hand", "chorus:74" (controller 74), "chorus:foot:74", "freeze:momentary";
    `presets` such as "12=wide" or "12=dark: chorus=on, depth=40 %".
    """

    name: str
    roles: Sequence[str] = ()
    foot: bool = False
    hand: bool = False
    always_on: bool = False
    controller: int | None = None
    knobs: Sequence[str] = ()
    pedals: Sequence[str] = ()
    switches: Sequence[str] = ()
    presets: Sequence[str] = ()
    programs: Mapping[str, Any] = field(default_factory=dict)
    notes: str = ""


def list_units(path: Path, text: str = "") -> dict[str, Unit]:
    """Return the units in whose name, roles or notes a text occurs."""
    with open_library(path, read_only=True) as store:
        units = store.all("unit")
    return {name: unit for name, unit in units.items() if containing(text, name, *unit.roles, unit.notes)}


def show_unit(path: Path, name: str) -> UnitShown:
    """Return a unit and what uses it.

    Raises:
        UnknownNameError: no unit of that name, or several.
    """
    with open_library(path, read_only=True) as store:
        full = store.find("unit", name)
        used = store.songs_using(full), store.rigs_using(full)
        return UnitShown(full, store.unit(full), tuple(used[0]), tuple(used[1]), store.settings().tuning)


def add_unit(path: Path, new: NewUnit) -> tuple[str, Unit]:
    """Put a new unit into the library, and return its name and what it is.

    Without `foot`, `hand`, `controller` or `always_on` its main switch is taken to be a footswitch.

    Raises:
        BadValueError: there is a unit of that name, or a text of a knob, switch or preset cannot be read.
        FormatError: a value is not accepted.
    """
    where = place_text("unit", new.name.strip())
    values = given(
        roles=list(dict.fromkeys(role(text, where) for text in new.roles)),
        controls=_controls(new, where),
        programs=_programs(new),
        notes=new.notes,
    )
    switches = _switches(new, where)
    members = [*switches, *values.get("controls", {})]
    presets = [preset(text, where, members) for text in new.presets]
    unit = made(Unit, {**values, "switches": switches, "presets": presets}, where)
    with open_library(path) as store, store.change(f"unit add {new.name.strip()}") as change:
        check_is_new(store, "unit", new.name)
        change.put_unit(new.name, unit)
    return new.name.strip(), unit


class Described(NamedTuple):
    """A unit of which a preset was described, the preset, and whether it was not described before."""

    name: str
    unit: Unit
    preset: Preset
    made: bool


def describe_preset(path: Path, unit: str, slot: str, entries: Sequence[str], *, rest_off: bool = False) -> Described:
    """Say what a preset of a unit stores; what was said of it before stays, and "MEMBER=home" takes a member out.

    `slot` is the slot as displayed or the preset's name, with "=NAME" behind it to name it; `entries` are texts such as
    "chorus=on"; `rest_off` says that every other switch that the unit's presets store is off in it.

    Raises:
        UnknownNameError: no unit, preset or member of a name.
        BadValueError: there is no such slot, an entry cannot be read, or a value is off its scale.
    """
    with open_library(path) as store, store.change(f"unit preset {unit}, {slot}") as change:
        full = store.find("unit", unit)
        found, where = store.unit(full), place_text("unit", full)
        label, sign, name = (part.strip() for part in slot.partition("="))
        old = _preset_of(found, label, where)
        said = stores(entries, where, lambda text: find_member(text, full, found))
        stored = {member: value for member, value in {**old.stores, **said}.items() if value != HOME}
        update = {"stores": stored, **given(name=name if sign else "", rest="off" if rest_off else "")}
        new = made(Preset, {**_fields(old), **update}, where)
        others = [each for each in found.presets if each.slot != new.slot]
        at = next((n for n, each in enumerate(found.presets) if each.slot == new.slot), len(others))
        now = made(Unit, {**_fields(found), "presets": [*others[:at], new, *others[at:]]}, where)
        change.put_unit(full, now)
    return Described(full, now, new, old not in found.presets)


def _preset_of(unit: Unit, text: str, where: str) -> Preset:
    """Return the preset of a slot or name, by the beginning of its name if that fits one alone."""
    names = [each.name for each in unit.presets if each.name]
    known = unit.programs is not None and text in unit.programs.slots
    begun = [name for name in names if name.casefold().startswith(text.casefold())]
    return unit.preset_at(find_name(text, names, "preset") if begun and not known else text, where)[1]


def _fields(thing: Unit | Preset) -> dict[str, Any]:
    return {name: getattr(thing, name) for name in thing.model_fields_set}


def _programs(new: NewUnit) -> dict[str, Any] | None:
    values = given(**new.programs)
    if not values and not new.presets:
        return None
    return {**values, "foot": True}  # a unit with presets has switches that step to them


def _controls(new: NewUnit, where: str) -> dict[str, Any]:
    controls = [*(knob(text, where) for text in new.knobs), *(pedal(text, where) for text in new.pedals)]
    names = [name for name, _ in controls]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise BadValueError(f"the control {twice!r} is given twice", where=where, remedy="Give each a name of its own")
    return dict(controls)


def _switches(new: NewUnit, where: str) -> dict[str, Any]:
    main = given(foot=new.foot, hand=new.hand)
    if new.controller is not None:
        main["message"] = {"controller": new.controller}
    if new.always_on and main:
        raise BadValueError(
            "it is always on, and its main switch is said to be worked", where=where, remedy="Say one or the other"
        )
    mains = {} if new.always_on else {MAIN: main or {"foot": True}}
    return mains | dict(switch(text, where) for text in new.switches)
