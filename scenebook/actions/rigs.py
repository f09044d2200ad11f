"""List and show rigs, and put in a new one."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from scenebook.actions.entry import find_key, said
from scenebook.actions.making import check_is_new, containing, given, made
from scenebook.errors import BadValueError
from scenebook.model import Rig, Unit, find_name
from scenebook.model.base import place_text
from scenebook.planning.kinds import load_of, units_words
from scenebook.storage import open_library

__all__ = ["NewRig", "add_rig", "list_rigs", "show_rig"]


@dataclass(frozen=True, slots=True)
class NewRig:
    """What a player says of a new rig.

    `chain` and `outside` are units, each with "@port:channel" behind it where it hears MIDI; `loops` are texts such as
    "switcher.loop 1=octave down", `home` settings such as "reverb.mix=30 %".
    """

    name: str
    chain: Sequence[str]
    outside: Sequence[str] = ()
    loops: Sequence[str] = ()
    home: Sequence[str] = ()
    notes: str = ""


def list_rigs(path: Path, text: str = "") -> dict[str, tuple[Rig, str]]:
    """Return the rigs in whose name, units or notes a text occurs, each with how many units it has in words."""
    with open_library(path, read_only=True) as store:
        rigs, units = store.all("rig"), store.all("unit")
    return {
        name: (rig, units_words(load_of(rig), units))
        for name, rig in rigs.items()
        if containing(text, name, *rig.carried, rig.notes)
    }


def show_rig(path: Path, name: str) -> tuple[str, Rig]:
    """Return a rig with its full name.

    Raises:
        UnknownNameError: no rig of that name, or several.
    """
    with open_library(path, read_only=True) as store:
        full = store.find("rig", name)
        return full, store.rig(full)


def add_rig(path: Path, new: NewRig) -> tuple[str, Rig]:
    """Put a new rig into the library, and return its name and what it is.

    Raises:
        BadValueError: there is a rig of that name, or a text cannot be read.
        UnknownNameError: no unit or member of a name.
    """
    where = place_text("rig", new.name.strip())
    with open_library(path) as store, store.change(f"rig add {new.name.strip()}") as change:
        check_is_new(store, "rig", new.name)
        names = store.names("unit")
        rig = made(Rig, _values(new, names, store.unit, where), where)
        change.put_rig(new.name, rig)
    return new.name.strip(), rig


def _values(new: NewRig, names: Sequence[str], unit_of: Callable[[str], Unit], where: str) -> dict[str, Any]:
    chain = [_placed(text, names, where) for text in new.chain]
    outside = [_placed(text, names, where) for text in new.outside]
    units = {name: place for name, place in (*chain, *outside) if place}
    units |= {name: {} for name, place in outside if not place}
    return given(
        chain=[name for name, _ in chain],
        units=units,
        loops=_loops(new.loops, names, unit_of, where),
        home=said({}, new.home, names, unit_of)[0],
        notes=new.notes,
    )


def _placed(text: str, names: Sequence[str], where: str) -> tuple[str, dict[str, str]]:
    """Return a unit's name, and its port and channel where they are given."""
    name, sign, place = text.rpartition("@")
    if not sign or text in names:
        return find_name(text, names, "unit"), {}
    port, colon, channel = place.rpartition(":")
    if not colon or not port.strip():
        raise BadValueError(
            f"{text!r} does not say port and channel", where=where, accepted='UNIT@PORT:CHANNEL, such as "delay@main:3"'
        )
    return find_name(name, names, "unit"), {"port": port.strip(), "channel": channel.strip()}


def _loops(
    texts: Sequence[str], names: Sequence[str], unit_of: Callable[[str], Unit], where: str
) -> dict[str, dict[str, list[str]]]:
    loops: dict[str, dict[str, list[str]]] = {}
    for text in texts:
        key, sign, inside = text.partition("=")
        holder, switch = find_key(key.strip(), names, unit_of) if sign else ("", "")
        if not switch:
            raise BadValueError(f"{text!r} is no loop", where=where, accepted="SWITCHER.SWITCH=UNIT")
        loops.setdefault(holder, {}).setdefault(switch, []).append(find_name(inside, names, "unit"))
    return loops
