"""A rig as it stands at one gig: who is carried, by which way each member is worked, who is in which loop.

Gig changes come first: a unit that is out is not carried; one that is played by another has it in its place.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from scenebook.errors import BadValueError, UnknownNameError
from scenebook.model import MAIN, Control, Gig, Library, Placement, Rig, Setting, StandIn, Switch, Unit
from scenebook.model.base import near_name
from scenebook.model.units import RESERVED, value_over

__all__ = ["Carried", "Loop", "Stage", "Way", "stage_of"]


class Way(StrEnum):
    """How a member is worked on a rig (rule S1)."""

    LOOP = "loop"
    MESSAGE = "message"
    TOGGLE = "toggling message"
    FOOT = "foot"
    HAND = "hand"
    PEDAL = "pedal"
    PRESET = "preset only"


@dataclass(frozen=True, slots=True)
class Loop:
    """Where a unit's signal is switched: a switch of its holder. `shared`: the rig has other units in the same loop.

    It stays shared where the others are out: the own switch of the one that is left may be off, and has to be worked.
    """

    holder: str
    switch: str
    shared: bool
    is_send: bool


@dataclass(frozen=True, slots=True)
class Carried:
    """A unit in a rig, with the way that each member is worked there, and how it stands at home."""

    name: str
    index: int
    unit: Unit
    placement: Placement
    ways: Mapping[str, Way]
    loop: Loop | None
    home: Setting
    recall: Way | None  # how its presets are recalled; None without programs

    @property
    def alone(self) -> bool:
        """Whether the unit is alone in a switcher's loop, so that the loop is its main switch (S11)."""
        return self.loop is not None and not self.loop.shared and not self.loop.is_send


@dataclass(frozen=True, slots=True)
class Stage:
    """A rig as it stands at one gig."""

    rig: str
    carried: tuple[Carried, ...]
    by_name: Mapping[str, Carried]
    units: Mapping[str, Unit]  # every unit that the library slice knows, carried or not
    stand_ins: tuple[StandIn, ...]
    played_by: Mapping[str, str]
    limited: tuple[Carried, ...] = ()  # those that have so many sections at once

    def trigger(self, text: str) -> tuple[str, str]:
        """Return the unit, as it is played tonight, and the trigger that a scene fires as "unit.trigger"."""
        unit, _, name = text.rpartition(".")  # a unit's name may have points in it
        return self.played_by.get(unit, unit), name

    def has_trigger(self, text: str) -> bool:
        """Whether the trigger that a scene fires is there."""
        unit, name = self.trigger(text)
        return unit in self.by_name and name in self.by_name[unit].unit.triggers


def stage_of(library: Library, rig_name: str, gig: Gig | None = None) -> Stage:
    """Return the rig as it stands at `gig`.

    Raises:
        UnknownNameError: the gig is out of a unit, or has one played by a unit, that nobody knows.
        BadValueError: a unit is played by one that is in the rig already.
    """
    rig = library.rigs[rig_name]
    _check_changes(library, rig, rig_name, gig.played_by if gig else {})
    played_by = {old: new for old, new in gig.played_by.items() if old in rig.carried} if gig else {}
    out = set(gig.out) if gig else set()
    order = [played_by.get(name, name) for name in rig.carried if name not in out or name in played_by]
    loops = _loops(library, rig, played_by, set(order))
    homes = _homes(library, rig, played_by)
    back = {new: old for old, new in played_by.items()}
    carried = tuple(
        _carried(name, index, library.units[name], rig.placement(back.get(name, name)), loops.get(name), homes)
        for index, name in enumerate(order)
    )
    return Stage(
        rig=rig_name,
        carried=carried,
        by_name={each.name: each for each in carried},
        units=library.units,
        stand_ins=tuple(_stand_ins(library, rig, played_by, set(order))),
        played_by=played_by,
        limited=tuple(each for each in carried if each.unit.sections_at_once is not None),
    )


def replaced_setting(setting: Mapping[str, str], old: Unit, new: Unit) -> tuple[dict[str, str], list[str]]:
    """Return what a setting of `old` says on `new`, and which keys do not carry over: presets and members by name."""
    kept: dict[str, str] = {}
    lost: list[str] = []
    for member, text in setting.items():
        value = _replaced_value(member, text, setting, old, new)
        if value is None:
            lost.append(member)
        else:
            kept[member] = value
    return kept, lost


