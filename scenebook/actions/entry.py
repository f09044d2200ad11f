"""The quick notation of settings, KEY=VALUE: what a player types at a sound check. Pure.

KEY is a unit, or unit.member; names may be shortened. For a unit, `on` and `off` are its main switch, `leave` the whole
unit, and any other value is its preset: the slot as displayed, or the preset's name or a beginning that fits it alone.
`home` takes a setting away.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from scenebook.errors import BadValueError, LeaveError, UnknownNameError
from scenebook.model import MAIN, Unit, find_name
from scenebook.model.base import did_you_mean, listed
from scenebook.model.units import RESERVED

__all__ = ["HOME", "Changed", "find_key", "find_member", "said"]

HOME = "home"
_STATES = ("on", "off", "leave", HOME)
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
        BadValueError: an entry has no equals sign or no value, or the unit has no such state.
        UnknownNameError: no unit, member, preset or variant of that name, or several.
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
        new[unit] = _put(new.get(unit, {}), unit, member, value.strip(), unit_of)
    for unit, setting in new.items():
        _check_left(unit, setting, settings.get(unit, {}), unit_of)
    kept = {unit: setting for unit, setting in new.items() if setting or (unit in settings and not settings[unit])}
    return kept, tuple(_changes(settings, kept))


def find_key(key: str, names: Sequence[str], unit_of: UnitOf) -> tuple[str, str]:
    """Return the unit that a key names, and the member, "" for the unit as a whole.

    Raises:
        UnknownNameError: no unit or member of that name, or several.
    """
    if "." not in key or key.casefold() in [name.casefold() for name in names]:
        return find_name(key, names, "unit"), ""
    refusal: UnknownNameError | None = None
    points = [place for place, sign in enumerate(key) if sign == "."]
    for place in reversed(points):  # a unit may have a point in its name
        try:
            unit = find_name(key[:place], names, "unit")
            return unit, find_member(key[place + 1 :].strip(), unit, unit_of(unit))
        except UnknownNameError as error:
            is_better = refusal is None or "no member" in error.found  # then the unit is there
            refusal = error if is_better else refusal
    if any(name.casefold().startswith(key.casefold()) for name in names):
        return find_name(key, names, "unit"), ""
    assert refusal is not None
    raise refusal


def find_member(text: str, name: str, unit: Unit) -> str:
    """Return the switch or control of a unit that a text names; `preset`, `variant` and `leave` stand for themselves.

    Raises:
        UnknownNameError: the unit has none of that name, or several.
    """
    if text in RESERVED:
        return text
    known = [*unit.switches, *unit.controls]
    try:
        return find_name(text, known, "member")
    except UnknownNameError as error:
        if "could be" in error.found:
            raise error.at(f"unit {name!r}") from None
    near = did_you_mean(text, known)
    accepted = "" if near else listed(known)
    raise UnknownNameError(f"{name!r} has no member {text!r}", accepted=accepted, remedy=near)


def _put(setting: dict[str, str], name: str, member: str, value: str, unit_of: UnitOf) -> dict[str, str]:
    if value == HOME:
        gone = {member, "variant"} if member == "preset" else {member}
        return {each: text for each, text in setting.items() if each not in gone} if member else {}
    if member == "leave":
        raise BadValueError(f"{value!r} cannot be left", where=f"unit {name!r}", remedy=f"Write {name}=leave")
    if member == "variant":
        return setting | {member: _variant(value, setting, name, unit_of(name))}
    if member and member != "preset":
        return setting | {member: value}
    if not member and value in ("on", "off"):
        _check_main(name, unit_of(name), value)
        return setting | {MAIN: value}
    if not member and value == "leave":
        return setting | {"leave": "unit"}
    preset = _preset(value, name, unit_of(name))
    return {each: text for each, text in setting.items() if each != "variant"} | {"preset": preset}


def _check_main(name: str, unit: Unit, value: str) -> None:
    if MAIN not in unit.switches:
        switches = ", ".join(f"{switch} ({name}.{switch}={value})" for switch in unit.switches)
        found = f"{name!r} has no main switch"
        raise BadValueError(
            f"{found}; its switches are: {switches}" if switches else found,
            remedy="" if switches else "It always sounds",
        )


def _preset(text: str, name: str, unit: Unit) -> str:
    """Return a preset as the scene will say it: as written, or the whole name where a beginning fits one alone."""
    if unit.programs is None:
        states = _STATES if MAIN in unit.switches else _STATES[2:]
        raise BadValueError(
            f"{name!r} has no programs, so {text!r} is no preset of it",
            accepted=", ".join(states[:-1]) + f" or {states[-1]}",
            remedy=did_you_mean(text, states),
        )
    presets = [preset.name for preset in unit.presets if preset.name]
    is_whole = text in unit.programs.slots or text.casefold() in {
        word.casefold() for word in (*presets, *(preset.slot for preset in unit.presets))
    }
    begun = [each for each in presets if each.casefold().startswith(text.casefold())]
    return text if is_whole or not begun else find_name(text, presets, f"preset of {name!r}")


def _variant(text: str, setting: Mapping[str, str], name: str, unit: Unit) -> str:
    """Return a variant's whole name; where no preset is said yet, the library's own check will tell."""
    if "preset" not in setting or unit.programs is None:
        return text
    _, preset = unit.preset_at(setting["preset"], f"unit {name!r}")
    if not preset.variants:
        raise UnknownNameError(
            f"preset {preset.slot} {preset.name}".strip() + " has no variants", where=f"unit {name!r}"
        )
    try:
        return find_name(text, preset.variants, "variant")
    except UnknownNameError as error:
        found = f"{error.found} in preset {preset.slot} {preset.name}".strip()
        accepted = listed(preset.variants)
        raise UnknownNameError(found, where=f"unit {name!r}", accepted=accepted, remedy=error.remedy) from None


def _check_left(unit: str, setting: Mapping[str, str], before: Mapping[str, str], unit_of: UnitOf) -> None:
    others = [member for member in setting if member != "leave"]
    if "leave" not in setting or not others:
        return
    free = [member for member in unit_of(unit).members if member not in others and "preset" not in others]
    ways = [f'leave single members ("{unit}.{free[0]}=leave")'] if free else []
    if "leave" in before:
        ways.append(f'begin with "{unit}=home", which takes the leaving away')
    elif any(member in before for member in others):
        ways.append(f'begin with "{unit}=home", which takes away what the scene says of it, and leave it whole')
    else:
        ways.append("say nothing else of it and leave it whole")
    raise LeaveError(
        f"the unit is left as it is, and its {', '.join(others)} is said too",
        where=f"unit {unit!r}",
        remedy=ways[0][0].upper() + "; or ".join(ways)[1:],
    )


def _changes(before: Settings, after: Settings) -> list[Changed]:
    found = []
    for unit in dict.fromkeys([*before, *after]):
        old, new = before.get(unit, {}), after.get(unit, {})
        for member in dict.fromkeys([*old, *new]):
            if old.get(member) != new.get(member):
                found.append(Changed(unit, member, old.get(member, ""), new.get(member, "")))
    return found
