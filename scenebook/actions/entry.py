"""The quick notation of settings, KEY=VALUE: what a player types at a sound check. Pure.

KEY is a unit, or unit.member; names may be shortened. For a unit, `on` and `off` are its main switch, `leave` the whole
unit, and any other value is its preset: the slot as displayed, or the preset's name. `home` takes a setting away.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from scenebook.errors import BadValueError, LeaveError, UnknownNameError
from scenebook.model import MAIN, Unit, find_name
from scenebook.model.units import RESERVED

__all__ = ["Changed", "find_key", "said"]

HOME = "home"
Settings = Mapping[str, Mapping[str, str]]
UnitOf = Callable[[str], Unit]


class Changed(NamedTuple):
    """One thing that is said otherwise now; "" where nothing is said: as at home."""

    unit: str
    member: str
    before: str
    after: str


def said(
    settings: Settings, entries: Sequence[str], names: Sequence[str], unit_of: UnitOf
) -> tuple[dict[str, dict[str, str]], tuple[Changed, ...]]:
    """Return settings with the entries put in, one after the other, and what is otherwise than before.

    Args:
        settings: by unit, what is said of it now.
        entries: texts such as "fuzz=on" and "delay.time=1/8.".
        names: the units that may be named.
        unit_of: gives the unit of a name.

    Raises:
        BadValueError: an entry has no equals sign, or no value.
        UnknownNameError: no unit or member of that name, or several.
        LeaveError: a unit would be left, and something of it said too.
    """
    new = {unit: dict(setting) for unit, setting in settings.items()}
    for entry in entries:
        key, sign, value = entry.partition("=")
        if not sign or not key.strip() or not value.strip():
            raise BadValueError(
                f"{entry!r} is no setting", accepted="KEY=VALUE, such as fuzz=on, delay.time=1/8., multi=12"
            )
        unit, member = find_key(key.strip(), names, unit_of)
        new[unit] = _put(new.get(unit, {}), unit, member, value.strip())
    for unit, setting in new.items():
        _check_left(unit, setting)
    kept = {unit: setting for unit, setting in new.items() if setting or (unit in settings and not settings[unit])}
    return kept, tuple(_changes(settings, kept))


def find_key(key: str, names: Sequence[str], unit_of: UnitOf) -> tuple[str, str]:
    """Return the unit that a key names, and the member, "" for the unit as a whole.

    Raises:
        UnknownNameError: no unit or member of that name, or several.
    """
    front, point, member = key.rpartition(".")
    if not point or key.casefold() in [name.casefold() for name in names]:
        return find_name(key, names, "unit"), ""
    try:
        unit = find_name(front, names, "unit")
        return unit, _member(member.strip(), unit, unit_of)
    except UnknownNameError:
        if any(name.casefold().startswith(key.casefold()) for name in names):  # a unit with a point in its name
            return find_name(key, names, "unit"), ""
        raise


def _member(text: str, unit: str, unit_of: UnitOf) -> str:
    if text in RESERVED:
        return text
    thing = unit_of(unit)
    try:
        return find_name(text, [*thing.switches, *thing.controls], "member")
    except UnknownNameError as error:
        raise error.at(f"unit {unit!r}") from None


def _put(setting: dict[str, str], unit: str, member: str, value: str) -> dict[str, str]:
    if value == HOME:
        gone = {member, "variant"} if member == "preset" else {member}
        return {each: text for each, text in setting.items() if each not in gone} if member else {}
    if member == "leave":
        raise BadValueError(f"{value!r} cannot be left", where=f"unit {unit!r}", remedy=f"Write {unit}=leave")
    if member:
        return setting | {member: value}
    if value in ("on", "off"):
        return setting | {MAIN: value}
    if value == "leave":
        return setting | {"leave": "unit"}
    return {each: text for each, text in setting.items() if each != "variant"} | {"preset": value}


def _check_left(unit: str, setting: Mapping[str, str]) -> None:
    others = [member for member in setting if member != "leave"]
    if "leave" in setting and others:
        raise LeaveError(
            f"the unit is left as it is, and its {', '.join(others)} is said too",
            where=f"unit {unit!r}",
            remedy=f'Take away what is said of it first: "{unit}=home"',
        )


def _changes(before: Settings, after: Settings) -> list[Changed]:
    found = []
    for unit in dict.fromkeys([*before, *after]):
        old, new = before.get(unit, {}), after.get(unit, {})
        for member in dict.fromkeys([*old, *new]):
            if old.get(member) != new.get(member):
                found.append(Changed(unit, member, old.get(member, ""), new.get(member, "")))
    return found
