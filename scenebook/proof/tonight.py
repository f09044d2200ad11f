"""What stands on stage at one gig: the rig with units that are out taken away and units that others play replaced.

Readings of our own, where the rules are silent:

- A replacement takes effect where the rig has the unit that is played by another.
- A scene that names both says of the other: what carries over, then what it says of the other itself.
- A control's value carries over to a control of that name where the model can say it on that one's scale.
- A unit that is out leaves its loop, which stays shared: the own switch of the one that is left may be off. The loops
  of a switcher that is out are not there.
"""

from collections.abc import Mapping
from typing import NamedTuple

from scenebook.model import Gig, Library, Placement, Rig, Scene, StandIn, Unit
from scenebook.model.units import value_over

__all__ = ["Loop", "Tonight", "Words", "tonight_at"]

Words = dict[str, dict[str, str]]  # unit to what is said of it


class Loop(NamedTuple):
    """A switch of a switcher, and the units in its loop; `shared`: the rig has several, be they out or not."""

    holder: str
    switch: str
    inside: tuple[str, ...]
    shared: bool


class Tonight(NamedTuple):
    """The rig of one gig: its carried units in order, where they hear, loops, home and stand-ins.

    `instead` gives the other for each unit that is played by one.
    """

    library: Mapping[str, Unit]
    units: dict[str, Unit]
    placements: dict[str, Placement]
    loops: tuple[Loop, ...]
    home: Words
    stand_ins: tuple[StandIn, ...]
    instead: Mapping[str, str]

    def words(self, scene: Scene) -> Words:
        """Return what a scene says, of the units as they are tonight; also all that it says of those that are not."""
        at_home = {old: dict(scene.units[old]) for old in self.instead if old in scene.units}
        said = _rewritten(scene.units, self.instead, self.library) | at_home
        order = {name: place for place, name in enumerate(scene.units)}
        return dict(sorted(said.items(), key=lambda item: order.get(item[0], len(order))))

    def lacking(self, old: str, setting: Mapping[str, str]) -> set[str]:
        """Return what of a setting the other does not have that plays a unit; of one that nobody plays, all."""
        new = self.instead.get(old)
        if new not in self.units:
            return set(setting)
        return set(setting) - _carried_over(setting, self.library[old], self.library[new]).keys()

    def triggers(self, scene: Scene) -> set[tuple[str, str]]:
        """Return (unit, trigger) for each trigger of a scene that somebody here can fire."""
        named = (text.rpartition(".") for text in scene.triggers)
        meant = {(self.instead.get(unit, unit), trigger) for unit, _, trigger in named}
        return {
            (unit, trigger) for unit, trigger in meant if unit in self.units and trigger in self.units[unit].triggers
        }


def tonight_at(library: Library, gig: Gig, rig: Rig) -> Tonight:
    """Return the rig as it stands at a gig."""
    instead = {old: new for old, new in gig.played_by.items() if old in rig.carried}
    names = [instead.get(name, name) for name in rig.carried]
    back = {new: old for old, new in instead.items()}
    carried = {name: library.units[name] for name in names if name not in gig.out}
    return Tonight(
        library=library.units,
        units=carried,
        placements={name: rig.placement(back.get(name, name)) for name in carried},
        loops=tuple(_loops(rig, instead, carried)),
        home={k: v for k, v in _rewritten(rig.home, instead, library.units).items() if k in carried},
        stand_ins=tuple(_stand_ins(rig, instead, library.units)),
        instead=instead,
    )


def _loops(rig: Rig, instead: Mapping[str, str], carried: Mapping[str, Unit]) -> list[Loop]:
    found = []
    for holder, loops in rig.loops.items():
        name = instead.get(holder, holder)
        for switch, inside in loops.items():
            here = tuple(each for each in (instead.get(unit, unit) for unit in inside) if each in carried)
            if name in carried and switch in carried[name].members and here:
                found.append(Loop(name, switch, here, len(inside) > 1))
    return found


def _rewritten(said: Mapping[str, Mapping[str, str]], instead: Mapping[str, str], units: Mapping[str, Unit]) -> Words:
    words: Words = {}
    for name, setting in said.items():
        if name in instead:
            words[instead[name]] = _under(
                _carried_over(setting, units[name], units[instead[name]]), said, instead[name]
            )
        elif name not in instead.values():
            words[name] = dict(setting)
    for name in instead.values():
        if name in said:
            words[name] = {**words.get(name, {}), **said[name]}
    return words


def _under(words: dict[str, str], said: Mapping[str, Mapping[str, str]], name: str) -> dict[str, str]:
    """Leave out what cannot stand under a scene's own words of the other: its preset, or that it is left."""
    own = said.get(name, {})
    gone = {"leave"} if own else set()
    gone |= {"preset", "variant"} if "preset" in own else set()
    return {} if "leave" in own else {key: text for key, text in words.items() if key not in gone}


def _carried_over(setting: Mapping[str, str], old: Unit, new: Unit) -> dict[str, str]:
    words = {}
    for key, text in setting.items():
        if key == "leave":
            words[key] = text
        elif key == "preset":
            words |= _preset_over(text, setting.get("variant"), old, new)
        elif key in old.members and key in new.members:
            written = value_over(text, old.members[key], new.members[key])
            words |= {key: written} if written else {}
    return words


def _preset_over(text: str, variant: str | None, old: Unit, new: Unit) -> dict[str, str]:
    name = old.preset_at(text)[1].name.casefold()
    for preset in new.presets:
        if name and preset.name.casefold() == name:
            words = {"preset": preset.slot}
            return words | {"variant": variant} if variant in preset.variants else words
    return {}


def _stand_ins(rig: Rig, instead: Mapping[str, str], units: Mapping[str, Unit]) -> list[StandIn]:
    found = []
    for each in rig.stand_ins:
        by, preset = instead.get(each.by, each.by), each.preset
        if by != each.by and preset is not None:
            preset = _preset_over(preset, None, units[each.by], units[by]).get("preset")
        there = each.switch is None or each.switch in units[by].switches
        if there and not (each.preset and not preset):
            found.append(each.model_copy(update={"by": by, "preset": preset}))
    return found