def _replaced_value(member: str, text: str, setting: Mapping[str, str], old: Unit, new: Unit) -> str | None:
    if member == "leave":
        return text
    if member in ("preset", "variant"):
        name = old.preset_at(setting["preset"])[1].name.casefold()
        match = next((preset for preset in new.presets if name and preset.name.casefold() == name), None)
        if match is None:
            return None
        return match.slot if member == "preset" else text if text in match.variants else None
    was = old.switches.get(member) or old.controls.get(member)
    now = new.switches.get(member) or new.controls.get(member)
    return value_over(text, was, now) if was is not None and now is not None else None


def _check_changes(library: Library, rig: Rig, rig_name: str, played_by: Mapping[str, str]) -> None:
    for old, new in played_by.items():
        for name in (old, new):
            if name not in library.units:
                near = near_name(name, library.units)
                raise UnknownNameError(
                    f"no unit is called {name!r}",
                    where="the gig's replacements",
                    remedy=f"Did you mean {near!r}" if near else "",
                )
        if old in rig.carried and new in rig.carried:
            raise BadValueError(
                f"{old!r} cannot be played by {new!r}, which is in rig {rig_name!r} already",
                where="the gig's replacements",
                remedy=f"Say that {old!r} is out, and give the rig a stand-in",
            )


def _loops(library: Library, rig: Rig, played_by: Mapping[str, str], present: set[str]) -> dict[str, Loop]:
    """Return the loop of each unit that is in one tonight; who is out, or has no such switch, holds none."""
    found: dict[str, Loop] = {}
    for holders, is_send in ((rig.loops, False), (rig.sends, True)):
        for holder, switches in holders.items():
            place = played_by.get(holder, holder)
            if place not in present:
                continue
            for switch, inside in switches.items():
                here = [name for name in (played_by.get(each, each) for each in inside) if name in present]
                if switch in library.units[place].members:
                    loop = Loop(place, switch, shared=len(inside) > 1, is_send=is_send)
                    found |= dict.fromkeys(here, loop)
    return found


def _stand_ins(library: Library, rig: Rig, played_by: Mapping[str, str], present: set[str]) -> Iterator[StandIn]:
    """Yield the stand-ins that are there tonight; what a replaced unit stood in for, its replacement does if it can."""
    for stand_in in rig.stand_ins:
        by = played_by.get(stand_in.by)
        if by is None:
            if stand_in.by in present:
                yield stand_in
            continue
        plays = {"preset": stand_in.preset} if stand_in.preset is not None else {stand_in.switch or "": "on"}
        kept, _ = replaced_setting(plays, library.units[stand_in.by], library.units[by])
        if kept and by in present:
            preset = kept["preset"] if stand_in.preset is not None else None
            yield stand_in.model_copy(update={"by": by, "preset": preset})


def _homes(library: Library, rig: Rig, played_by: Mapping[str, str]) -> dict[str, Setting]:
    homes: dict[str, Setting] = {}
    for name, setting in rig.home.items():
        new = played_by.get(name, name)
        homes[new] = setting if new == name else replaced_setting(setting, library.units[name], library.units[new])[0]
    return homes


def _carried(
    name: str, index: int, unit: Unit, place: Placement, loop: Loop | None, homes: Mapping[str, Setting]
) -> Carried:
    alone = loop is not None and not loop.shared and not loop.is_send
    ways = {member: _way(thing, midi=place.channel is not None) for member, thing in unit.members.items()}
    if alone and MAIN in ways:
        ways[MAIN] = Way.LOOP
    home = dict(homes.get(name, {}))
    assert not set(home) & (set(RESERVED) - {"preset", "variant"}), "checked when the rig was stored"
    return Carried(name, index, unit, place, ways, loop, home, _recall_way(unit, midi=place.channel is not None))


def _way(thing: Switch | Control, *, midi: bool) -> Way:
    if midi and thing.message:
        return Way.MESSAGE
    if isinstance(thing, Switch):
        if midi and thing.toggle:
            return Way.TOGGLE
        return Way.FOOT if thing.foot or thing.contact else Way.HAND if thing.hand else Way.PRESET
    return Way.HAND if thing.by_hand else Way.PEDAL if thing.pedal else Way.PRESET


def _recall_way(unit: Unit, *, midi: bool) -> Way | None:
    if unit.programs is None:
        return None
    if midi and unit.programs.program_change:
        return Way.MESSAGE
    return Way.FOOT if unit.programs.foot else Way.HAND if unit.programs.hand else Way.PRESET
