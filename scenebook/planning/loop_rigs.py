"""Switchers and the rigs that hold them: which unit is one, and the rig with its loops wired as wanted. Pure."""

from collections.abc import Collection, Mapping
from typing import Any

from scenebook.errors import BadValueError
from scenebook.model import MAIN, Library, Rig, Role, Unit
from scenebook.model.base import listed, place_text
from scenebook.planning.chain import without

__all__ = ["Loops", "loop_switches", "switcher_of", "with_loops"]

Loops = Mapping[str, tuple[str, ...]]
"""The units in each loop of a switcher, by the name of its switch."""

_LOOPS = 2  # a utility with one switch may be anything: a mute, a box for two amplifiers


def loop_switches(unit: Unit) -> tuple[str, ...]:
    """Return the switches of a loop switcher, each of which may hold a loop; none of a unit that is no switcher.

    A switcher is a utility and nothing else, feeds nobody, has no main switch of its own and two switches or more that
    feet, messages or presets work.
    """
    if set(unit.roles) != {Role.UTILITY} or unit.outlets or MAIN in unit.switches:
        return ()
    able = _able_switches(unit)
    return able if len(able) >= _LOOPS else ()


def switcher_of(library: Library, rig: str, named: str | None = None) -> str:
    """Return the switcher of a rig that is meant: one that holds loops there, else one that could.

    Raises:
        BadValueError: the rig has none, or several and none is named.
    """
    of, where = library.rigs[rig], place_text("rig", rig)
    holders = list(of.loops) or [name for name in of.carried if loop_switches(library.units[name])]
    if named is not None and named in of.carried and _could_hold(library.units[named]):
        holders = [named]
    holders = [holder for holder in holders if named in (None, holder)]
    if len(holders) == 1:
        return holders[0]
    if named is None and not holders:
        raise BadValueError(
            "no unit of it has loops, and none is a switcher: a utility with two switches or more",
            where=where,
            remedy="Carry a switcher, or name the unit with --switcher",
        )
    able = listed(of.loops or [name for name in of.carried if loop_switches(library.units[name])])
    found = f"{named!r} holds no loops there" if named else "it has several switchers"
    raise BadValueError(found, where=where, accepted=able)


def with_loops(rig: Rig, holder: str, loops: Loops, on: Collection[str] = ()) -> Rig:
    """Return a rig in which a switcher holds these loops; it stands beside the chain then and not in it.

    The switches `on` are on at home, and so wherever no scene says otherwise.
    """
    said: dict[str, Any] = {name: getattr(rig, name) for name in rig.model_fields_set}
    chain = without(rig, holder) if holder not in rig.loops else rig.chain
    if on:
        said["home"] = {**rig.home, holder: {**rig.home.get(holder, {}), **dict.fromkeys(on, "on")}}
    return Rig(**{**said, "chain": chain, "loops": {**rig.loops, holder: dict(loops)}})


def _could_hold(unit: Unit) -> bool:
    """Whether a unit that a player calls a switcher may be one: a utility and nothing else, with a switch to spare."""
    return set(unit.roles) == {Role.UTILITY} and not unit.outlets and bool(_able_switches(unit))


def _able_switches(unit: Unit) -> tuple[str, ...]:
    return tuple(
        name
        for name, each in unit.switches.items()
        if name != MAIN
        and not each.momentary
        and not each.section
        and (each.foot or each.message or each.toggle or each.contact or name in unit.stored)
    )
