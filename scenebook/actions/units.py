"""List and show units, and put in a new one."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from scenebook.actions.making import check_is_new, containing, given, made
from scenebook.errors import BadValueError
from scenebook.model import MAIN, Unit
from scenebook.model.base import place_text
from scenebook.model.values import Scale
from scenebook.storage import open_library

__all__ = ["NewUnit", "UnitShown", "add_unit", "list_units", "show_unit"]


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

    `knobs` are texts such as "gain:clock", "time:ms:21:20 ms..1500 ms" or "mode:room/hall/plate"; `switches` such as
    "boost" (by foot), "fat:hand" or "chorus:74" (controller 74); `presets` such as "12=wide".
    """

    name: str
    roles: Sequence[str] = ()
    foot: bool = False
    hand: bool = False
    always_on: bool = False
    controller: int | None = None
    knobs: Sequence[str] = ()
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
        roles=new.roles,
        controls=dict(_knob(text, where) for text in new.knobs),
        presets=[_preset(text, where) for text in new.presets],
        programs=_programs(new),
        notes=new.notes,
    )
    unit = made(Unit, {**values, "switches": _switches(new, where)}, where)
    with open_library(path) as store, store.change(f"unit add {new.name.strip()}") as change:
        check_is_new(store, "unit", new.name)
        change.put_unit(new.name, unit)
    return new.name.strip(), unit


def _programs(new: NewUnit) -> dict[str, Any] | None:
    values = given(**new.programs)
    if not values and not new.presets:
        return None
    return {**values, "foot": True}  # a unit with presets has switches that step to them


def _switches(new: NewUnit, where: str) -> dict[str, Any]:
    main = given(foot=new.foot, hand=new.hand)
    if new.controller is not None:
        main["message"] = {"controller": new.controller}
    if new.always_on and main:
        raise BadValueError(
            "it is always on, and its main switch is said to be worked", where=where, remedy="Say one or the other"
        )
    mains = {} if new.always_on else {MAIN: main or {"foot": True}}
    return mains | dict(_switch(text) for text in new.switches)


def _switch(text: str) -> tuple[str, dict[str, Any]]:
    name, _, way = text.rpartition(":")
    if not name:
        return text.strip(), {"foot": True}
    if way.strip() in ("foot", "hand"):
        return name.strip(), {way.strip(): True}
    return name.strip(), {"message": {"controller": way.strip()}}


def _knob(text: str, where: str) -> tuple[str, dict[str, Any]]:
    name, *parts = [part.strip() for part in text.split(":")]
    if not name or not 1 <= len(parts) <= 3:
        raise BadValueError(
            f"{text!r} is no knob", where=where, accepted="NAME:SCALE, NAME:SCALE:CONTROLLER, or with :LOW..HIGH behind"
        )
    scale, controller, span = [*parts, "", ""][:3]
    choices = [choice.strip() for choice in scale.split("/")] if "/" in scale else []
    if choices and controller:
        raise BadValueError(
            f"the choices of {name!r} need a value each for controller {controller}",
            where=where,
            remedy="Write the unit into a file and import it",
        )
    if not choices and scale not in list(Scale):
        raise BadValueError(
            f"{scale!r} is no scale of a knob", where=where, accepted=f"{', '.join(Scale)}; or choices: room/hall"
        )
    message = given(controller=controller, range=[end.strip() for end in span.split("..")] if span else None)
    return name, {"scale": "choice" if choices else scale, "hand": True, **given(choices=choices, message=message)}


def _preset(text: str, where: str) -> dict[str, str]:
    slot, sign, name = text.partition("=")
    if not sign or not slot.strip():
        raise BadValueError(f"{text!r} is no preset", where=where, accepted="SLOT=NAME, such as 12=wide")
    return {"slot": slot.strip(), "name": name.strip()}
