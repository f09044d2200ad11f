"""What sounds where it matters for the chain: a unit's roles, or those of its sections that are on, and its traits."""

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from scenebook.model import Practice, Rig, Role, Unit
from scenebook.model.amounts import counted
from scenebook.model.practice import Trait
from scenebook.states.stage import Carried
from scenebook.states.standing import Standing, Standings

__all__ = ["Kind", "Part", "has_sections", "load_of", "parts_of", "sounding_parts", "units_words"]

Kind = Role | Trait


class Part(NamedTuple):
    """A kind of sound that a unit makes: of the whole unit, or of the section that a switch of it turns on."""

    unit: str
    kind: Kind
    section: str = ""

    @property
    def name(self) -> str:
        """The unit, and the section where it is one."""
        return f"{self.unit} {self.section}".strip()


def load_of(rig: Rig) -> tuple[str, ...]:
    """Return all that travels as a unit: in chain order, then what is outside the chain, the supply last."""
    return tuple(dict.fromkeys([*rig.carried, *([rig.supply] if rig.supply else [])]))


def units_words(names: Iterable[str], units: Mapping[str, Unit]) -> str:
    """Return how many units these are; what feeds others is a supply and counts apart: "8 units and a supply"."""
    known = list(dict.fromkeys(names))
    supplies = sum(name in units and bool(units[name].outlets) for name in known)
    said = counted(len(known) - supplies, "unit")
    if not supplies:
        return said
    return f"{said} and {'a supply' if supplies == 1 else f'{supplies} supplies'}"


def has_sections(unit: Unit) -> bool:
    """Whether parts of a unit are on or off by themselves, as in a multi-effects."""
    return any(switch.section for switch in unit.switches.values())


def parts_of(name: str, unit: Unit, practice: Practice) -> tuple[Part, ...]:
    """Return all that a unit can be: its sections by their own role, else its roles; then its traits."""
    sections = [Part(name, switch.section, key) for key, switch in unit.switches.items() if switch.section]
    roles = sections or [Part(name, role) for role in unit.roles]
    return (*roles, *(Part(name, trait) for trait in _traits(unit, practice)))


def _traits(unit: Unit, practice: Practice) -> Iterator[Trait]:
    """Yield what else matters of a unit's place; what is not noted is no trait."""
    low = unit.input_kohm is not None and unit.input_kohm < practice.low_impedance_kohm
    if low and Role.FUZZ in unit.roles:
        yield Trait.LOW_IMPEDANCE_FUZZ
    if unit.bypass == "buffered":
        yield Trait.BUFFER
    if unit.input == "mono":
        yield Trait.MONO
    if unit.output == "stereo":
        yield Trait.STEREO


def sounding_parts(standings: Standings, standing: Standing, parts: Mapping[str, tuple[Part, ...]]) -> frozenset[Part]:
    """Return the parts that are heard as a rig stands.

    A buffered bypass is in the way even while its unit is off, unless its loop is off and takes the unit out.
    """
    found: set[Part] = set()
    for carried in standings.stage.carried:
        heard = bool(standing.sounds >> carried.index & 1)
        for part in parts[carried.name]:
            stays = part.kind is Trait.BUFFER and _is_open(standings, standing, carried)
            if stays or (heard and _is_on(standings, standing, carried, part)):
                found.add(part)
    return frozenset(found)


def _is_open(standings: Standings, standing: Standing, carried: Carried) -> bool:
    """Whether the signal goes through a unit: no loop that it is in, and none that this one is in, is off."""
    seen, loop = set(), carried.loop
    while loop is not None and loop.holder not in seen:
        seen.add(loop.holder)
        holder = standings.stage.by_name.get(loop.holder)
        if holder is None:
            return True
        lane = standings.lanes[holder.index].index.get(loop.switch)
        if lane is not None and not standing.targets[holder.index].value >> (lane << 3) & 1:
            return False
        loop = holder.loop
    return True


def _is_on(standings: Standings, standing: Standing, carried: Carried, part: Part) -> bool:
    if not part.section:
        return True
    lane = standings.lanes[carried.index].index[part.section]
    return bool(standing.targets[carried.index].value >> (lane << 3) & 1)
